"""A wrong length of the drawing together with a display that counts otherwise, and two lengths."""

import dataclasses

import numpy as np
import pytest

from pathsim.arm import Arm, Dimensions, ReadingsMap
from pathsim.files.arm_lengths import described_lengths
from pathsim.files.cell_folder import load_cell
from pathsim.files.new_cell import NewCell, write_new_cell
from pathsim.fit import Description, Reading, explain
from pathsim.fit.by_turns import ways_by_turns
from pathsim.fit.lengths_together import lengths_together
from pathsim.transforms import exp_rotation, pose

#: What a display rounds to.
PLACE, TURN = 1e-5, np.radians(0.01)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """A cell with an arm by its drawing, its description, and the lengths of that."""
    folder = tmp_path_factory.mktemp("cells") / "mine"
    write_new_cell(folder, NewCell(arm="drawing", stands="floor", torch="45 deg", wire="15 mm"))
    cell = load_cell(folder)
    return cell, Description(cell.arm, cell.torch.T_flange_tcp, np.eye(4)), described_lengths(
        folder, cell.arm
    )  # fmt: skip


def real_arm(lengths, change, signs=(1,) * 6, zero=(0,) * 6, couplings=()):
    """The arm that stands there: built from its own drawing, not from the description's slopes."""
    values = {one.name.replace(" ", "_"): one.value for one in lengths}
    for name, more in change.items():
        values[name] += more
    return Arm.from_dimensions(
        Dimensions(**values), readings=ReadingsMap.of(signs, zero, couplings)
    )


def rows_of(arm, tool, count=7, seed=3, joints=None):
    """Rows off its display, rounded as a display does, in postures within the joints' reach."""
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(count):
        q = rng.uniform([-1.5, -0.6, -0.8, -2, -1.5, -2], [1.5, 1.2, 1, 2, 1.5, 2])
        for joint, value in (joints or {}).items():
            q[joint] = value
        shown = np.round(arm.readings.shown(q) / TURN) * TURN
        T = arm.pose(arm.readings.model(shown[None]))[0] @ tool
        near = T[:3, :3] @ exp_rotation(rng.uniform(-0.5, 0.5, 3) * TURN)
        T = pose(near, np.round(T[:3, 3] / PLACE) * PLACE)
        rows.append(Reading(f"r{k}", k + 2, shown, T))
    return rows


FIVE = {"signs": (1, 1, 1, 1, -1, 1)}
ALL = {"signs": (1, 1, 1, 1, -1, 1), "zero": (0, -np.pi / 2, np.pi / 2, 0, 0, 0),
       "couplings": [(2, 1, -1.0)]}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "display", "counting"),
    [
        ({"upper_arm": 0.03}, FIVE, ["joint 5 counts"]),
        ({"forearm": -0.025}, {"signs": (-1, 1, 1, 1, 1, 1)}, ["joint 1 counts"]),
        ({"elbow_offset": 0.012}, {"zero": (0, 0.35, 0, 0, 0, 0)}, ["zero of joint 2 is off: 20."]),
        ({"shoulder_offset": 0.02}, {"couplings": [(2, 1, -1.0)]}, ["taken off joint 3"]),
        ({"upper_arm": 0.03}, ALL,
         ["taken off joint 3", "joint 5 counts", "joint 2 is off: -90.", "joint 3 is off: 90."]),
    ],
)  # fmt: skip
def test_a_wrong_length_and_a_display_that_counts_otherwise_are_both_named(
    drawn, change, display, counting
):
    _cell, described, lengths = drawn
    rows = rows_of(real_arm(lengths, change, **display), described.T_flange_tcp)
    # Neither is found alone: the cause that this search is there for.
    assert not any(one.is_of_display for one in explain(described, rows).explained)
    (found,) = lengths_together(described, rows, lengths)
    ((name, more),) = change.items()
    (wrong,) = found.lengths
    assert wrong.name == name.replace("_", " ")
    assert wrong.would_be - wrong.came == pytest.approx(more, abs=1e-4)
    assert len(found.counting) == len(counting) and found.price == 1 + len(counting)
    for words in counting:
        assert any(words in said for said in found.counting)
    assert max(r.distance for r in found.left) < 1e-3


