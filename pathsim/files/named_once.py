"""What a cell file names once and uses by name: weaves, schedules, subprograms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from pathsim.errors import CannotCheck

Named = TypeVar("Named")


def in_cells_order(
    names: Sequence[str], known: Mapping[str, Named], nobody: str
) -> dict[str, Named]:
    """Return what is ``known`` in the order in which the cell names it, so that it comes back so.

    ``nobody``: who uses none of it, such as "no seam has the weave". Raises CannotCheck for a name
    that nothing uses: a cell holds no more of it than its name.
    """
    unused = [name for name in names if name not in known]
    if unused:
        raise CannotCheck(
            f"{nobody} {unused[0]!r}, and the cell holds no more of it than its name. Save "
            "cell.with_program(start, *moves) of the same program, which leaves it out"
        )
    return {name: known[name] for name in (*names, *(n for n in known if n not in names))}
