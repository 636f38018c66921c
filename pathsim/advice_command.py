"""``pathsim advise`` and ``pathsim explain``: cures and reasons on the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.advice import Advice, Bench, Change, advise, best_first
from pathsim.advice.advise import in_numbers
from pathsim.advice.explain import explain
from pathsim.caution import CAUTION
from pathsim.check import check
from pathsim.clearance import Kept, engine_for
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.files.cell_writer import write_changed_cell
from pathsim.findings import Level

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

    from pathsim.advice import Proposal
    from pathsim.check import Progress
    from pathsim.model import Cell


def bench_for(cell: Cell) -> Bench:
    """Return a bench whose engines keep what they know from one change to the next."""
    kept = Kept()
    return Bench(cell, lambda other: engine_for(other, kept))


def print_advice(
    folder: Path,
    new: Path | None,
    console: Console,
    with_bar: Callable[[Callable[[Progress], tuple[Advice, ...]]], tuple[Advice, ...]],
) -> bool:
    """Print advice for a cell, and write a new one on request; True when nothing is left to cure.

    Raises CannotCheck when the new folder cannot be written.
    """
    cell = load_cell(folder)
    bench = bench_for(cell)
    advice = with_bar(lambda progress: advise(bench, progress))
    _say(bench, advice, console)
    chosen = _that_go_together(bench, best_first(advice))
    if new is not None:
        _write(folder, new, bench, chosen, console)
    if bench.before.engine_note:
        console.print(bench.before.engine_note, style="dim", markup=False)
    console.print(CAUTION, style="italic", markup=False)
    return not bench.before.has(Level.WATCH)


def print_explanation(folder: Path, number: int, console: Console) -> None:
    """Print why the finding with this number came about, and the smallest change that cures it."""
    cell = load_cell(folder)
    bench = bench_for(cell)
    findings = bench.before.findings
    if not 1 <= number <= len(findings):
        there = f"1 to {len(findings)}" if findings else "none"
        raise CannotCheck(
            f"there is no finding {number}; 'pathsim check {folder}' numbers them: {there}"
        )
    for sentence in explain(bench.before, findings[number - 1]):
        console.print(sentence, markup=False)
    console.print()
    mine = next((a for a in advise(bench) if a.number == number), None)
    if mine is None:
        console.print("No point was looked for: this is nothing that a point cures.", markup=False)
    elif mine.proposals:
        console.print("What cures it", style="bold")
        _say_proposal(bench, mine.proposals[0], console)
    else:
        console.print(mine.never or _nothing(mine), markup=False)
    console.print(CAUTION, style="italic", markup=False)


def _say(bench: Bench, advice: tuple[Advice, ...], console: Console) -> None:
    if not advice:
        console.print("There is nothing that a point would cure.", markup=False)
    said: set[Change] = set()
    for one in advice:
        console.print(f"{one.number}. {one.finding.level}", style="bold", markup=False)
        console.print(one.finding.text, markup=False)
        if one.never:
            console.print(one.never, markup=False)
        for proposal in one.proposals:
            if proposal.change in said:
                console.print(f"   - {proposal.kind}: as above.", markup=False)
                continue
            said.add(proposal.change)
            _say_proposal(bench, proposal, console)
        if not one.never and not one.proposals:
            console.print(_nothing(one), markup=False)
        elif one.tried and not one.never:
            console.print(f"     Did not serve: {'; '.join(one.tried)}.", style="dim", markup=False)
        console.print()


def _say_proposal(bench: Bench, proposal: Proposal, console: Console) -> None:
    console.print(f"   - {proposal.kind}: {proposal.text}", markup=False)
    console.print(f"     {in_numbers(proposal, bench.before.cap)}.", markup=False)
    for sentence in proposal.evidence:
        console.print(f"     {sentence}", style="dim", markup=False)
    others = len(proposal.cures) - 1
    if others > 0:
        more = "another finding" if others == 1 else f"{others} other findings"
        console.print(f"     It cures {more} too.", style="dim", markup=False)


def _nothing(advice: Advice) -> str:
    return f"Nothing was found that cures it and worsens nothing. Tried: {'; '.join(advice.tried)}."


def _that_go_together(bench: Bench, proposals: list[Proposal]) -> list[Proposal]:
    """Return the proposals that worsen nothing when they are all made at once, first ones first."""
    chosen: list[Proposal] = []
    for proposal in proposals:
        together = _together([*(p.change for p in chosen), proposal.change])
        if together is not None and not bench.worsened(together, bench.full(together)):
            chosen.append(proposal)
    return chosen


def _together(changes: list[Change]) -> Change | None:
    """Return several changes as one; None when two of them change the same thing."""
    points = [name for change in changes for name in change.points]
    instead = [index for change in changes for index, _ in change.instead]
    if len(set(points)) < len(points) or len(set(instead)) < len(instead):
        return None
    return Change(
        {name: q for change in changes for name, q in change.points.items()},
        tuple(move for change in changes for move in change.moves),
        tuple(move for change in changes for move in change.instead),
    )


def _write(folder: Path, new: Path, bench: Bench, chosen: list[Proposal], console: Console) -> None:
    """Write the new cell, and check what was written before saying so."""
    change = _together([proposal.change for proposal in chosen])
    if change is None or not chosen:
        raise CannotCheck("nothing was written: there is no proposal to write")
    cell = write_changed_cell(folder, new, bench.cell, change.points, change.moves, change.instead)
    after = check(cell, engine=engine_for(cell))
    worse = bench.worsened(change, after)
    if worse:
        raise CannotCheck(
            f"'{new}' was written, but it does not check as it should: {worse[0].text}"
        )
    left = sum(f.level.at_least(Level.WATCH) for f in after.findings)
    was = sum(f.level.at_least(Level.WATCH) for f in bench.before.findings)
    console.print(
        f"Written to '{new}', read back and checked: {left} stop or watch findings, {was} before.",
        style="bold",
        markup=False,
    )
