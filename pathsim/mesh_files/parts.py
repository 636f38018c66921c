"""The parts of a mesh file by their names: each name once, and some of them chosen."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.errors import MeshError
from pathsim.mesh_files.three_mf import Part

#: More names than this are counted, not named.
_MOST_NAMES = 20


def named_once(parts: Sequence[Part]) -> list[Part]:
    """Return the same parts, each with a name of its own: the second bolt is 'bolt 2'.

    A part without a name is called after its place in the file, 'part 3'.
    """
    said = [part.name.strip() or f"part {place}" for place, part in enumerate(parts, start=1)]
    taken: set[str] = set()
    found = []
    for part, name in zip(parts, said, strict=True):
        own, count = name, 1
        while own in taken or (own != name and own in said):
            count += 1
            own = f"{name} {count}"
        taken.add(own)
        found.append(part._replace(name=own))
    return found


def chosen(parts: Sequence[Part], names: Sequence[str]) -> list[Part]:
    """Return the parts of some names, all where none are given; MeshError for a wrong name."""
    if not names:
        return list(parts)
    known = [part.name for part in parts]
    for name in names:
        if name not in known:
            raise MeshError(f"it has no part '{name}'; it has {in_words(known)}")
    return [part for part in parts if part.name in names]


def in_words(names: Sequence[str]) -> str:
    """Return names for a message; of very many the first, and how many more there are."""
    said = [f"'{name}'" for name in names[:_MOST_NAMES]]
    more = len(names) - len(said)
    return ", ".join([*said, f"and {more} more"] if more else said)
