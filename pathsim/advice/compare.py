"""Findings before and after a change, held against each other one by one.

Whatever cannot be told from worse counts as worse: a proposal that is left out costs somebody a
look at the pendant, one that hides a new hit costs more.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind

#: A guaranteed clearance may come out lower by the width of its interval without being worse, m.
_SAME = 6e-4
#: A touch may last so much longer without being worse: how finely its ends are found, s, and as
#: a share.
_SAME_TIME, _SAME_SHARE = 0.01, 1.1
#: Kinds that say how near a pair comes: one turns into the other.
_CLEARANCES = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
#: Kinds that doubt the model, one for each body or piece.
_MODEL = (FindingKind.UNLIKELY_UNIT, FindingKind.UNLIKELY_TORCH)
#: Numbers of findings of which less is worse, and more is worse, with what may be by rounding.
_LESS_IS_WORSE = {"clearance": _SAME, "angle": 1e-3, "measure": 1e-3, "share": 1e-6, "away": 1e-3}
_MORE_IS_WORSE = {"joint speed share": 0.02, "needed": 0.02, "off": 1e-3, "points": 0.0}
_MORE_IS_WORSE |= {"through": 1e-3}
#: The same of a doubt with all that it explains, and of hoses that are wound up.
_MORE_IS_WORSE |= {
    "contacts": 0.0,
    "near": 0.0,
    "contact seconds": 0.1,
    "turns": 1e-3,
    "net": 1e-3,
    "wound": 1e-3,
}
#: Numbers that say what a finding is about.
_NAMES = ("joint", "margin", "allowance")
#: What nothing carries may float so much farther from anything, as far as clamps are moved, m.
_AFLOAT = 0.15

Origins = Sequence[int | None]


def worsened(
    before: Sequence[Finding], after: Sequence[Finding], came_from: Origins
) -> list[Finding]:
    """Return the stop and watch findings that are new or graver after a change.

    ``came_from``: for each move of the changed program its index before, None for a new one.
    A finding before excuses one finding after, not several.
    """
    left, worse = unfolded(before), []
    for new in unfolded(after):
        if not new.level.at_least(Level.WATCH):
            continue
        excuse = next((old for old in left if _is_no_worse(new, came_from, old)), None)
        if excuse is None:
            worse.append(new)
        else:
            left.remove(excuse)
    return worse


def unfolded(findings: Sequence[Finding]) -> list[Finding]:
    """Return findings with those that are told with another one, behind it.

    Whether a doubt has hits enough to be told with them may change with any change.
    """
    return [each for one in findings for each in (one, *one.explains)]


def cured(before: Sequence[Finding], after: Sequence[Finding], came_from: Origins) -> list[Finding]:
    """Return the stop and watch findings that are gone, or only notes, after a change."""
    grave = [f for f in unfolded(after) if f.level.at_least(Level.WATCH)]
    return [
        old
        for old in unfolded(before)
        if old.level.at_least(Level.WATCH) and not any(_is_about(f, came_from, old) for f in grave)
    ]


def new_notes(
    before: Sequence[Finding], after: Sequence[Finding], came_from: Origins
) -> list[Finding]:
    """Return the notes that a change brings: none such was there before on the same move.

    They are no harm, but who follows a proposal should not be surprised by them.
    """

    def key(finding: Finding, move: int | None) -> tuple[object, ...]:
        # A habit's first words say which one it is; names and numbers come behind them.
        words = re.sub(r"\bmove \d+.*", "", finding.text, flags=re.IGNORECASE).split()
        return (finding.kind, move, finding.numbers.get("joint"), *words[:3])

    known = {key(f, None if f.move is None else f.move - 1) for f in before}
    return [
        f
        for f in after
        if f.level is Level.NOTE
        and key(f, None if f.move is None else came_from[f.move - 1]) not in known
    ]


def _is_about(new: Finding, came_from: Origins, old: Finding) -> bool:
    """Tell whether two findings are about the same thing on the same move."""
    both = {new.kind, old.kind}
    if both in ({FindingKind.POSTURE_PICKED}, {FindingKind.FLOATS}):
        return True  # one finding has all such points or bodies, whichever the first of them is
    if len(both) == 1 and both <= set(_MODEL):
        return (new.piece, new.body) == (old.piece, old.body)  # its text says what it hits now
    if len(both) > 1 and not both <= set(_CLEARANCES):
        return False
    if (new.piece, new.body) != (old.piece, old.body):
        return False
    if new.kind == FindingKind.JOINT_LIMIT and new.numbers.get("joint") != old.numbers.get("joint"):
        return False
    if new.move is None or old.move is None:
        return new.move == old.move and _without_number(new) == _without_number(old)
    return came_from[new.move - 1] == old.move - 1


def _is_no_worse(new: Finding, came_from: Origins, old: Finding) -> bool:
    """Tell whether a finding was there before, and at least as grave."""
    if not _is_about(new, came_from, old) or new.level.rank < old.level.rank:
        return False
    if new.kind == FindingKind.CONTACT:
        return (
            old.kind == FindingKind.CONTACT
            and _lasts(new) <= _lasts(old) * _SAME_SHARE + _SAME_TIME
        )
    if new.kind == FindingKind.JOINT_LIMIT:
        return _past(new) <= _past(old) + 1e-6
    if new.kind == FindingKind.NEAR_HIT:
        return old.kind == FindingKind.CONTACT or _spare(new) >= _spare(old) - _SAME
    if new.kind == FindingKind.FLOATS and "gap" in old.numbers and "gap" not in new.numbers:
        return False  # far from everything now
    if not new.numbers:
        return _without_number(new) == _without_number(old)
    return all(_number_is_no_worse(key, new, old) for key in new.numbers)


def _number_is_no_worse(key: str, new: Finding, old: Finding) -> bool:
    """Compare one number; one whose worse side is not known has to stay as it was."""
    if key in _NAMES:
        return True
    if key not in old.numbers:
        return False
    a, b = new.numbers[key], old.numbers[key]
    if key == "gap":
        return a <= b + _AFLOAT
    if key in _LESS_IS_WORSE:
        return a >= b - _LESS_IS_WORSE[key]
    if key in _MORE_IS_WORSE:
        return a <= b * (1 + _MORE_IS_WORSE[key])
    return abs(a - b) <= 1e-6 + 1e-3 * abs(b)


def _lasts(finding: Finding) -> float:
    return sum(span.end - span.start for span in finding.spans)


def _past(finding: Finding) -> float:
    return abs(finding.numbers["value"] - finding.numbers["limit"])


def _spare(finding: Finding) -> float:
    """Clearance over the margin asked for, m; negative in a near-hit."""
    return finding.numbers["clearance"] - finding.numbers["margin"]


def _without_number(finding: Finding) -> str:
    """Return the text without move numbers: they shift when a move is put in before."""
    return re.sub(r"\bmoves? \d+", "move", finding.text)
