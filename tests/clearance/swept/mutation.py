"""What a mutation is."""

from __future__ import annotations

from typing import NamedTuple


class Mutation(NamedTuple):
    """In ``file``, below ``pathsim/``, ``text`` becomes ``becomes``; line breaks may differ."""

    file: str
    text: str
    becomes: str
