"""What ``pathsim check`` does."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.cli.console import checked, table_console
from pathsim.cli.exit_codes import CLEAR, FOUND
from pathsim.files.contents import input_files
from pathsim.findings import Level
from pathsim.outputs import Output, OutputFile

if TYPE_CHECKING:
    from pathsim.model import Cell

#: From this level of finding on a check does not end as clear.
FAIL_ON = Level.WATCH


def check_and_print(
    cell: Path, json: Path | None = None, fail_on: Level = FAIL_ON, brief: bool = False
) -> int:
    """Check a cell folder, print the result and write it if asked to; return the exit code."""
    from pathsim.report import print_brief, print_result, result_as_json

    places: list[OutputFile] = []

    def loaded(read: Cell) -> None:
        if json is not None:
            places.append(OutputFile.free(json, Output.RESULT, input_files(cell, read)))

    result = checked(cell, loaded=loaded)
    for place in places:
        place.write(result_as_json(result))
    (print_brief if brief else print_result)(result, table_console())
    return FOUND if result.has(fail_on) else CLEAR
