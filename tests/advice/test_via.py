"""Ways round in joint space: moves that really clear, in order, told by dense sampling."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

import pathsim.advice.via as via_module
from pathsim.advice import Evaluator, changed
from pathsim.advice.via import vias
from pathsim.arm.alignment import wrist_angle
from pathsim.clearance.contact_rules import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.files import load_cell
from pathsim.findings.places import is_roomy
from pathsim.model import Body, Role
from pathsim.motion import plan_program
from pathsim.session import Session
from pathsim.transforms import frozen, translation
from tests.advice.test_advise import SAMPLES, grave
from tests.builders import box
from tests.clearance.oracle import dense_distances


@pytest.fixture(scope="module", params=[0, 4])
def walled(request):
    """A wall across the first or the last joint move, where the tip is half way."""
    cell = load_cell(SAMPLES / "gate_hinge")
    track = plan_program(cell).tracks[request.param]
    tip = cell.tool_poses(track.q_at(track.t[0] + 0.5 * track.duration))[0, :3, 3]
    wall = Body("wall", Role.CLAMP, box((0.03, 0.03, 0.25)), frozen(translation(tip)))
    evaluator = Evaluator(replace(cell, bodies=(*cell.bodies, wall)), Session())
    assert track.number in {f.move for f in grave(evaluator.before)}
    return evaluator, track.index


def by_tree(evaluator, index, monkeypatch):
    """The way that the tree finds when no single point is tried before."""
    monkeypatch.setattr(via_module, "_single", lambda *_: None)
    return list(vias(evaluator, evaluator.before.trajectory.tracks[index]))


def test_the_tree_finds_a_way_that_keeps_its_margin_in_dense_sampling(walled, monkeypatch):
    evaluator, index = walled
    (found,) = by_tree(evaluator, index, monkeypatch)
    count = len(found.change.points)
    assert 1 <= count <= 4
    cell = changed(evaluator.cell, found.change)
    trajectory = plan_program(cell)
    new = trajectory.tracks[index : index + count + 1]
    assert [t.move.target for t in new[:-1]] == list(found.change.points)
    looked = 0
    for one in queries_of(cell, trajectory, obstacles(cell), ()):
        track, piece, standing, window = one.question
        if not any(track is t for t in new) or standing.name != "wall":
            continue
        _, seen = dense_distances(cell, track, piece, standing, window, 120)
        assert seen.min() >= one.margin
        looked += 1
    assert looked >= 2 * (count + 1)
    for q in found.change.points.values():
        assert is_roomy(cell, q)
        assert np.minimum(q - cell.axes.lower, cell.axes.upper - q).min() >= np.radians(5)
        assert wrist_angle(cell.arm, q) >= np.radians(5)


def test_the_same_cell_gives_the_same_way(walled, monkeypatch):
    evaluator, index = walled
    ways = [by_tree(evaluator, index, monkeypatch)[0].change.points for _ in range(2)]
    assert [q.tolist() for q in ways[0].values()] == [q.tolist() for q in ways[1].values()]


def test_the_way_is_cut_short(walled, monkeypatch):
    """No point of it can be left out, and it is no longer in joint space than the raw way."""
    evaluator, index = walled
    raw, asked, tells = {}, [], evaluator.is_edge_clear

    def told(track, a, b):
        answer = tells(track, a, b)
        asked.append((a.tobytes(), b.tobytes(), answer))
        return answer

    monkeypatch.setattr(evaluator, "is_edge_clear", told)
    cut = via_module._Tree._cut

    def watched(tree, way):
        if "way" not in raw:
            raw.update(way=list(way), asked=list(asked))
        return cut(tree, way)

    monkeypatch.setattr(via_module._Tree, "_cut", watched)
    (found,) = by_tree(evaluator, index, monkeypatch)
    track = evaluator.before.trajectory.tracks[index]
    way = [track.q[0], *found.change.points.values(), track.q[-1]]
    assert np.array_equal(raw["way"][0], way[0]) and np.array_equal(raw["way"][-1], way[-1])
    for a, b in pairwise(raw["way"]):
        assert (a.tobytes(), b.tobytes(), True) in raw[
            "asked"
        ]  # in the direction in which it is gone
    assert length(way) <= length(raw["way"]) + 1e-12
    for k in range(1, len(way) - 1):
        assert not evaluator.is_edge_clear(track, way[k - 1], way[k + 1])


def length(way):
    return sum(float(np.linalg.norm(b - a)) for a, b in pairwise(way))
