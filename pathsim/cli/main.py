"""The command line: ``pathsim check``, ``view``, ``advise``, ``sheet`` and the others."""

from __future__ import annotations

import errno
import gc
import os
import sys
from typing import TYPE_CHECKING

from pathsim.cli.exit_codes import COULD_NOT, FOUND
from pathsim.cli.plain import plain_call
from pathsim.errors import NothingWritten, PathsimError
from pathsim.stopping import Stopped, stopped_by_signals

if TYPE_CHECKING:
    from typer import Typer

_BY_SIGNAL, _INTERRUPTED = 128, 130
#: How many new things until garbage is looked for: a command ends before it has made much.
_SELDOM = (50_000, 20, 100)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    gc.set_threshold(*_SELDOM)
    try:
        with stopped_by_signals() as came:
            code = _exit_code(arguments, came)
            code = _BY_SIGNAL + came[0] if came else code
    except NothingWritten as error:
        # Something was found and said; it is the writing that failed.
        text = str(error)
        print(f"{text[:1].upper()}{text[1:]}", file=sys.stderr)  # noqa: T201
        return COULD_NOT
    except PathsimError as error:
        print(f"{_opening(arguments)}: {error}", file=sys.stderr)  # noqa: T201
        return COULD_NOT
    except KeyboardInterrupt:
        code = _INTERRUPTED
    except Stopped as stopped:
        code = stopped.exit_code
    if code >= _BY_SIGNAL:
        print("Stopped. No file was left half written.", file=sys.stderr)  # noqa: T201
    return code


#: What a command could not do, where that is not checking.
_COULD_NOT = {
    "advise": "Could not advise", "explain": "Could not explain", "place": "Could not place",
    "arm": "Could not compare", "new": "Could not make the cell", "mesh": "Could not read",
    "sheet": "Could not write the sheet", "view": "Could not show", "still": "Could not draw",
    "clip": "Could not draw", "motion": "Could not write the motion",
}  # fmt: skip


def _opening(arguments: list[str] | None) -> str:
    """Return what could not be done, by the command that was asked for."""
    given = sys.argv[1:] if arguments is None else arguments
    command = next((word for word in given if not word.startswith("-")), "")
    return _COULD_NOT.get(command, "Could not check")


def _exit_code(arguments: list[str] | None, came: list[int]) -> int:
    """Run the commands; wrong usage shows itself on standard error and gives 2.

    ``came``: signals so far; an error after one of them is only what the signal broke.
    """
    asked = sys.argv[1:] if arguments is None else arguments
    plain = plain_call(asked)
    try:
        return _by_command(asked) if plain is None else plain()
    except PathsimError:
        raise  # main says it as it is
    except Exception as error:
        if isinstance(error, OSError) and error.errno == errno.EPIPE:
            return _nobody_reads()
        if came:
            raise Stopped(came[0]) from error
        # An error that nobody foresaw must not look like "findings" (1) or "clear" (0).
        what = " ".join(str(error).split())
        print(f"Could not check: unforeseen {type(error).__name__}: {what}", file=sys.stderr)  # noqa: T201
        return COULD_NOT


def commands() -> Typer:
    """Return the program with all its commands, in the order in which help lists them."""
    # Each module of commands hangs its own on the program.
    from pathsim.cli import check_commands, cell_commands, advice_commands  # noqa: F401
    from pathsim.cli.app import app

    return app


def _by_command(arguments: list[str]) -> int:
    import typer

    try:
        return int(commands()(arguments, standalone_mode=False) or 0)
    except typer.Exit as leaving:
        return leaving.exit_code
    except Exception as error:
        if not (hasattr(error, "format_message") and hasattr(error, "show")):
            raise
        error.show()
        return COULD_NOT


def _nobody_reads() -> int:
    """Say nothing more to a reader that has left, as ``head`` does: no answer, so never clear."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return FOUND
