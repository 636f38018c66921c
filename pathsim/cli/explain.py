"""``pathsim explain CELL --page FILE.html``: the findings of a cell on one page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.advice import Evaluator, advise_on
from pathsim.advice.cure_text import advice_in_words, proposal_in_words
from pathsim.advice.explain import explain
from pathsim.advice.proposal import numbers_in_rows
from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.cli.console import with_bar
from pathsim.cli.exit_codes import CLEAR
from pathsim.errors import CannotCheck, PathsimError
from pathsim.files import load_cell
from pathsim.files.contents import CELL_FILE, input_files, own_folder
from pathsim.findings import Level
from pathsim.outputs import Output, OutputFile
from pathsim.report.explain_page import Explained, ExplainPage, explain_page_as_html
from pathsim.scene.not_checked import not_checked_line
from pathsim.session import Session
from pathsim.units import percent
from pathsim.view.probe import begin_off_screen

if TYPE_CHECKING:
    from pathsim.check import Progress
    from pathsim.model import Cell

#: Of a whole picture, px; the stage is cut out of it.
_STILL = (1100, 780)


def write_and_print(folder: Path, finding: str | None, out: Path) -> int:
    """Write the page of a cell's findings, say where it is, and return the exit code."""
    file = write_explain_page(folder, finding, out, lambda work: with_bar(work, "explaining"))
    print(file)  # noqa: T201
    return CLEAR


def write_explain_page(
    folder: Path,
    finding: str | None,
    out: Path,
    with_bar: Callable[[Callable[[Progress], ExplainPage]], ExplainPage],
) -> Path:
    """Explain all findings of a cell, or the one with a number, on a page; return the file.

    Raises CannotCheck for another ending than .html, or a number that there is not.
    """
    if out.suffix.lower() != ".html":
        raise CannotCheck(f"a page is written as .html, came '{out}'")
    cell = load_cell(folder)
    place = OutputFile.free(out, Output.PAGE, input_files(folder, cell))
    page = with_bar(lambda bar: _page(folder, cell, finding, bar))
    place.write(explain_page_as_html(page))
    return out


def _page(folder: Path, cell: Cell, finding: str | None, progress: Progress) -> ExplainPage:
    begin_off_screen()
    session = Session()
    return page_of(folder, Evaluator(cell, session), session, finding, progress)


def page_of(
    folder: Path, evaluator: Evaluator, session: Session, finding: str | None, progress: Progress
) -> ExplainPage:
    """Explain findings of a checked cell, each with its moment, its cause and what cures it."""
    result = evaluator.before
    every = range(1, len(result.findings) + 1)
    wanted: Sequence[int] = every
    if finding is not None:
        from pathsim.cli.advise import finding_number

        wanted = [finding_number(folder, finding, result)]
    stills, why_none = _stills(result, wanted, session)
    explained = []
    for count, number in enumerate(wanted):
        progress(f"finding {number}", count / len(wanted))
        explained.append(_explained(evaluator, number, stills[count]))
    progress("done", 1.0)
    place = own_folder(folder)
    cautions = [CAUTION, *([result.engine_note] if result.engine_note else [])]
    return ExplainPage(
        title=result.cell.name,
        files=f"{place.resolve().name}/{CELL_FILE} and all files that it names",
        all_files=", ".join(result.cell.files),
        fingerprint=result.cell.fingerprint,
        date=datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %Z"),
        verdict=_verdict(result, finding),
        is_stop=result.has(Level.STOP),
        findings=tuple(explained),
        no_stills=why_none,
        cautions=tuple(cautions),
        not_checked=not_checked_line(result),
    )


def _verdict(result: CheckResult, finding: str | None) -> str:
    counts = [sum(f.level is level for f in result.findings) for level in Level]
    said = ", ".join(f"{n} {level}" for n, level in zip(counts, Level, strict=True) if n)
    if not said:
        return "Nothing was found: by the model every move keeps its margin."
    only = "" if finding is None else f" Here only finding {int(finding)} is explained."
    return f"Found: {said}.{only}"


def _explained(evaluator: Evaluator, number: int, still: bytes | None) -> Explained:
    result = evaluator.before
    finding = result.findings[number - 1]
    moment = ""
    if finding.move is not None and finding.time is not None:
        track = result.trajectory.tracks[finding.move - 1]
        moment = (
            f"Move {finding.move}, {track.start} > {track.move.target}, at "
            f"{percent(track.share(finding.time))}, {finding.time:.1f} s after the start"
        )
    advice = advise_on(evaluator, number)
    cure: str | None = None
    rows: tuple[tuple[str, str], ...] = ()
    if advice.proposals:
        best = advice.proposals[0]
        cure, _, *rest = proposal_in_words(best)
        rows, more = numbers_in_rows(best), tuple(rest)
    else:
        more = advice_in_words(advice)
    why = explain(result, finding)[1:]
    return Explained(number, str(finding.level), finding.text, moment, why, still, cure, rows, more)


def _stills(
    result: CheckResult, wanted: Sequence[int], session: Session
) -> tuple[list[bytes | None], str]:
    """Return a picture of the moment of each finding that has one, and why there are none."""
    from pathsim.scene import build_scene
    from pathsim.scene.marks import finding_marks

    findings = [result.findings[number - 1] for number in wanted]
    stills: list[bytes | None] = [None] * len(findings)
    if not findings:
        return stills, ""
    # Built from the whole result, so that no path is drawn as clear that was not all checked.
    scene = build_scene(result, session)
    every = finding_marks(replace(result, findings=tuple(findings)), scene.meshes)
    seen = [k for k, mark in enumerate(every) if mark.camera is not None]
    marks = tuple(every[k] for k in seen)
    if not seen:
        return stills, ""
    try:
        from pathsim.view.stills import gap_pictures

        for k, image in zip(seen, gap_pictures(replace(scene, marks=marks), _STILL), strict=True):
            stills[k] = image
    except (ImportError, PathsimError) as error:
        return [None] * len(findings), f"There are no pictures: {error}"
    return stills, ""
