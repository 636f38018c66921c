"""What people read of a move and no check needs: worked out when somebody asks for it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Generic, NamedTuple, TypeVar

Value = TypeVar("Value")


class TipWay(NamedTuple):
    """How far the tip goes on a move, m; for a joint move also how far it leaves the straight line.

    ``detour``: the largest distance from the line between its ends, m; ``when``: at so many
    seconds from the move's start.
    """

    length: float
    detour: float = 0.0
    when: float = 0.0


class Later(Generic[Value]):
    """A value that ``work_out`` makes the first time that it is asked for."""

    def __init__(self, work_out: Callable[[], Value]) -> None:
        self._work_out = work_out

    @cached_property
    def value(self) -> Value:
        """The value."""
        return self._work_out()


#: Of a move on which nothing moves.
NO_WAY, NO_TIME = Later(lambda: TipWay(0.0)), Later(lambda: 0.0)
