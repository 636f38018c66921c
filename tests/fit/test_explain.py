"""Readings made with a known mistake: the search must name it, and nothing dearer."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.arm import Arm, Dimensions, ReadingsMap
from pathsim.errors import ArmError
from pathsim.fit import Description, Reading, explain, residuals
from pathsim.fit.slips import likely_slip
from pathsim.fit.trials import worst
from pathsim.transforms import exp_rotation, frozen, inverse, pose, rotation_about, translation

ARM = Arm.from_dimensions(Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10))
TOOL = frozen(pose(rotation_about([0.0, 1.0, 0.0], 0.8), [0.11, 0.0, 0.34]))
TRUE = Description(ARM, TOOL, np.eye(4))
#: A display rounds to 0.01 mm and 0.001 deg.
PLACE, TURN = 1e-5, np.radians(1e-3)


def readings(truth, count=6, seed=1, touching=None):
    """Rows that an arm described by ``truth`` shows, rounded as a display does."""
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(count):
        shown = np.round(rng.uniform(-1.2, 1.2, 6) / TURN) * TURN
        T = truth.poses(shown[None])[0]
        T = pose(T[:3, :3] @ exp_rotation(rng.uniform(-1, 1, 3) * TURN / 2),
                 np.round(T[:3, 3] / PLACE) * PLACE)  # fmt: skip
        rows.append(Reading(f"r{k}", k + 2, shown, T, touching))
    return rows


def with_map(signs=(1,) * 6, zero=(0,) * 6, couplings=()):
    return dataclasses.replace(TRUE, arm=ARM.with_readings(ReadingsMap.of(signs, zero, couplings)))


def test_agreeing_rows_need_no_explanation():
    verdict = explain(TRUE, readings(TRUE))
    assert verdict.agrees and not verdict.explained
    assert max(r.distance for r in verdict.before) < 3e-5


@pytest.mark.parametrize("joint", range(6))
def test_one_sign(joint):
    signs = np.ones(6)
    signs[joint] = -1
    verdict = explain(TRUE, readings(with_map(signs)))
    (found,) = verdict.explained
    assert [(t.kind, t.joint) for t in found.things] == [("sign", joint)]


@pytest.mark.parametrize(("joint", "value"), [(0, 0.3), (1, -np.pi / 2), (2, 0.01), (4, np.pi),
                                              (5, 1.0)])  # fmt: skip
def test_one_zero(joint, value):
    zero = np.zeros(6)
    zero[joint] = value
    verdict = explain(TRUE, readings(with_map(zero=zero)))
    found = [c for c in verdict.explained if c.things[0].kind == "zero"]
    assert len(found) == len(verdict.explained) == 1
    assert found[0].things[0].joint == joint
    gap = found[0].x[0][0] - value
    assert abs(gap - 2 * np.pi * round(gap / (2 * np.pi))) < 1e-4


@pytest.mark.parametrize("factor", [-1.0, 1.0])
def test_coupling_of_joint_three(factor):
    verdict = explain(TRUE, readings(with_map(couplings=[(2, 1, factor)])))
    (found,) = verdict.explained
    assert (found.things[0].kind, found.things[0].factor) == ("coupling", factor)
    assert ("horizon" in found.words[0]) == (factor < 0)


def test_tool_offset_and_base_shift():
    tool = dataclasses.replace(TRUE, T_flange_tcp=TOOL @ translation([0.004, -0.002, 0.012]))
    (found,) = explain(TRUE, readings(tool)).explained
    assert found.things[0].kind == "tool place"
    np.testing.assert_allclose(found.description.T_flange_tcp, tool.T_flange_tcp, atol=2e-5)
    base = dataclasses.replace(TRUE, T_shown_base=translation([0, 0, -0.43]))
    (found,) = explain(TRUE, readings(base)).explained
    assert found.things[0].kind == "base place"
    np.testing.assert_allclose(found.description.T_shown_base, base.T_shown_base, atol=2e-5)


def test_turned_tool_and_turned_base():
    turn = pose(exp_rotation([0.1, -0.2, 0.05]), [0.01, 0.0, -0.02])
    for field, kind in (("T_flange_tcp", "tool"), ("T_shown_base", "base")):
        old = getattr(TRUE, field)
        truth = dataclasses.replace(TRUE, **{field: old @ turn if kind == "tool" else turn @ old})
        (found,) = explain(TRUE, readings(truth)).explained
        assert found.things[0].kind == kind
        np.testing.assert_allclose(getattr(found.description, field), getattr(truth, field),
                                   atol=5e-5)  # fmt: skip


def test_two_things_at_once():
    verdict = explain(TRUE, readings(with_map([1, -1, 1, 1, 1, 1], [0, 0, 0.4, 0, 0, 0])))
    (found,) = verdict.explained
    assert {(t.kind, t.joint) for t in found.things} == {("sign", 1), ("zero", 2)}


def test_base_turned_about_axis_one_is_cheapest_as_a_zero():
    truth = dataclasses.replace(
        TRUE, T_shown_base=pose(rotation_about([0, 0, 1.0], 0.2), [0, 0, 0])
    )
    (found,) = explain(TRUE, readings(truth)).explained
    assert [(t.kind, t.joint) for t in found.things] == [("zero", 0)]


def about_one_point(truth, directions, seed=3):
    """Rows whose tip touches one point, without any displayed pose."""
    rng = np.random.default_rng(seed)
    point, rows = np.array([0.9, 0.1, 0.8]), []
    for k, vector in enumerate(directions):
        R = rotation_about([0.0, 1.0, 0.0], 2.6) @ exp_rotation(vector)
        flange = pose(R, point) @ inverse(truth.T_flange_tcp)
        found = truth.arm.inverse(flange)
        shown = np.round(found[rng.integers(len(found))] / TURN) * TURN
        rows.append(Reading(f"t{k}", k + 2, shown, None, "pin"))
    return rows


def test_tool_from_poses_about_one_touched_tip():
    truth = dataclasses.replace(TRUE, T_flange_tcp=translation([0.0, 0.003, 0.009]) @ TOOL)
    rows = about_one_point(truth, [[0, 0, 0], [0.4, 0, 0], [0, 0.4, 0], [0.3, -0.3, 0.5]])
    verdict = explain(TRUE, rows)
    assert not verdict.agrees and all(r.turn is None for r in verdict.before)
    tools = [c for c in verdict.explained if c.things[0].kind == "tool place"]
    assert len(tools) == 1
    np.testing.assert_allclose(tools[0].description.T_flange_tcp, truth.T_flange_tcp, atol=1e-4)
    # the published way: (R_i - R_0) x = p_0 - p_i
    T = truth.arm.pose(np.array([row.shown for row in rows]))
    A = (T[1:, :3, :3] - T[0, :3, :3]).reshape(-1, 3)
    x = np.linalg.lstsq(A, (T[0, :3, 3] - T[1:, :3, 3]).ravel(), rcond=None)[0]
    np.testing.assert_allclose(tools[0].description.T_flange_tcp[:3, 3], x, atol=1e-4)


def test_turns_about_one_axis_do_not_determine_a_tool():
    """Rank 2: the tool's place along the axis does not show, so no tool place is offered."""
    truth = dataclasses.replace(TRUE, T_flange_tcp=translation([0.003, 0.003, 0.009]) @ TOOL)
    rows = about_one_point(truth, [[0, 0, a] for a in (-0.6, -0.2, 0.3, 0.7)])
    verdict = explain(TRUE, rows)
    assert not any(t.kind.startswith("tool") for c in verdict.explained for t in c.things)


