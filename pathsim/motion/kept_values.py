"""What is worked out of a move when somebody asks for it, and kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cached_property
from typing import Any, Generic, NamedTuple, TypeVar

Value = TypeVar("Value")
#: So many things are kept of one move; a move is asked about few.
_MOST = 100


class TipWay(NamedTuple):
    """How far the tip goes on a move, m; for a joint move also how far it leaves the straight line.

    ``detour``: the largest distance from the line between its ends, m; ``when``: at so many
    seconds from the move's start.
    """

    length: float
    detour: float = 0.0
    when: float = 0.0


class Lazy(Generic[Value]):
    """A value that ``work_out`` makes the first time that it is asked for.

    How it is made may hold half a planner, so a pickle holds the value itself. Copies are the same
    object: a value does not change.
    """

    def __init__(self, work_out: Callable[[], Value]) -> None:
        self._work_out = work_out

    @cached_property
    def value(self) -> Value:
        """The value."""
        return self._work_out()

    def __copy__(self) -> Lazy[Value]:
        return self

    def __deepcopy__(self, memo: dict[int, Any]) -> Lazy[Value]:
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        return _known, (self.value,)


def _known(value: Value) -> Lazy[Value]:
    """Return a lazy value that is worked out already."""
    return Lazy(lambda: value)


class Kept:
    """What was worked out of the knots of a move, at whatever time of a program it starts."""

    def __init__(self) -> None:
        self._values: dict[Hashable, Any] = {}

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle as nothing: whatever was kept is worked out again."""
        return Kept, ()

    def once(self, key: Hashable, work_out: Callable[[], Value]) -> Value:
        """Return what is kept under a key, worked out now if nothing is."""
        value: Value | None = self._values.get(key)
        if value is None:
            value = work_out()
            if len(self._values) >= _MOST:
                self._values.clear()
            self._values[key] = value
        return value


#: Of a move on which nothing moves.
NO_WAY, NO_TIME = Lazy(lambda: TipWay(0.0)), Lazy(lambda: 0.0)
