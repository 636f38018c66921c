"""``pathsim advise`` and ``pathsim explain``: cures and reasons on the terminal."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.advice import (
    Advice,
    Evaluator,
    advise,
    best_first,
    whole_program,
)
from pathsim.advice.blocks import Said, block_in_words, blocks, changes_needed
from pathsim.advice.cure_text import TITLE, cure_in_words, proposal_in_words
from pathsim.advice.explain import explain
from pathsim.advice.keyed_in import PoseConvention
from pathsim.advice.proposal import Proposal, count_grave
from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.cli.take_cure import write_proposals
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.files.cell_writer import require_new_place
from pathsim.files.contents import input_files
from pathsim.files.points_entry import points_entry
from pathsim.outputs import Output, OutputFile
from pathsim.report.advice_json import advice_as_json
from pathsim.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from rich.console import Console

    from pathsim.check import Progress


@dataclass(frozen=True)
class AdviceQuestion:
    """What is asked of ``pathsim advise``; ``write`` and ``json``: where to, None for nowhere."""

    folder: Path
    write: Path | None = None
    json: Path | None = None


def print_advice(
    question: AdviceQuestion,
    console: Console,
    with_bar: Callable[[Callable[[Progress], tuple[Advice, ...]]], tuple[Advice, ...]],
) -> CheckResult:
    """Print advice for a cell and write what is asked for; return the check of the cell as it is.

    Raises CannotCheck when the new folder cannot be written.
    """
    cell = load_cell(question.folder)
    json: OutputFile | None = None
    if question.json is not None:
        inputs = input_files(question.folder, cell)
        json = OutputFile.free(question.json, Output.ADVICE, inputs)
    if question.write is not None:
        require_new_place(question.folder, question.write)  # before anybody waits for it
        if json is not None and json.path.resolve() == question.write.resolve():
            raise CannotCheck(f"--json and --write both name '{json.path}'; give two names")
    evaluator = Evaluator(cell, Session())
    advice = with_bar(lambda progress: advise(evaluator, progress))
    convention = _convention(question.folder)
    _say(evaluator, advice, convention, console)
    needed = list(changes_needed(advice))
    if needed:
        console.print("Changes of the cell", style="bold")
        _say_lines(needed, console)
        console.print()
    whole, left = whole_program(evaluator, advice)
    _say_together(whole, left, convention, console)
    if json is not None:
        json.write(advice_as_json(evaluator.before, advice, convention, whole))
    if question.write is not None:
        _write(question.folder, question.write, evaluator, advice, console)
    if evaluator.before.engine_note:
        console.print(evaluator.before.engine_note, style="dim", markup=False)
    console.print(CAUTION, style="italic", markup=False)
    return evaluator.before


def print_explanation(folder: Path, finding: str, console: Console) -> None:
    """Print why the finding with this number came about, and the smallest change that cures it."""
    _number(folder, finding)  # before anybody waits for the check
    evaluator = Evaluator(load_cell(folder), Session())
    number = finding_number(folder, finding, evaluator.before)
    findings = evaluator.before.findings
    for sentence in explain(evaluator.before, findings[number - 1]):
        console.print(sentence, markup=False)
    console.print()
    _say_cure(cure_in_words(evaluator, number), console)
    if evaluator.before.engine_note:
        console.print(evaluator.before.engine_note, style="dim", markup=False)
    console.print(CAUTION, style="italic", markup=False)


def finding_number(folder: Path, finding: str, result: CheckResult) -> int:
    """Return the number of a finding as it was typed; CannotCheck when there is none such."""
    number, count = _number(folder, finding), len(result.findings)
    if not 1 <= number <= count:
        there = f"1 to {count}" if count else "none"
        raise CannotCheck(
            f"there is no finding {number}; 'pathsim check {folder}' numbers them: {there}"
        )
    return number


def _number(folder: Path, finding: str) -> int:
    if not finding.strip().isdecimal():
        raise CannotCheck(
            f"a finding is named by its number, came '{finding}'; 'pathsim check {folder}' numbers "
            "them"
        )
    return int(finding)


def _convention(folder: Path) -> PoseConvention:
    """Return how a cell's points tell poses; the usual where they tell none."""
    usual = PoseConvention()
    rotation, frame = points_entry(folder)
    return PoseConvention(rotation or usual.rotation, frame or usual.frame)


def _say(
    evaluator: Evaluator, advice: tuple[Advice, ...], convention: PoseConvention, console: Console
) -> None:
    if not advice:
        # Only a cell without findings is told in so few words: others have what no point cures.
        rest = count_grave(evaluator.before)
        said = "There is nothing that a point would cure."
        if rest:
            said += f" What was found, {rest} stop or watch, needs something else; see the check."
        console.print(said, markup=False)
    told = Said()
    for block in blocks(advice):
        for one in block:
            console.print(f"{one.number}. {one.finding.level}", style="bold", markup=False)
            console.print(one.finding.text, markup=False)
        for paragraph in block_in_words(block, convention, told):
            if len(paragraph) == 1:
                console.print(paragraph[0], markup=False)
            else:
                _say_lines(paragraph, console)
        console.print()


def _say_together(
    whole: Proposal | None,
    left: list[Proposal],
    convention: PoseConvention,
    console: Console,
) -> None:
    """Say what all best proposals are as one program, where there are several."""
    if whole is None:
        return
    console.print("All together", style="bold")
    _say_lines(proposal_in_words(whole, convention), console)
    for proposal in left:
        console.print(f"It does not go with the others: {proposal.text}", markup=False)
    console.print()


def _say_cure(sentences: tuple[str, ...], console: Console) -> None:
    if sentences[0] != TITLE:
        for sentence in sentences:
            console.print(sentence, markup=False)
        return
    console.print(TITLE, style="bold")
    _say_lines(sentences[1:], console)


def _say_lines(sentences: Iterable[str], console: Console) -> None:
    for k, sentence in enumerate(sentences):
        mark = "   - " if k == 0 else "     "
        console.print(mark + sentence, style="dim" if k > 1 else None, markup=False)


def _write(
    folder: Path, new: Path, evaluator: Evaluator, advice: tuple[Advice, ...], console: Console
) -> None:
    """Write the new cell; it stays only if it reads and checks as it should."""
    written = write_proposals(folder, new, evaluator, best_first(advice))
    console.print(written.text, style="bold", markup=False)
    for proposal in written.left:
        console.print(
            f"Not written, as it does not go with the others: {proposal.text} Advise on "
            f"'{new}' again.",
            markup=False,
        )