def test_what_nothing_explains_is_not_explained():
    """Another arm altogether."""
    other = dataclasses.replace(
        TRUE, arm=Arm.from_dimensions(Dimensions(0.40, 0.1, 0.50, 0.10, 0.75, 0.12))
    )
    verdict = explain(TRUE, readings(other, count=8))
    assert not verdict.agrees and verdict.explained == () and verdict.nearest is not None


def test_one_row_does_not_prove_a_tool():
    truth = dataclasses.replace(TRUE, T_flange_tcp=TOOL @ translation([0.004, -0.002, 0.012]))
    verdict = explain(TRUE, readings(truth, count=1))
    assert not any(len(c.x[0]) == 6 for c in verdict.explained)


def test_rows_that_say_nothing():
    row = Reading("a", 2, np.zeros(6), None, "pin")
    with pytest.raises(ArmError, match="no row has a pose"):
        explain(TRUE, [row])


def named(candidate):
    return {(t.kind, t.joint, t.factor) for t in candidate.things}


@pytest.mark.parametrize("seed", range(4))
def test_sign_zero_and_coupling_over_two_joints(seed):
    """Five things at once: all found, nothing else, and the map is the true one."""
    truth = with_map([1, -1, -1, 1, 1, 1], [0, np.pi / 2, -0.35, 0, 0, 0], [(2, 1, -1.0)])
    (found,) = explain(TRUE, readings(truth, seed=seed)).explained
    assert named(found) == {
        ("sign", 1, 0.0), ("sign", 2, 0.0), ("coupling", 2, -1.0), ("zero", 1, 0.0),
        ("zero", 2, 0.0),
    }  # fmt: skip
    np.testing.assert_allclose(found.description.arm.readings.mix, truth.arm.readings.mix)
    np.testing.assert_allclose(found.description.arm.readings.zero, truth.arm.readings.zero,
                               atol=2e-4)  # fmt: skip


@settings(max_examples=5, deadline=None)
@given(
    st.lists(st.sampled_from([1.0, -1.0]), min_size=6, max_size=6),
    st.lists(st.sampled_from([0.0, 0.4, -1.1, np.pi / 2, np.pi]), min_size=6, max_size=6),
    st.sampled_from([0.0, -1.0, 1.0]),
    st.integers(0, 1000),
)
def test_any_way_to_count_is_found(signs, zero, coupling, seed):
    """Whatever joints count otherwise: the explanation predicts rows that it never saw."""
    truth = with_map(signs, zero, [(2, 1, coupling)] if coupling else [])
    verdict = explain(TRUE, readings(truth, seed=seed))
    if verdict.agrees:
        assert signs == [1.0] * 6 and not any(zero) and not coupling
        return
    assert verdict.explained
    fresh = readings(truth, count=3, seed=seed + 7919)
    for found in verdict.explained:
        assert worst(residuals(found.description, fresh))[0] < 1e-3
        assert found.price <= sum(s < 0 for s in signs) + sum(map(bool, zero)) + bool(coupling)


