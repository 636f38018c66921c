"""What readings say of an arm's description, and what became of its limits, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from pathsim.arm import Arm
from pathsim.fit import Candidate, Reading, Residual, Verdict
from pathsim.fit.lengths import LengthSlip
from pathsim.fit.lengths_together import Together, WrongLength
from pathsim.fit.slips import likely_slip
from pathsim.fit.trials import CLOSE, CLOSE_TURN, worst
from pathsim.units import degrees, millimetres

#: A wrong length asks as little of a person to believe as a wrong sign.
OF_A_LENGTH = 1


@dataclass(frozen=True)
class Beside:
    """What may be wrong with rows beside what ``explain`` looks for.

    ``lengths``: those of which one alone explains the rows; ``otherwise``: options with which they
    agree as they are; ``together``: lengths with a display that counts otherwise, or two lengths.
    ``decides``: it is cheaper to believe than any explanation, or as cheap.
    """

    lengths: tuple[LengthSlip, ...] = ()
    otherwise: str = ""
    together: tuple[Together, ...] = ()
    decides: bool = False

    @classmethod
    def of(
        cls,
        lengths: tuple[LengthSlip, ...],
        otherwise: str,
        together: tuple[Together, ...],
        cheapest: int | None,
    ) -> Beside:
        """Make it with the price of the ``cheapest`` explanation, None where there is none.

        A length that shows itself just as a shifted tool or frame does is named beside that.
        """
        is_cheaper = any(
            cheapest is None or (cheapest >= OF_A_LENGTH and not one.is_a_shift) for one in lengths
        ) or any(
            cheapest is None or (cheapest >= one.price and not one.is_a_shift) for one in together
        )
        return cls(lengths, otherwise, together, bool(otherwise) or is_cheaper)


def print_verdict(
    verdict: Verdict,
    rows: Sequence[Reading],
    console: Console,
    beside: Beside | None = None,
) -> None:
    """Print the residual of each row, the cheapest explanations, and what is ``beside`` them."""
    beside = beside or Beside()
    console.print(_residual_table(verdict.before))
    if verdict.agrees:
        rule = f"{millimetres(CLOSE)} and {degrees(CLOSE_TURN)}"
        console.print(
            Text(f"The description agrees with these readings ({_worst(verdict.before)}; {rule} "
                 "are let pass)."), style="bold",
        )  # fmt: skip
        return
    console.print(Text(f"The description does not agree: {_worst(verdict.before)}."), style="bold")
    if beside.otherwise:
        console.print(Text("Cheapest explanation:"), style="bold")
        said = f"The rows were read otherwise than meant: with {beside.otherwise} they agree"
        console.print(Text(f"  {said} as they are."))
        return
    if beside.decides and beside.together:
        console.print(Text("Cheapest explanation:"), style="bold")
        _print_together(beside.together, console)
        return
    if beside.decides:
        console.print(Text("Cheapest explanation:"), style="bold")
        _print_lengths(beside.lengths, console)
        others = [one for one in verdict.explained if one.price <= OF_A_LENGTH]
        if others:
            console.print(Text("As cheap, and these rows cannot tell them apart:"))
        for other in others:
            _print_candidate(other, rows, console)
        return
    if not verdict.explained:
        console.print(
            Text("Nothing simple explains it, of what was looked for: signs, zeros and coupling of "
                 "the joints together, tool and base with one or two of them, one wrong row, "
                 "another convention, one or two wrong lengths, with a display that counts "
                 "otherwise too. Three lengths, another arm, or slips in several rows are left.")
        )  # fmt: skip
        if verdict.nearest is not None:
            near = verdict.nearest
            console.print(Text(f"Nearest: {'; '.join(near.words)} - leaves {_worst(near.left)}."))
            farthest = sorted(near.left, key=lambda r: -r.distance)[:3]
            names = ", ".join(f"'{r.row}' (line {r.line})" for r in farthest)
            console.print(Text(f"Rows farthest off then: {names}."))
        return
    best, *others = verdict.explained
    console.print(Text("Cheapest explanation:"), style="bold")
    _print_candidate(best, rows, console)
    if others:
        console.print(
            Text("As cheap, and these rows cannot tell them apart (move the other joints and the "
                 "torch more, and note more rows):")
        )  # fmt: skip
        for other in others:
            _print_candidate(other, rows, console)
    if beside.together:
        console.print(Text("Or a length is wrong instead, which looks the same in these rows:"))
        _print_together(beside.together, console)
    if beside.lengths:
        console.print(Text("Or one length is wrong instead, which looks the same in these rows:"))
        _print_lengths(beside.lengths, console)


def _print_lengths(lengths: Sequence[LengthSlip], console: Console) -> None:
    """Say which length may be mistyped, and which others these rows cannot tell from it."""
    for one in lengths:
        console.print(Text(f"  {_length_words(one)}"))
        console.print(Text(f"  leaves {_worst(one.left)}"), style="dim")
    which = "it" if len(lengths) == 1 else "them (these rows cannot tell which)"
    console.print(Text(f"Look at the drawing, correct {which} by hand, and ask again."))


def _length_words(one: LengthSlip | WrongLength) -> str:
    return (
        f"The length '{one.name}' is wrong: {millimetres(one.would_be)} fits, the description says "
        f"{millimetres(one.came)} ({1e3 * (one.would_be - one.came):+.1f} mm)."
    )


def _print_together(together: Sequence[Together], console: Console) -> None:
    """Say what is wrong with lengths and display together, and what to do first."""
    for k, one in enumerate(together):
        if k == 1:
            console.print(
                Text("As cheap, and these rows cannot tell them apart (move all joints more, and "
                     "note more rows):")
            )  # fmt: skip
        for wrong in one.lengths:
            console.print(Text(f"  {_length_words(wrong)}"))
        for sentence in one.counting:
            console.print(Text(f"  {sentence}"))
        console.print(Text(f"  leaves {_worst(one.left)}"), style="dim")
    which = "the length" if len(together[0].lengths) == 1 else "the lengths"
    rest = " What the display counts otherwise is told again then, and --write writes it."
    has_rest = any(one.counting for one in together)
    console.print(
        Text(f"Look at the drawing, correct {which} by hand, and ask again."
             f"{rest if has_rest else ''}")
    )  # fmt: skip


def _print_candidate(candidate: Candidate, rows: Sequence[Reading], console: Console) -> None:
    for sentence in candidate.words:
        console.print(Text(f"  {sentence}"))
    for slip in candidate.slips:
        console.print(Text(f"  {_slip_words(candidate, slip, rows)}"))
    rest = "the other rows keep" if candidate.slips else "leaves"
    console.print(Text(f"  {rest} {_worst(candidate.left)}"), style="dim")


def _slip_words(candidate: Candidate, slip: Residual, rows: Sequence[Reading]) -> str:
    """Say which row does not fit, and which of its numbers would put it right."""
    text = f"row '{slip.row}' (line {slip.line}) does not fit the others: off by {_sizes([slip])}."
    row = next((r for r in rows if r.line == slip.line), None)
    likely = None if row is None else likely_slip(candidate.description, row)
    if likely is None:
        return text + " Read it off again."
    say = degrees if likely.is_turn else millimetres
    return (
        f"{text} It would fit with {likely.name} {say(likely.would_be, 2)}; it says "
        f"{say(likely.came, 2)}."
    )


def _worst(left: Sequence[Residual]) -> str:
    return f"at most {_sizes(left)}"


def _sizes(left: Sequence[Residual]) -> str:
    distance, turn = worst(left)
    has_turn = any(r.turn is not None for r in left)
    return millimetres(distance, 2) + (f" and {degrees(turn, 2)}" if has_turn else "")


def _residual_table(left: Sequence[Residual]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for name in ("row", "line", "off by", "turned by"):
        table.add_column(name, justify="left" if name == "row" else "right")
    for r in left:
        turn = "" if r.turn is None else degrees(r.turn, 2)
        table.add_row(Text(r.row), str(r.line), millimetres(r.distance, 2), turn)
    return table


def limit_words(before: Arm, after: Arm) -> list[str]:
    """Say how limits count once the readings are counted otherwise; nothing where all is as was."""
    if before.readings.mix.tobytes() == after.readings.mix.tobytes() and np.array_equal(
        before.readings.zero, after.readings.zero
    ):
        return []
    if after.shown_limits is not None:
        if before.shown_limits is not None:
            return []
        said = [
            f"{after.joint_name(j)} {_span(after, j, *after.shown_limits[j])} on the display is "
            f"{_span(after, j, after.lower[j], after.upper[j])} in the model"
            for j in range(after.dof)
            if not np.allclose(after.shown_limits[j], [after.lower[j], after.upper[j]], atol=1e-6)
        ]
        return [
            f"Limits now count as displayed ('limits: as displayed'): {'; '.join(said)}.",
            "If you gave them as the model counts, write 'limits: of the model' under 'readings'.",
        ]
    ends = np.sort(after.readings.shown(np.array([after.lower, after.upper])), axis=0).T
    said = [
        f"{after.joint_name(j)} {_span(after, j, after.lower[j], after.upper[j])} in the model is "
        f"{_span(after, j, *ends[j])} on the display"
        for j in range(after.dof)
        if not np.allclose(ends[j], [after.lower[j], after.upper[j]], atol=1e-6)
        and np.count_nonzero(after.readings.mix[j]) == 1
    ]
    if not said:
        return []
    return [
        f"Limits still count as the model does: {'; '.join(said)}.",
        "If they are the display's, write 'limits: as displayed' under 'readings'.",
    ]


def _span(arm: Arm, joint: int, low: float, high: float) -> str:
    slides = bool(arm.prismatic[joint])
    scale, unit = (1e3, "mm") if slides else (180 / np.pi, "deg")
    return f"{low * scale:.0f} to {high * scale:.0f} {unit}"
