"""Proposals proved again: by the reference engine, by dense sampling, and that all welds stay."""

from __future__ import annotations

from pathsim.advice import changed
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.narrowing import narrowed
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.findings.weld_places import weld_points
from pathsim.findings.what_if import cannot_run, goes_like
from tests.clearance.oracle import dense_distances

#: Samples of a pair on a move: of one that the engine can tell, and of one beyond its cap.
NEAR, FAR = 60, 9


def is_harmful(evaluator, change):
    """Tell what is wrong with a change: empty where nothing is."""
    if weld_points(evaluator.cell) & set(change.points):
        return "a weld's point is taught otherwise"
    after = evaluator.full(change)
    before = evaluator.before
    seams = [[t for t in r.trajectory.tracks if t.move.arc_on] for r in (before, after)]
    if len(seams[0]) != len(seams[1]) or not all(map(goes_like, *seams)):
        return "a seam is run otherwise"
    if evaluator.worsened(change, after):
        return "a finding is new or worse"
    return ""


def disproved(evaluator, change):
    """Measure the moves of a change anew: empty where the reference engine and samples agree.

    What was too near before on a move that stays as it was is not asked about.
    """
    cell = changed(evaluator.cell, change)
    trajectory = evaluator.session.plan(cell)
    known = evaluator.before.trajectory.tracks
    new = [t for t in trajectory.tracks if not any(goes_like(t, old) for old in known)]
    told = evaluator.full(change)
    excused = {(f.move, f.piece, f.body) for f in told.findings if f.move is not None}
    if any(cannot_run(cell, track) for track in new):
        return "a move cannot be run"
    asked = queries_of(cell, trajectory, obstacles(cell), engine_pairs(cell, new), new)
    engine = ReferenceEngine(cell)
    found = narrowed(engine, asked, engine.min_distance(asked.queries))
    for one, answer in zip(asked, found, strict=True):
        track, piece, standing, window = one.question
        if (track.number, piece.name, standing.name) in excused:
            continue
        if answer.touches or (not one.at_weld and answer.lower < one.margin):
            return f"reference: {piece.name} to {standing.name} on move {track.number}"
        if standing.is_own or one.at_weld:
            continue
        count = FAR if answer.is_capped else NEAR
        _, seen = dense_distances(cell, track, piece, standing, window, count)
        if seen.min() < one.margin - 1e-9:
            return f"samples: {piece.name} to {standing.name} on move {track.number}"
    return ""