@pytest.mark.parametrize("row", range(6))
def test_a_mistyped_row_is_blamed_and_nothing_else(row):
    rows = readings(TRUE)
    shown = np.array(rows[row].shown)
    shown[2] += np.radians(9.0)  # 34.5 typed as 43.5
    rows[row] = dataclasses.replace(rows[row], shown=shown)
    (found,) = explain(TRUE, rows).explained
    assert found.things == () and [s.row for s in found.slips] == [f"r{row}"]
    slip = likely_slip(found.description, rows[row])
    assert slip.name == "joint 3" and slip.is_turn
    assert slip.would_be == pytest.approx(shown[2] - np.radians(9.0), abs=1e-4)


def test_a_mistyped_place_is_told_by_its_letter():
    rows = readings(TRUE)
    T = np.array(rows[3].T_shown_tcp)
    T[1, 3] += 0.1
    rows[3] = dataclasses.replace(rows[3], T_shown_tcp=T)
    (found,) = explain(TRUE, rows).explained
    assert [s.row for s in found.slips] == ["r3"]
    slip = likely_slip(found.description, rows[3])
    assert slip.name == "y" and slip.came - slip.would_be == pytest.approx(0.1, abs=2e-5)


def test_a_mistyped_row_beside_a_wrong_map_or_tool():
    truth = with_map([1, 1, 1, 1, -1, 1], [0, 0, 0.4, 0, 0, 0])
    tool = dataclasses.replace(TRUE, T_flange_tcp=TOOL @ translation([0.004, -0.002, 0.012]))
    for true, expected in ((truth, {("sign", 4, 0.0), ("zero", 2, 0.0)}),
                           (tool, {("tool place", 0, 0.0)})):  # fmt: skip
        rows = readings(true)
        shown = np.array(rows[1].shown)
        shown[0] *= -1
        rows[1] = dataclasses.replace(rows[1], shown=shown)
        (found,) = explain(TRUE, rows).explained
        assert named(found) == expected and [s.row for s in found.slips] == ["r1"]


def test_a_row_hardly_farther_off_than_the_others_is_no_slip():
    """Rows read with a shaky hand, one a little worse: no row alone is to blame."""
    rows = readings(TRUE)
    for k, off in enumerate([0.8e-3, -0.8e-3, 0.7e-3, 1.6e-3, -0.8e-3, 0.75e-3]):
        T = np.array(rows[k].T_shown_tcp)
        T[k % 3, 3] += off
        rows[k] = dataclasses.replace(rows[k], T_shown_tcp=T)
    verdict = explain(TRUE, rows)
    assert not verdict.agrees
    assert all(not found.slips for found in verdict.explained)


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [(1.8 * np.pi, 0.0, 2 * np.pi + 1.5), (-1.7 * np.pi, -2 * np.pi - 1.5, 0.0)],
)
def test_a_zero_keeps_the_rows_inside_the_limits(value, low, high):
    """Joint 6 turns one way only: of all whole turns the zero has the one that limits allow."""
    limits = np.tile([-np.pi, np.pi], (6, 1))
    limits[5] = low, high
    arm = Arm.from_dimensions(Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10), limits=limits)
    described = dataclasses.replace(TRUE, arm=arm)
    zero = np.zeros(6)
    zero[5] = value
    truth = dataclasses.replace(described, arm=arm.with_readings(ReadingsMap.of(np.ones(6), zero)))
    (found,) = explain(described, readings(truth)).explained
    assert found.things[0].kind == "zero" and found.x[0][0] == pytest.approx(value, abs=1e-4)


def test_a_cheaper_way_past_the_limits_is_not_taken_for_one_within():
    """Joint 6 half a turn on shows the same poses as joint 4 so with joint 5 reversed."""
    limits = np.radians([[-170, 170], [-80, 110], [-90, 90], [-360, 360], [-125, 125], [-100, 100]])
    arm = Arm.from_dimensions(Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10), limits=limits)
    described = dataclasses.replace(TRUE, arm=arm)
    turned = ReadingsMap.of([1, 1, 1, 1, -1, 1], [0, 0, 0, np.pi, 0, 0])
    truth = dataclasses.replace(described, arm=arm.with_readings(turned))
    (found,) = explain(described, readings(truth)).explained
    assert named(found) == {("sign", 4, 0.0), ("zero", 3, 0.0)}
    # where limits do not tell, the cheaper one is the answer
    (found,) = explain(TRUE, readings(truth)).explained
    assert named(found) == {("zero", 5, 0.0)}
