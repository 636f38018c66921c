"""Ways to a false clear that were found once; none may come back."""

import dataclasses

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import Clearance, ReferenceEngine, Span
from pathsim.clearance.obstacle import obstacles
from pathsim.errors import CannotCheck, MotionError
from pathsim.findings import Level
from pathsim.geometry.containment import Solid, _welded
from pathsim.model import Mesh, Point, Role, TorchPiece
from pathsim.motion import FaultKind, plan_program
from pathsim.transforms import exp_rotation, frozen, pose, translation
from tests.builders import ball, body, box, cell, joint

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
LINKS = [box((0.001,) * 3)] * 7


def test_short_moves_late_in_a_program_have_no_two_knots_at_one_time():
    """Ramps that meet gave two knots a rounding apart; added to the clock they were one, and
    the motion bound between them was 0/0, which compares as clear."""
    rng = np.random.default_rng(0)
    for _ in range(150):
        a = HOME + rng.uniform(-0.3, 0.3, 6)
        b = a + rng.uniform(-0.5, 0.5, 6)
        tracks = plan_program(cell({"home": HOME, "a": a, "b": b},
                                   [joint("a", 1.0), joint("b", 1.0)])).tracks  # fmt: skip
        for track in tracks:
            assert (np.diff(track.t) > 0).all()
            assert track.speed_ratio.max() <= 1 + 1e-9


def test_knots_that_do_not_rise_are_refused():
    track = plan_program(cell({"home": HOME, "a": HOME + 0.1}, [joint("a")])).tracks[0]
    t = track.t.copy()
    t[3] = t[2]
    with pytest.raises(MotionError, match="do not rise"):
        dataclasses.replace(track, t=t)
    q = track.q.copy()
    q[3, 0] = np.nan
    with pytest.raises(MotionError, match="not finite"):
        dataclasses.replace(track, q=q)


def test_a_torch_piece_with_a_links_name_keeps_its_own_motion_bound():
    """The bound was kept by name, so a slow link's bound was used for the fast torch."""
    start, end = HOME - [0.5, 0, 0, 0, 0, 1], HOME + [0.5, 0, 0, 0, 0, 1]
    base = cell({"home": start, "end": end}, [joint("end")])
    place = (base.arm.pose(HOME) @ [0, 0, 0.1, 1])[:3]
    piece = TorchPiece("link 1", box((0.03, 0.03, 0.2), (0, 0, 0.1)))
    pin = body(box((0.002, 0.002, 0.1), place), "pin", Role.CLAMP)
    c = cell({"home": start, "end": end}, [joint("end")], pieces=(piece,), bodies=[pin],
             links=LINKS)  # fmt: skip
    track = plan_program(c).tracks[0]
    measure = ReferenceEngine(c).on(track)
    window = Span(float(track.t[0]), float(track.t[-1]))
    pin_there = next(t for t in obstacles(c) if t.name == "pin")
    found = [measure.closest(p, pin_there, window) for p in c.pieces if p.name == "link 1"]
    assert [f.touches for f in found] == [False, True]


def test_a_margin_beyond_the_usual_cap_is_measured():
    """With a cap below the margin every far pair looked too near, at no moment at all."""
    thing = body(box((0.05, 0.05, 0.05), (5, 5, 5)), "thing")
    c = cell({"home": HOME, "end": HOME + 0.1}, [joint("end")], bodies=[thing], links=LINKS,
             margins=(0.08, 0.002, 0.002))  # fmt: skip
    result = check(c)
    assert result.cap >= 0.08
    assert [f for f in result.findings if f.piece and f.body == "thing"] == []
    place = c.arm.pose(HOME)[:3, 3] + [0, 0, 0.1]
    near = dataclasses.replace(c, bodies=(body(box((0.05,) * 3, place), "thing"),))
    assert [f.level for f in check(near).findings if f.piece and f.body == "thing"]


def test_what_went_in_on_one_move_is_inside_on_the_next():
    """The second move crosses no surface: it is contact all the same."""
    turned = [HOME + [a, 0, 0, 0, 0, 0] for a in (0.0, 0.6, 0.75)]
    piece = TorchPiece("nozzle", ball(0.01, (0, 0, 0.1), 2))
    base = cell({"home": HOME}, [joint("home")])
    place = (base.arm.pose((turned[1] + turned[2]) / 2) @ [0, 0, 0.1, 1])[:3]
    block = body(box((0.6, 0.6, 0.6), place), "block", Role.CLAMP)
    points = dict(zip(("home", "a", "b"), turned, strict=True))
    c = cell(points, [joint("a"), joint("b")], pieces=(piece,), bodies=[block], links=LINKS)
    found = [(f.move, f.level) for f in check(c).findings if f.piece == "nozzle"]
    assert found == [(1, Level.STOP), (2, Level.STOP)]


