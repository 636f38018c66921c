"""Calls that need nobody to read their arguments.

They are made more often than all others, and what reads the arguments of the other commands takes
a tenth of their whole time to start.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from pathsim.cli.check import check_and_print


def plain_call(arguments: Sequence[str]) -> Callable[[], int] | None:
    """Return what does a call without any choice of options; None for any other call.

    These are ``check FOLDER``, ``sheet FOLDER -o FILE`` and ``explain FOLDER --page FILE``, word
    for word in this order.
    """
    command, *given = arguments or [""]
    places = given[::2]
    if not all(places) or any(one.startswith("-") for one in places):
        return None
    if command == "check" and len(given) == 1:
        return lambda: check_and_print(Path(given[0]))
    if len(given) != 3:
        return None
    folder, option, file = Path(given[0]), given[1], Path(given[2])
    if command == "sheet" and option in ("-o", "--out"):
        return lambda: _sheet(folder, file)
    if command == "explain" and option == "--page":
        return lambda: _page(folder, file)
    return None


def _sheet(folder: Path, file: Path) -> int:
    from pathsim.cli.sheet import write_and_print

    return write_and_print(folder, file)


def _page(folder: Path, file: Path) -> int:
    from pathsim.cli.explain import write_and_print

    return write_and_print(folder, None, file)
