"""Clearance over time agrees with the check and with dense sampling."""

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.contact_rules import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.stretches import stretches
from pathsim.files import load_cell
from pathsim.model import TorchPiece
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
