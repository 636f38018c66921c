"""Clearance over time agrees with the check and with dense sampling."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.stretches import stretches
from pathsim.files import load_cell
from pathsim.model import Margins, TorchPiece
from pathsim.transforms import translation
from tests.builders import ball, body, box, cell, joint, shop_arm
from tests.clearance.oracle import dense_distances


@pytest.fixture(scope="module", params=["wrist_in_line", "gate_hinge_no_retract"])
def measured(request):
    cell = load_cell(f"sample_cells/{request.param}")
    result = check(cell)
    return cell, result, clearance_profile(cell, result.trajectory, moves=result.moves)


def test_arrays_fit_together(measured):
    _, result, profile = measured
    n = len(profile.t)
    assert (np.diff(profile.t) >= 0).all()
    assert profile.guaranteed.shape == profile.margin.shape == (n - 1,)
    assert profile.seen.shape == profile.move.shape == (n,)
    between = np.flatnonzero(np.diff(profile.move))
    assert np.isnan(profile.guaranteed[between]).all()
    assert np.isfinite(np.delete(profile.guaranteed, between)).all()
    assert len(between) == len(result.trajectory.tracks) - 1
    near = np.isfinite(profile.seen)
    gap = np.linalg.norm(profile.on_standing - profile.on_moving, axis=1)
    apart = near & (profile.seen > 0)
    np.testing.assert_allclose(gap[apart], profile.seen[apart], atol=1e-9)


def test_no_moment_is_below_its_move_or_above_what_is_seen(measured):
    cell, result, profile = measured
    for move in result.moves:
        inside = (profile.move[:-1] == move.track.number) & np.isfinite(profile.guaranteed)
        assert profile.guaranteed[inside].min() >= move.worst.clearance.lower - 1e-12
    # At a border of stretches the wire counts again: it is seen there, but no pair of the
    # stretch on the other side.
    borders = [
        part.start
        for track in result.trajectory.tracks
        for part in stretches(cell, result.trajectory, track)[1:]
    ]
    for k in np.flatnonzero(np.isfinite(profile.guaranteed)):
        if profile.t[k] in borders or profile.t[k + 1] in borders:
            continue
        least = min(profile.seen[k], profile.seen[k + 1], profile.cap)
        assert profile.guaranteed[k] <= least + 1e-12


def test_guaranteed_holds_between_looks(measured):
    cell, result, profile = measured
    track = result.trajectory.tracks[-1]
    last = stretches(cell, result.trajectory, track)[-1]
    least = np.full(600, np.inf)
    for piece in cell.pieces:
        if not piece.is_torch:
            continue
        for standing in obstacles(cell):
            times, values = dense_distances(
                cell, track, piece, standing, (last.start, last.end), 600
            )
            least = np.minimum(least, values)
    inside = np.flatnonzero((profile.move[:-1] == track.number) & (profile.t[:-1] >= last.start))
    starts, ends = profile.t[inside], profile.t[inside + 1]
    for time, value in zip(times, least, strict=True):
        k = inside[(starts <= time) & (time <= ends)]
        assert (profile.guaranteed[k] <= value + 1e-9).all()


def test_what_lies_inside_is_zero_all_along():
    """The chart must not show a gap where the finding says inside."""
    home = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
    turned = [home + [a, 0, 0, 0, 0, 0] for a in (0.6, 0.75)]
    arm = shop_arm()
    place = (arm.pose((turned[0] + turned[1]) / 2) @ [0, 0, 0.1, 1])[:3]
    c = cell({"home": turned[0], "end": turned[1]}, [joint("end")],
             pieces=(TorchPiece("nozzle", ball(0.01, (0, 0, 0.1), 2)),),
             bodies=[body(box((0.8, 0.8, 0.8), place), "block")])  # fmt: skip
    result = check(c)
    profile = clearance_profile(c, result.trajectory, moves=result.moves)
    assert any(pair.clearance.is_inside for pair in result.moves[0].pairs)
    assert (profile.guaranteed == 0).all() and (profile.seen == 0).all()


def test_a_farther_body_that_is_less_well_placed_is_not_hidden_by_the_nearest():
    """The nearest keeps its margin, one behind it does not: that moment has to look like it."""
    near, far = body(box((0.02,) * 3, (0, 0, 0)), "near"), body(box((0.02,) * 3, (0, 0, 0)), "far")
    home = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])
    points = {"home": home, "end": home + [0.2, 0.05, -0.05, 0.1, 0.1, 0.0]}
    plain = cell(points, [joint("end")], bodies=[])
    tips = plain.tips(np.array([home, points["end"].copy()]))
    way = (tips[0] - tips[1]) / np.linalg.norm(tips[0] - tips[1])
    side = np.cross(way, [0.0, 0.0, 1.0])
    bodies = tuple(
        replace(one, T_world_body=translation(tips[0] + off * way), known_to=known)
        for one, off, known in ((near, 0.05, 0.0), (far, 0.06, 0.03))
    )
    assert np.linalg.norm(side) > 0
    c = replace(plain, bodies=bodies, margins=Margins(0.02, 0.02, 0.02))
    result = check(c)
    lows = {pair.body: (pair.clearance.lower, pair.margin)
            for pair in result.moves[0].pairs if pair.piece == "wire"}  # fmt: skip
    assert lows["near"][0] >= lows["near"][1], lows
    assert lows["near"][0] < lows["far"][0] < lows["far"][1], lows
    profile = clearance_profile(c, result.trajectory, moves=result.moves)
    spans = [span for pair in result.moves[0].pairs if pair.body == "far" for span in pair.spans
             if pair.clearance.lower < pair.margin]  # fmt: skip
    short = profile.guaranteed < profile.margin
    for span in spans:
        inside = (span.start <= profile.t[1:]) & (profile.t[:-1] <= span.end)
        assert inside.any() and short[inside].all()
    assert short.any() and not short.all()
