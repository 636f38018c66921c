"""Placing by touch against scipy, closed forms, and a thousand random placements."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import chi2

from pathsim.errors import CannotCheck
from pathsim.touches import Feature, Touch, fit_placement, odd_one_out, touch_noise
from pathsim.touches.placement import IN_95, IN_ALL, _largest
from pathsim.transforms import pose

CORNERS = np.array([[0, 0, 0], [0.6, 0, 0], [0.6, 0.4, 0], [0, 0.4, 0.1], [0.3, 0.2, 0.15]])
NOISE = 0.3e-3


def placed(rng):
    turn = Rotation.from_rotvec(rng.uniform(-1, 1, 3))
    return pose(turn.as_matrix(), rng.uniform(-1, 1, 3))


def at(T, points):
    return points @ T[:3, :3].T + T[:3, 3]


def on_places(T, rng, noise, drawn=CORNERS):
    tips = at(T, drawn) + rng.normal(0, noise, drawn.shape)
    return [Touch(f"t{k}", tip, p) for k, (tip, p) in enumerate(zip(tips, drawn, strict=True))]


def faces(T, rng, noise):
    """Three on the face below, two on a side, one at an end."""
    rows = [([0.1, 0.1, 0], 2), ([0.5, 0.1, 0], 2), ([0.3, 0.35, 0], 2), ([0.1, 0, 0.1], 1),
            ([0.5, 0, 0.05], 1), ([0, 0.2, 0.1], 0)]  # fmt: skip
    touches = []
    for k, (drawn, axis) in enumerate(rows):
        normal = np.eye(3)[axis]
        slid = np.array(drawn) + (1 - normal) * rng.uniform(-0.02, 0.02, 3)
        tip = at(T, slid) + rng.normal(0, noise, 3)
        touches.append(Touch(f"f{k}", tip, np.array(drawn), Feature.FACE, 2 * normal))
    return touches


def start(T, rng):
    return T @ pose(Rotation.from_rotvec(rng.uniform(-0.1, 0.1, 3)).as_matrix(),
                    rng.uniform(-0.05, 0.05, 3))  # fmt: skip


def test_constants_are_those_of_three_normals():
    assert chi2.cdf(IN_95**2, 3) == pytest.approx(0.95, abs=1e-9)
    assert chi2.sf(IN_ALL**2, 3) == pytest.approx(1e-6, rel=1e-6)
    for spare in (1, 2, 3, 9, 40):
        assert _largest(spare) == pytest.approx(chi2.ppf(0.999, spare), rel=0.03)


def test_best_fit_of_places_is_that_of_scipy():
    rng = np.random.default_rng(3)
    for _ in range(100):
        T = placed(rng)
        touches = on_places(T, rng, 2e-3)
        found = fit_placement(touches, np.eye(4), 2e-3)
        tips = np.array([touch.tip for touch in touches])
        there, here = tips.mean(axis=0), CORNERS.mean(axis=0)
        turn, _ = Rotation.align_vectors(tips - there, CORNERS - here)
        assert found.T_world_drawing[:3, :3] == pytest.approx(turn.as_matrix(), abs=1e-9)
        assert at(found.T_world_drawing, here) == pytest.approx(there, abs=1e-10)
        left = np.linalg.norm(tips - at(found.T_world_drawing, CORNERS), axis=1)
        assert found.residuals == pytest.approx(left, abs=1e-10)


@pytest.mark.parametrize("make", [on_places, faces])
def test_without_noise_the_placement_is_exact(make):
    rng = np.random.default_rng(5)
    for _ in range(30):
        T = placed(rng)
        found = fit_placement(make(T, rng, 0.0), start(T, rng), NOISE)
        assert found.T_world_drawing == pytest.approx(T, abs=1e-9)
        assert found.fits


def test_edges_fix_two_directions_each():
    rng = np.random.default_rng(6)
    T = placed(rng)
    rows = [([0.1, 0, 0], 0), ([0.5, 0, 0], 0), ([0, 0.3, 0], 1), ([0, 0, 0.2], 2)]
    touches = []
    for drawn, axis in rows:
        along = np.eye(3)[axis]
        tip = at(T, np.array(drawn) + 0.013 * along)
        touches.append(Touch("e", tip, np.array(drawn), Feature.EDGE, along))
    found = fit_placement(touches, start(T, rng), NOISE)
    assert found.T_world_drawing == pytest.approx(T, abs=1e-9)


@pytest.mark.parametrize("make", [on_places, faces])
def test_of_a_thousand_placements_the_uncertainty_covers_95_in_100_and_the_margin_all(make):
    rng = np.random.default_rng(2026)
    box = np.array([[x, y, z] for x in (-0.1, 0.8) for y in (-0.1, 0.5) for z in (0, 0.3)])
    spot = np.array([0.35, 0.3, 0.2])
    said = all_in = 0
    for _ in range(1000):
        T = placed(rng)
        found = fit_placement(make(T, rng, NOISE), T, NOISE)
        true_spot = at(T, spot)
        error = np.linalg.norm(at(found.T_world_drawing, spot) - true_spot)
        said += error <= found.off_at(at(found.T_world_drawing, spot))
        errors = np.linalg.norm(at(found.T_world_drawing, box) - at(T, box), axis=1)
        all_in += errors.max() <= found.widening(at(found.T_world_drawing, box))
    assert said >= 950
    assert all_in == 1000


def test_what_is_stated_is_no_mere_fright():
    """The median error is a fair part of what is stated, so that margins are not wasted."""
    rng = np.random.default_rng(8)
    shares = []
    for _ in range(300):
        T = placed(rng)
        found = fit_placement(on_places(T, rng, NOISE), T, NOISE)
        spot = at(T, CORNERS.mean(axis=0))
        error = np.linalg.norm(at(found.T_world_drawing, CORNERS.mean(axis=0)) - spot)
        shares.append(error / found.off_at(spot))
    assert 0.4 < np.median(shares) < 0.7


def test_a_wrong_corner_is_seen_and_named_by_its_residual():
    rng = np.random.default_rng(9)
    T = placed(rng)
    touches = on_places(T, rng, NOISE)
    touches[2] = Touch("t2", touches[2].tip + T[:3, :3] @ [0, 0, 0.02], touches[2].drawn)
    found = fit_placement(touches, T, NOISE)
    assert not found.fits
    assert found.worst == 2
    assert found.sigma > 10 * NOISE


def test_noise_as_said_nearly_always_fits():
    rng = np.random.default_rng(10)
    fits = [fit_placement(on_places(T, rng, NOISE), T, NOISE).fits
            for T in (placed(rng) for _ in range(500))]  # fmt: skip
    assert sum(fits) >= 496


@pytest.mark.parametrize(
    ("drawn", "says"),
    [
        ([[0, 0, 0], [0.5, 0, 0]], "the turn about the world's x"),
        ([[0, 0, 0], [0.5, 0, 0], [0.2, 0, 0]], "the turn about the world's x"),
        ([[0, 0, 0]], "the turn about"),
    ],
)
def test_what_touches_leave_open_is_said(drawn, says):
    touches = [Touch("t", np.array(p, float), np.array(p, float)) for p in drawn]
    with pytest.raises(CannotCheck, match=says):
        fit_placement(touches, np.eye(4), NOISE)


def test_what_touches_hardly_fix_is_said():
    drawn = np.array([[0, 0, 0], [0.5, 0, 0], [0.25, 0.01, 0.0]])
    touches = [Touch("t", p, p) for p in drawn]
    found = fit_placement(touches, np.eye(4), NOISE)
    assert found.hardly_fixed == ("the turn about the world's x",)
    far, near = found.off_at([0.25, 0.3, 0]), found.off_at([0.25, 0, 0])
    assert far > 10 * near


def test_noise_of_a_touch_is_told_from_how_far_it_may_be_off():
    assert touch_noise(1e-3) * IN_95 == pytest.approx(1e-3)


def test_a_touch_is_unproved_just_where_an_error_of_it_leaves_no_residual():
    """Each touch is put wrong by 1 mm in 200 directions: the worst of them tells."""
    rng = np.random.default_rng(7)
    shapes = {
        "three": [[0, 0, 0], [300, 0, 0], [0, 200, 0]],
        "four in a plane": [[0, 0, 0], [300, 0, 0], [300, 200, 0], [0, 200, 0]],
        "three and one near a line": [[0, 0, 0], [300, 0, 0], [150, 0, 0], [0, 200, 0]],
        "five": [[0, 0, 0], [300, 0, 0], [300, 200, 0], [0, 200, 0], [100, 100, 90]],
    }
    blind = {}
    for name, corners in shapes.items():
        drawn = np.array(corners) * 1e-3
        found = fit_placement([Touch(str(k), p, p) for k, p in enumerate(drawn)], np.eye(4), 1e-4)
        least = []
        for k in range(len(drawn)):
            errors = rng.normal(size=(200, 3))
            errors *= 1e-3 / np.linalg.norm(errors, axis=1)[:, None]
            errors = np.vstack([errors, 1e-3 * np.eye(3)])
            left = []
            for error in errors:
                wrong = [Touch(str(j), p + error * (j == k), p) for j, p in enumerate(drawn)]
                fit = fit_placement(wrong, np.eye(4), 1e-4)
                left.append(float(np.linalg.norm(fit.residuals)))
            least.append(min(left))
        blind[name] = tuple(k for k, one in enumerate(least) if one < 0.03e-3)
        assert found.unproved == blind[name], (name, least)
    assert blind["three"] == (0, 1, 2)
    assert blind["four in a plane"] == blind["five"] == ()
    assert blind["three and one near a line"] == (3,)


@pytest.mark.parametrize("wrong", range(5))
def test_one_touch_that_is_off_is_told_by_the_others_that_fit_without_it(wrong):
    rng = np.random.default_rng(11 + wrong)
    T = placed(rng)
    touches = on_places(T, rng, 0.1e-3)
    touches[wrong] = Touch("bad", touches[wrong].tip + [9e-3, -3e-3, 2e-3], touches[wrong].drawn)
    assert not fit_placement(touches, T, NOISE).fits
    odd = odd_one_out(touches, T, NOISE)
    assert odd is not None and odd[0] == wrong
    np.testing.assert_allclose(odd[1].T_world_drawing, T, atol=2e-3)
    assert fit_placement(touches, T, NOISE).residuals.max() < 9.7e-3  # smeared over all of them


def test_no_touch_is_blamed_where_two_are_off_or_the_rest_proves_nothing():
    rng = np.random.default_rng(5)
    T = placed(rng)
    touches = on_places(T, rng, 0.1e-3)
    for k in (0, 3):
        touches[k] = Touch("bad", touches[k].tip + rng.normal(0, 5e-3, 3), touches[k].drawn)
    assert odd_one_out(touches, T, NOISE) is None
    four = on_places(T, rng, 0.1e-3)[:4]
    four[1] = Touch("bad", four[1].tip + [5e-3, 0, 0], four[1].drawn)
    assert odd_one_out(four, T, NOISE) is None  # three that are left fit whatever they are
