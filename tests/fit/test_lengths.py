"""A mistyped length: found whichever it is, by its name, and not where something else is wrong."""

import dataclasses

import numpy as np
import pytest

from pathsim.arm import Dimensions
from pathsim.arm.dimensions import chain_from_dimensions
from pathsim.files.arm_lengths import _on_rail, described_lengths
from pathsim.files.cell_folder import load_cell
from pathsim.files.new_cell import NewCell, write_new_cell
from pathsim.fit import Description, Reading
from pathsim.fit.lengths import length_slips

NAMES = ["shoulder height", "shoulder offset", "upper arm", "elbow offset", "forearm", "flange",
         "shoulder side", "wrist offset"]  # fmt: skip


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """A cell with an arm by its drawing, and the lengths of its description."""
    folder = tmp_path_factory.mktemp("cells") / "mine"
    write_new_cell(folder, NewCell(arm="drawing", stands="floor", torch="45 deg", wire="15 mm"))
    cell = load_cell(folder)
    return cell, described_lengths(folder, cell.arm)


def rows_of(description, count=8, seed=3):
    """Rows that a display would show by a description."""
    rng = np.random.default_rng(seed)
    shown = rng.uniform(-1, 1, (count, 6))
    poses = description.poses(shown)
    return [Reading(f"r{k}", k + 2, shown[k], poses[k]) for k in range(count)]


def as_described(cell):
    return Description(cell.arm, cell.torch.T_flange_tcp, np.eye(4))


@pytest.mark.parametrize("which", range(6))
def test_each_length_of_a_drawing_is_named_with_its_true_value(drawn, which):
    cell, lengths = drawn
    assert [length.name for length in lengths] == NAMES
    true = lengths[which]
    arm = cell.arm
    other = dataclasses.replace(
        arm, fixed=arm.fixed + 0.01 * true.fixed, ends=arm.ends + 0.01 * true.ends
    )
    rows = rows_of(Description(other, cell.torch.T_flange_tcp, np.eye(4)))
    found = length_slips(as_described(cell), rows, lengths)
    named = {slip.name: slip for slip in found}
    assert true.name in named
    assert named[true.name].would_be == pytest.approx(true.value + 0.01, abs=1e-9)
    assert max(r.distance for r in named[true.name].left) < 1e-9
    # Nothing else fits these rows.
    assert len(found) == 1


def test_the_chain_changes_with_a_length_as_a_drawing_with_it_would(drawn):
    cell, lengths = drawn
    values = {length.name.replace(" ", "_"): length.value for length in lengths}
    for length in lengths:
        more = values | {length.name.replace(" ", "_"): length.value + 0.02}
        fixed, ends = chain_from_dimensions(Dimensions(**more))
        np.testing.assert_allclose(cell.arm.fixed + 0.02 * length.fixed, fixed, atol=1e-12)
        np.testing.assert_allclose(cell.arm.ends + 0.02 * length.ends, ends, atol=1e-12)


def test_on_a_rail_the_same_lengths_change_what_the_rail_carries(drawn):
    cell, lengths = drawn
    T = np.array([[0, 0, 1, 0.1], [1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 1.0]])
    rail = cell.arm.on_rail(T, (0.0, 2.0), 1.0, 1.0)
    values = {length.name.replace(" ", "_"): length.value for length in lengths}
    q = np.array([0.7, 0.1, 0.2, -0.3, 0.4, 0.5, 0.6])
    for length in lengths:
        more = values | {length.name.replace(" ", "_"): length.value + 0.02}
        fixed, ends = chain_from_dimensions(Dimensions(**more))
        longer = dataclasses.replace(cell.arm, fixed=fixed, ends=ends)
        d_fixed, d_ends = _on_rail(rail, length.fixed, length.ends)
        there = dataclasses.replace(
            rail, fixed=rail.fixed + 0.02 * d_fixed, ends=rail.ends + 0.02 * d_ends
        )
        np.testing.assert_allclose(
            there.pose(q), longer.on_rail(T, (0.0, 2.0), 1.0, 1.0).pose(q), atol=1e-12
        )


def test_no_length_is_named_for_turns_that_do_not_fit_or_noise(drawn):
    cell, lengths = drawn
    before = as_described(cell)
    turned = np.eye(4)
    turned[:3, :3] = [[0, -1, 0], [1, 0, 0], [0, 0, 1]]
    rows = rows_of(Description(cell.arm, cell.torch.T_flange_tcp @ turned, np.eye(4)))
    assert length_slips(before, rows, lengths) == ()
    rng = np.random.default_rng(5)
    noisy = rows_of(before)
    for row in noisy:
        row.T_shown_tcp[:3, 3] += rng.normal(0, 0.005, 3)
    assert length_slips(before, noisy, lengths) == ()
    assert length_slips(before, rows_of(before), lengths) == ()


def test_shoulder_and_flange_look_as_a_shifted_frame_and_tool_do(drawn):
    cell, lengths = drawn
    shifts = set()
    for length in lengths:
        arm = cell.arm
        other = dataclasses.replace(
            arm, fixed=arm.fixed + 0.01 * length.fixed, ends=arm.ends + 0.01 * length.ends
        )
        rows = rows_of(Description(other, cell.torch.T_flange_tcp, np.eye(4)))
        shifts |= {one.name for one in length_slips(as_described(cell), rows, lengths)
                   if one.is_a_shift}  # fmt: skip
    assert shifts == {"shoulder height", "flange"}


def test_a_length_is_not_blamed_while_the_turns_do_not_fit(drawn):
    """The forearm is 10 mm off and the tool is turned: the length alone explains no row."""
    cell, lengths = drawn
    [forearm] = [length for length in lengths if length.name == "forearm"]
    arm = cell.arm
    other = dataclasses.replace(
        arm, fixed=arm.fixed + 0.01 * forearm.fixed, ends=arm.ends + 0.01 * forearm.ends
    )
    turned = np.array(cell.torch.T_flange_tcp)
    turned[:3, :3] = turned[:3, :3] @ [[0, -1, 0], [1, 0, 0], [0, 0, 1]]
    rows = rows_of(Description(other, turned, np.eye(4)))
    assert length_slips(as_described(cell), rows, lengths) == ()


def test_a_length_before_the_first_axis_is_changed_behind_the_rails_own_frame(drawn):
    """As in rows of the modified convention, whose first length comes before axis 1."""
    cell, _ = drawn
    T = np.array([[0, 0, 1, 0.1], [1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 1.0]])
    rail = cell.arm.on_rail(T, (0.0, 2.0), 1.0, 1.0)
    d_fixed = np.zeros((6, 4, 4))
    d_fixed[0, :3, 3] = [0.01, 0.02, 0.03]
    longer = dataclasses.replace(cell.arm, fixed=cell.arm.fixed + d_fixed)
    moved, ends = _on_rail(rail, d_fixed, np.zeros((6, 4, 4)))
    there = dataclasses.replace(rail, fixed=rail.fixed + moved, ends=rail.ends + ends)
    q = np.array([0.7, 0.1, 0.2, -0.3, 0.4, 0.5, 0.6])
    np.testing.assert_allclose(
        there.pose(q), longer.on_rail(T, (0.0, 2.0), 1.0, 1.0).pose(q), atol=1e-12
    )