def test_two_wrong_lengths_are_both_named(drawn):
    _cell, described, lengths = drawn
    arm = real_arm(lengths, {"upper_arm": 0.03, "forearm": -0.02}, **FIVE)
    (found,) = lengths_together(described, rows_of(arm, described.T_flange_tcp), lengths)
    assert {w.name: round(1e3 * (w.would_be - w.came)) for w in found.lengths} == {
        "upper arm": 30, "forearm": -20,
    }  # fmt: skip
    assert len(found.counting) == 1


def test_rows_that_do_not_decide_leave_both_lengths_standing(drawn):
    """In all rows the upper arm is upright: it and the shoulder's height look the same."""
    _cell, described, lengths = drawn
    arm = real_arm(lengths, {"upper_arm": 0.03}, **FIVE)
    rows = rows_of(arm, described.T_flange_tcp, joints={1: 0.0})
    found = lengths_together(described, rows, lengths)
    assert {one.lengths[0].name for one in found} == {"upper arm", "shoulder height"}


def test_no_length_is_named_where_none_is_wrong_or_the_rows_are_few(drawn):
    _cell, described, lengths = drawn
    tool = described.T_flange_tcp
    wrong = rows_of(real_arm(lengths, {"upper_arm": 0.03}, **FIVE), tool)
    assert lengths_together(described, wrong[:3], lengths) == ()
    assert lengths_together(described, wrong, ()) == ()
    # A display alone, a tool that is turned besides, three lengths, and mere chance.
    assert not [
        one for one in lengths_together(described, rows_of(real_arm(lengths, {}, **FIVE), tool),
                                        lengths) if one.price < 3
    ]  # fmt: skip
    bent = tool @ pose(exp_rotation(np.array([0.0, 0.05, 0.0])), np.zeros(3))
    rows = rows_of(real_arm(lengths, {"forearm": 0.01}, **FIVE), bent)
    assert lengths_together(described, rows, lengths) == ()
    three = {"upper_arm": 0.03, "forearm": -0.02, "elbow_offset": 0.015}
    assert (
        lengths_together(described, rows_of(real_arm(lengths, three, **FIVE), tool), lengths) == ()
    )
    rng = np.random.default_rng(1)
    noisy = [dataclasses.replace(r, T_shown_tcp=pose(r.T_shown_tcp[:3, :3],
             r.T_shown_tcp[:3, 3] + rng.normal(0, 0.01, 3))) for r in wrong]  # fmt: skip
    assert lengths_together(described, noisy, lengths) == ()


@pytest.mark.parametrize("seed", range(4))
def test_turns_alone_tell_how_any_display_counts(drawn, seed):
    """The true map is among the ways, whatever the lengths; parallel joints share a zero."""
    _cell, described, lengths = drawn
    rng = np.random.default_rng(seed)
    signs = rng.choice([-1, 1], 6)
    zero = rng.choice([0, np.pi / 2, -np.pi / 2], 6) + rng.uniform(-0.2, 0.2, 6)
    change = {one.name.replace(" ", "_"): rng.uniform(0, 0.1) for one in lengths}
    arm = real_arm(lengths, change, signs, zero)
    rows = rows_of(arm, described.T_flange_tcp, seed=seed)
    same = [
        way for way in ways_by_turns(described, rows)
        if np.array_equal(way.mix, arm.readings.mix)
        and np.allclose(np.sin((way.zero - zero)[[0, 3, 4, 5]]), 0, atol=0.01)
        and np.allclose(np.cos((way.zero - zero)[[0, 3, 4, 5]]), 1, atol=0.01)
        and np.isclose(np.cos((way.zero - zero)[1:3].sum()), 1, atol=0.01)
    ]  # fmt: skip
    assert same
