"""``pathsim sheet``: the first-run sheet of a cell, with stills where they can be drawn."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.check import CheckResult
from pathsim.cli.console import with_bar
from pathsim.cli.exit_codes import CLEAR, FOUND
from pathsim.errors import CannotCheck, PathsimError
from pathsim.files import load_cell
from pathsim.files.contents import CELL_FILE, input_files, own_folder
from pathsim.outputs import Output, OutputFile
from pathsim.report.paper import Paper
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_records import SheetContent, Shown
from pathsim.report.short_names import LONGEST_NAME, shortened
from pathsim.scene.moments import delicate_moments, side_in_words
from pathsim.session import Session
from pathsim.view.probe import begin_off_screen

if TYPE_CHECKING:
    from pathsim.check import Progress
    from pathsim.findings import Finding
    from pathsim.model import Cell

_ENDINGS = (".pdf", ".html")
#: Of a picture, px.
_STILL = (780, 500)


def write_and_print(
    folder: Path,
    out: Path,
    override: float | None = None,
    *,
    stills: bool = True,
    paper: Paper = Paper.A4,
) -> int:
    """Write the sheet of a cell, say where it is, and return the exit code.

    ``override``: share of the program's speeds for the seconds; None takes the cell's.
    """
    file, is_stop = write_sheet(
        folder, out, override, stills=stills, paper=paper,
        with_bar=lambda work: with_bar(work, "checking"),
    )  # fmt: skip
    print(file)  # noqa: T201
    return FOUND if is_stop else CLEAR


def write_sheet(
    folder: Path,
    out: Path,
    override: float | None,
    *,
    stills: bool,
    paper: Paper,
    with_bar: Callable[[Callable[[Progress], SheetContent]], SheetContent],
) -> tuple[Path, bool]:
    """Check a cell and write its sheet; return the file, and whether anything says stop.

    ``override``: share of the program's speeds for the seconds; None takes the cell's. Raises
    CannotCheck for an unknown ending or what cannot be written.
    """
    ending = out.suffix.lower()
    if ending not in _ENDINGS:
        raise CannotCheck(f"a sheet is written as .pdf or .html, came '{out}'")
    if ending == ".pdf" and importlib.util.find_spec("reportlab") is None:
        raise CannotCheck(
            "a PDF needs the optional library reportlab: pip install 'pathsim[sheet]' (in this "
            "folder: pip install -e '.[sheet]'). A sheet that ends in .html needs nothing more"
        )
    cell = load_cell(folder)
    kind = Output.SHEET if ending == ".pdf" else Output.SHEET_PAGE
    place = OutputFile.free(out, kind, input_files(folder, cell))
    content = with_bar(lambda progress: make_sheet(folder, cell, override, stills, progress))
    if ending == ".pdf":
        from pathsim.report.sheet_pdf import sheet_as_pdf

        place.write(sheet_as_pdf(content, paper))
    else:
        from pathsim.report.sheet_html import sheet_as_html

        place.write(sheet_as_html(content, paper))
    return out, content.is_stop


def make_sheet(
    folder: Path, cell: Cell, override: float | None, stills: bool, progress: Progress
) -> SheetContent:
    """Check the cell of a folder and return what stands on its sheet."""
    if override is not None:
        cell = replace(cell, override=override)
    session = Session()
    if stills:
        begin_off_screen()
    result = session.check(cell, progress)
    found = delicate_moments(result)
    shown, why = _shown(result, found, stills, session)
    name = shortened(own_folder(folder).resolve().name, LONGEST_NAME)
    files = f"{name}/{CELL_FILE} and all files that it names"
    date = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %Z")
    return sheet_content(result, files, date, shown, why)


def _shown(
    result: CheckResult, found: tuple[Finding, ...], stills: bool, session: Session
) -> tuple[tuple[Shown, ...], str]:
    """Return the moments, with pictures where they can be drawn, and why there are none."""
    from pathsim.scene import build_scene
    from pathsim.scene.marks import finding_marks

    # Built from the whole result, so that no path is drawn as clear that was not all checked.
    scene = build_scene(result, session)
    marks = finding_marks(replace(result, findings=found), scene.meshes)
    sides = [
        "from outside the guard, where the gap is seen" if mark.camera is None
        else side_in_words(result.cell, mark.camera) for mark in marks
    ]  # fmt: skip
    images: list[bytes | None] = [None] * len(found)
    why = "This sheet was asked for without pictures."
    if stills:
        try:
            from pathsim.view.stills import gap_pictures

            images, why = list(gap_pictures(replace(scene, marks=marks), _STILL)), ""
        except (ImportError, PathsimError) as error:
            why = f"There are no pictures: {error}"
    shown = [Shown(*one) for one in zip(found, sides, images, strict=True)]
    return tuple(shown), why
