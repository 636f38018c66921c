"""Cells as a script changes them, and results as it keeps them."""

import copy
import pickle
from dataclasses import replace
from pathlib import Path

import fcl
import numpy as np
import pytest

import pathsim
from pathsim.errors import CellError
from pathsim.model import Move, MoveKind
from pathsim.report import result_as_json
from pathsim.transforms import frozen, translation

SAMPLES = Path(__file__).parents[1] / "sample_cells"


@pytest.fixture(scope="module")
def cell():
    return pathsim.load_cell(SAMPLES / "gate_hinge")


def test_a_point_is_taught_anew(cell):
    q = cell.points["retract"].q + 0.01
    changed = cell.with_point("retract", q=q)
    np.testing.assert_array_equal(changed.points["retract"].q, q)
    assert cell.points["retract"].q is not changed.points["retract"].q  # the old cell stays
    pose = cell.with_point("retract", T_base_tcp=translation([0.9, 0, 0.4]))
    assert pose.points["retract"].q is None
    with pytest.raises(CellError, match="point 'retract'"):
        cell.with_point("retract")
    with pytest.raises(CellError, match="6, one for each axis"):
        cell.with_point("retract", q=[0.0] * 5)


def test_a_point_that_the_program_needs_stays(cell):
    more = cell.with_point("aside", q=cell.points["home"].q)
    assert "aside" not in more.without_point("aside").points
    with pytest.raises(CellError, match="retract"):
        cell.without_point("retract")
    with pytest.raises(CellError, match="did you mean 'retract'"):
        cell.without_point("retrct")


def test_bodies_come_and_go_and_keep_their_order(cell):
    clamp = cell.body("left clamp")
    moved = replace(clamp, T_world_body=frozen(translation([0, 0.1, 0]) @ clamp.T_world_body))
    changed = cell.with_body(moved)
    assert [b.name for b in changed.bodies] == [b.name for b in cell.bodies]
    assert changed.body("left clamp") is moved
    gone = cell.without_body("left clamp")
    assert len(gone.bodies) == len(cell.bodies) - 1
    assert gone.with_body(clamp).bodies[-1] is clamp
    for name in ("left clmp", ""):
        with pytest.raises(CellError, match="the name of a body"):
            cell.without_body(name)


def test_a_program_is_exchanged(cell):
    there = cell.with_program("home", Move(MoveKind.JOINT, "approach", 0.4))
    assert [m.target for m in there.program.moves] == ["approach"]
    with pytest.raises(CellError, match="did you mean 'approach'"):
        cell.with_program("home", Move(MoveKind.JOINT, "aproach", 0.4))


@pytest.mark.parametrize("name", ["gate_hinge_no_retract", "turned_collar", "hanging_rail"])
def test_results_are_kept_and_copied_whole(name):
    """Everything that people and programs read of it is the same, also what is worked out late."""
    result = pathsim.check(pathsim.load_cell(SAMPLES / name))
    written = result_as_json(result)
    for other in (pickle.loads(pickle.dumps(result)), copy.deepcopy(result)):  # noqa: S301
        assert result_as_json(other) == written
        assert [f.text for f in other.findings] == [f.text for f in result.findings]
        assert [t.slow_duration for t in other.trajectory.tracks] == [
            t.slow_duration for t in result.trajectory.tracks
        ]
        assert all(
            move.track is track
            for move, track in zip(other.moves, other.trajectory.tracks, strict=True)
        )


def test_a_copied_cell_checks_the_same(cell):
    other = pickle.loads(pickle.dumps(cell))  # noqa: S301
    assert result_as_json(pathsim.check(other)) == result_as_json(pathsim.check(cell))


@pytest.mark.parametrize("name", ["gate_hinge_no_retract", "turned_collar"])
def test_clearances_are_those_of_the_moves(name):
    result = pathsim.check(pathsim.load_cell(SAMPLES / name))
    table = result.clearances
    pairs = [p for m in result.moves for p in (*m.pairs, *m.own, *m.wire)]
    assert len(table) == len(pairs) > 20
    scene = table[table["of"] == "scene"]
    assert scene["lower"].min() == min(p.clearance.lower for m in result.moves for p in m.pairs)
    assert set(table["move"]) == {m.track.number for m in result.moves}
    assert (table["lower"] <= table["upper"]).all()
    assert (table["start"] <= table["end"]).all() and set(table["zone"]) <= {
        "air",
        "approach",
        "seam",
    }
    with pytest.raises(ValueError, match="read-only"):
        table["lower"][0] = 1.0


def test_a_table_for_notebooks_runs_nothing_and_carries_the_caution(cell):
    evil = replace(cell, name="<script>alert(1)</script>")
    html = pathsim.check(evil)._repr_html_()
    assert "<script" not in html and "&lt;script&gt;" in html
    assert "not a safety function" in html
    found = pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))
    assert found._repr_html_().count("<tr>") == len(found.moves) + 1


@pytest.mark.parametrize("name", ["gate_hinge", "turned_collar", "hanging_rail"])
def test_posed_meshes_stand_where_the_check_saw_them(name):
    """Between the bounds of a result lies what python-fcl sees between the posed meshes."""
    cell = pathsim.load_cell(SAMPLES / name)
    result = pathsim.check(cell)
    rows = [r for r in result.clearances if r["of"] == "scene" and r["upper"] < 0.03]
    assert rows
    for row in rows[:12]:
        track = result.trajectory.tracks[row["move"] - 1]
        meshes = cell.posed(track.q_at(row["time"])[0])
        shapes = []
        for which in ("piece", "body"):
            mesh, model = meshes[row[which]], fcl.BVHModel()
            model.beginModel(len(mesh.vertices), len(mesh.faces))
            model.addSubModel(mesh.vertices, mesh.faces)
            model.endModel()
            shapes.append(fcl.CollisionObject(model))
        seen = fcl.distance(*shapes)  # of all triangles; the upper bound is of two of them
        assert row["lower"] <= seen <= row["upper"] + 2e-5
        assert row["upper"] - row["lower"] < 6e-4


def test_the_chart_of_a_result_is_that_of_its_session(cell):
    session = pathsim.Session()
    result = session.check(cell)
    np.testing.assert_array_equal(result.profile().guaranteed, session.profile(result).guaranteed)


def test_no_posed_mesh_is_lost_to_a_name(cell):
    """A body may be called as a piece of the torch is, or as what the counting would give."""
    clamp = cell.body("left clamp")
    q = cell.points["home"].q
    before = cell.posed(q)
    more = cell.with_body(replace(clamp, name="nozzle")).with_body(replace(clamp, name="nozzle 2"))
    posed = more.posed(q)
    assert len(posed) == len(before) + 2
    np.testing.assert_array_equal(posed["nozzle"].vertices, before["nozzle"].vertices)
    for name in ("nozzle 2", "nozzle 2 2"):
        np.testing.assert_array_equal(posed[name].vertices, before["left clamp"].vertices)
