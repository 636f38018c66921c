"""Changes of the cell for findings that no point cures: which fit, and how each is tried."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from pathsim.advice.cell_proposal import CellChange, CellProposal
from pathsim.advice.cell_trial import MOST_CHECKED, Looked, first_that_serves
from pathsim.advice.clamps import (
    FARTHEST,
    clamp_of,
    moved_clamps,
    turned_clamps,
    why_not_moved,
    why_not_turned,
)
from pathsim.advice.kinds import LINED_UP, NEAR
from pathsim.advice.taught_anew import (
    TILTS,
    TWISTS,
    other_homes,
    other_program_postures,
    other_torch_angles,
    seam_of,
)
from pathsim.advice.trial import Evaluator
from pathsim.arm.postures import has_postures
from pathsim.findings import Finding
from pathsim.findings.kinds import FindingKind
from pathsim.findings.weld_places import fixed_points
from pathsim.motion import MoveTrack
from pathsim.units import degrees, millimetres

#: Kinds for which a change of the cell may help where no point does.
OF_CELL = (
    *NEAR,
    *LINED_UP,
    FindingKind.WEAVE_ROOM,
    FindingKind.JOINT_LIMIT,
    FindingKind.OUT_OF_REACH,
)


class _Kept:
    """What a search yields, looked for only as far as anybody asks, and only once."""

    def __init__(self, search: Iterator[CellChange | None]) -> None:
        self._search, self._seen = search, list[CellChange | None]()

    def __iter__(self) -> Iterator[CellChange | None]:
        at = 0
        while True:
            if at == len(self._seen):
                try:
                    self._seen.append(next(self._search))
                except StopIteration:
                    return
            yield self._seen[at]
            at += 1


def _kept(changes: Callable[[], Iterator[CellChange | None]]) -> list[_Kept]:
    return [_Kept(changes())]


def cell_cures(
    evaluator: Evaluator, finding: Finding
) -> tuple[tuple[CellProposal, ...], tuple[str, ...]]:
    """Return changes of the cell that cure a finding, best first, and what was tried in vain."""
    if finding.kind not in OF_CELL or finding.move is None:
        return (), ()
    track = evaluator.before.trajectory.tracks[finding.move - 1]
    found: list[CellProposal] = []
    tried: list[str] = []
    for key, words, changes in _kinds(evaluator, finding, track):
        (tries,) = evaluator.once(("cell", *key), partial(_kept, changes))
        served, how_far = first_that_serves(evaluator, finding, tries)
        if served is not None:
            found.append(served)
        elif how_far is Looked.ALL:
            tried.append(words)
        elif how_far is Looked.SOME:
            tried.append(f"{words} (stopped after {MOST_CHECKED} that did harm elsewhere)")
    return tuple(sorted(found, key=lambda p: p.rank)), tuple(tried)


def not_tried(evaluator: Evaluator, finding: Finding) -> tuple[str, ...]:
    """Say which changes of the cell that would fit a finding are left alone, and why."""
    cell = evaluator.cell
    clamp = clamp_of(cell, finding) if finding.kind in NEAR else None
    if clamp is None or finding.move is None:
        return ()
    return tuple(filter(None, (why_not_moved(cell, clamp), why_not_turned(cell, clamp))))


def _kinds(
    evaluator: Evaluator, finding: Finding, track: MoveTrack
) -> Iterator[tuple[tuple[object, ...], str, Callable[[], Iterator[CellChange | None]]]]:
    """Yield what there is to try for a finding: its key, its words, and how to try it."""
    cell, tracks = evaluator.cell, evaluator.before.trajectory.tracks
    clamp = clamp_of(cell, finding) if finding.kind in NEAR else None
    if clamp is not None and not why_not_moved(cell, clamp):
        far = millimetres(FARTHEST, 0)
        yield (
            ("moved", clamp.name),
            f"moving the {clamp.name} up to {far} sideways",
            lambda: moved_clamps(evaluator, finding, clamp),
        )
    if clamp is not None and not why_not_turned(cell, clamp):
        yield (
            ("turned", clamp.name),
            f"turning the {clamp.name} where it stands",
            lambda: turned_clamps(evaluator, finding, clamp),
        )
    seam = seam_of(tracks, track.index)
    if seam is not None and _is_taught(evaluator, seam):
        turn, tilt = degrees(float(TWISTS[-1]), 0), degrees(float(TILTS[-1]), 0)
        yield (
            ("angle", *seam),
            f"turning the torch up to {turn} about its wire or tilting it up to {tilt} at the seam",
            lambda: other_torch_angles(evaluator, track, finding.body),
        )
    if has_postures(cell.arm) and all(
        point.q is not None or point.derived for point in cell.points.values()
    ):
        yield (
            ("posture",),
            "the whole program in another posture",
            lambda: other_program_postures(evaluator),
        )
    home = cell.program.start
    at_home = home in (track.start, track.move.target) and home not in fixed_points(cell)
    if at_home and cell.points[home].q is not None:
        yield (
            ("home", track.index),
            f"'{home}' elsewhere",
            lambda: other_homes(evaluator, track),
        )


def _is_taught(evaluator: Evaluator, seam: tuple[int, int]) -> bool:
    """Tell whether a seam's points have joint values, and all of it can be run."""
    tracks = evaluator.before.trajectory.tracks[seam[0] : seam[1] + 1]
    names = {n for t in tracks for n in (t.start, t.move.via, t.move.target) if n is not None}
    points = evaluator.cell.points
    return all(t.fault is None for t in tracks) and all(points[n].q is not None for n in names)