def test_turning_a_mesh_pulls_no_component_apart():
    """Triangles with their own corners (as STL has them) must stay one solid when placed."""
    rng = np.random.default_rng(0)
    shape = ball(0.3, fineness=2)
    corners = shape.vertices[shape.faces].reshape(-1, 3).astype(np.float32).astype(float)
    loose = Mesh(corners, np.arange(len(corners)).reshape(-1, 3))
    for _ in range(60):
        T = pose(exp_rotation(rng.normal(0, 2, 3)), rng.uniform(-2, 2, 3))
        solid = Solid(loose.moved(T))
        assert len(solid.witnesses) == 1
        assert solid.holds(T[:3, 3][None])


def mixed(mesh, rng):
    """Some triangles facing in, some out."""
    faces = mesh.faces.copy()
    flip = rng.random(len(faces)) < 0.5
    faces[flip] = faces[flip][:, ::-1]
    return Mesh(mesh.vertices, faces)


def doubled(mesh, _rng):
    """Every triangle drawn from both sides."""
    return Mesh(mesh.vertices, np.vstack([mesh.faces, mesh.faces[:, ::-1]]))


def noisy_soup(mesh, rng):
    """Triangles with their own corners, a nanometre apart."""
    corners = mesh.vertices[mesh.faces].reshape(-1, 3)
    return Mesh(corners + rng.normal(0, 1e-9, corners.shape),
                np.arange(len(corners)).reshape(-1, 3))  # fmt: skip


@pytest.mark.parametrize("spoil", [mixed, doubled, noisy_soup])
def test_inside_is_told_in_carelessly_drawn_solids(spoil):
    rng = np.random.default_rng(3)
    for shape in (box((1, 1, 1)), ball(0.5, fineness=2)):
        solid = Solid(spoil(shape, rng))
        for point in rng.uniform(-0.25, 0.25, (40, 3)):
            assert solid.holds(point[None])
        for point in rng.uniform(0.3, 0.49, (40, 3)):
            assert solid.holds(point[None]) == Solid(shape).holds(point[None])
        assert not solid.holds(np.array([[0.7, 0.1, 0.1], [-0.1, -0.9, 0.2]]))


def test_a_body_in_a_wrong_unit_is_doubted_aloud():
    for mesh, words in ((box((1e-4,) * 3, (0.9, 0, 1)), "0.1 mm long"),
                        (box((0.1,) * 3, (40, 0, 0)), "far out of the arm's reach")):  # fmt: skip
        c = cell({"home": HOME}, [joint("home")], bodies=[body(mesh, "clamp")], links=LINKS)
        (found,) = [f for f in check(c).findings if f.kind in ("unlikely body", "unlikely unit")]
        assert found.level is Level.WATCH and words in found.text


def test_a_move_whose_start_nobody_knows_is_not_measured():
    """Behind a pose out of reach without joint values the arm stands nowhere that can be told."""
    far = translation([3.0, 0, 0])
    points = {"home": HOME, "a": HOME + 0.1, "far": Point("far", None, frozen(far))}
    c = cell(points, [joint("far"), joint("a"), joint("home")],
             bodies=[body(box(at=(0, 0, -3)))], links=LINKS)  # fmt: skip
    tracks = plan_program(c).tracks
    kinds = [track.fault.kind if track.fault else None for track in tracks]
    assert kinds == [FaultKind.REACH, FaultKind.NO_START, None]
    assert not tracks[2].continuous
    np.testing.assert_allclose(tracks[2].q[0], HOME + 0.1)
    result = check(c)
    assert [f.move for f in result.findings if f.level is Level.STOP] == [1, 2]


def test_a_clearance_that_is_no_number_cannot_be_made():
    for lower, upper in ((np.nan, 1.0), (0.0, np.nan)):
        with pytest.raises(CannotCheck, match="not a number"):
            Clearance(lower, upper, 0.0, None, None)


def test_welding_holds_where_grid_borders_meet():
    """Places on a border along one axis and half a cell off along another."""
    rng = np.random.default_rng(0)
    base = rng.integers(-50, 50, (200, 3)) * 0.5e-6 + rng.integers(0, 9, (200, 1)) * 0.1
    near = np.vstack([base, base + rng.choice([-1e-12, 1e-12], base.shape)])
    labels = _welded(near)
    assert (labels[:200] == labels[200:]).all()
    far = np.arange(30)[:, None] * np.array([[3e-6, 0, 0]])
    assert len(np.unique(_welded(far))) == 30
