"""Times of contact are whole: also while one thing is wholly within the other.

The oracle knows nothing of the engines: python-fcl at many moments for surfaces, and the
half-spaces of a convex hull for who is within whom.
"""

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from pathsim.check import check
from pathsim.clearance import ReferenceEngine, Span
from pathsim.clearance.contact_time import contact_time
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.records import Inner
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.model import Mesh, TorchPiece
from pathsim.motion import plan_program
from pathsim.transforms import exp_rotation, pose
from tests.builders import ball, body, box, cell, joint, shop_arm, turning_table
from tests.clearance.oracle import dense_distances

ENGINES = (FastEngine, ReferenceEngine)
HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def passing(small, large, is_small_carried, end, rng, table=False):
    """A cell in which one shape goes through the other, up to a share ``end`` of the way."""
    swing = rng.uniform(-0.5, 0.5, 6) + np.array([0.8, 0, 0, 0, 0, 0])
    from_, to = HOME - swing / 2, HOME + swing * (end - 0.5)
    carried, standing = (small, large) if is_small_carried else (large, small)
    at = np.array([0.0, 0.0, 0.1])
    carried = Mesh(carried.vertices + at, carried.faces)
    middle = (shop_arm().pose(HOME) @ [*at, 1])[:3] + rng.normal(0, 0.003, 3)
    placed = standing.moved(pose(exp_rotation(rng.normal(0, 1, 3)), middle))
    if table:  # it turns meanwhile, and has the thing there halfway
        placed = placed.moved(turning_table().motion([-0.15]))
    tail = [0.3 * end] if table else []
    points = {"home": [*from_, *([0.0] if table else [])], "end": [*to, *tail]}
    thing = body(placed, "thing", on_table=table)
    return cell(points, [joint("end")], pieces=(TorchPiece("nozzle", carried),), bodies=[thing],
                table=turning_table() if table else None)  # fmt: skip


def lies_within(inner, outer):
    """Whether all of ``inner (n, 3)`` is behind all faces of the hull of ``outer (m, 3)``."""
    faces = ConvexHull(outer).equations
    return bool((inner @ faces[:, :3].T + faces[:, 3] < 0).all())


def oracle(c, track, count=500):
    """Times ``(count,)``, distances of surfaces, and who is within whom then."""
    piece = next(p for p in c.pieces if p.name == "nozzle")
    (thing,) = obstacles(c)
    times, gaps = dense_distances(c, track, piece, thing, (track.t[0], track.t[-1]), count)
    inner = []
    for q, gap in zip(track.q_at(times), gaps, strict=True):
        T = c.arm.link_poses(q[: c.arm.dof])[piece.link]
        moving = piece.mesh.vertices @ T[:3, :3].T + T[:3, 3]
        still = thing.mesh.vertices
        if c.table is not None:
            turn = c.table.motion(q[-1:])
            still = still @ turn[:3, :3].T + turn[:3, 3]
        if gap > 0 and lies_within(moving, still):
            inner.append(Inner.MOVING)
        elif gap > 0 and lies_within(still, moving):
            inner.append(Inner.STANDING)
        else:
            inner.append(None)
    return times, gaps, np.array(inner, dtype=object)


def in_spans(times, spans):
    inside = np.zeros(len(times), dtype=bool)
    for span in spans:
        inside |= (times >= span.start) & (times <= span.end)
    return inside


def shape(rng, size):
    """A ball, a box or a hull of random points, not larger than ``size`` about its middle."""
    kind = rng.integers(3)
    if kind == 0:
        return ball(size / 2, fineness=2)
    if kind == 1:
        return box(rng.uniform(0.4, 1.0, 3) * size / np.sqrt(3))
    hull = trimesh.convex.convex_hull(rng.normal(size=(12, 3)))
    far = np.linalg.norm(hull.vertices, axis=1).max()
    return Mesh(hull.vertices * size / 2 / far, hull.faces)


@pytest.mark.parametrize("seed", range(16))
def test_what_passes_wholly_through_is_in_contact_all_the_while(seed):
    rng = np.random.default_rng(seed)
    is_small_carried, end = seed % 2 == 0, (1.0, 0.5)[seed // 2 % 2]
    small = shape(rng, rng.uniform(0.004, 0.03))
    large = shape(rng, rng.uniform(0.2, 0.4))
    c = passing(small, large, is_small_carried, end, rng, table=seed % 5 == 4)
    trajectory = plan_program(c)
    times, gaps, inner = oracle(c, trajectory.tracks[0])
    assert any(inner)  # else this cell tests nothing
    found = []
    for engine in ENGINES:
        moves = measure_moves(c, trajectory, engine(c))
        (pair,) = [p for p in moves[0].pairs if p.piece == "nozzle"]
        inside = in_spans(times, pair.spans)
        touches = (gaps <= 0) | (inner != None)  # noqa: E711 - each one of them
        assert inside[touches].all()
        assert (gaps[inside & ~touches] < 1.5e-3).all()  # and hardly any moment more
        for who in Inner:
            told = in_spans(times, [one for one in pair.within if one.inner is who])
            assert (inner[told] == who).all()
            # All of them but those beside a surface, where contact is not told from nearly so.
            assert (gaps[(inner == who) & ~told] < 1.5e-3).all()
        found.append(pair)
        chart = clearance_profile(c, trajectory, engine(c), 0.1, moves)
        for time in times[touches]:
            k = np.flatnonzero((chart.t[:-1] <= time) & (time <= chart.t[1:]))
            assert (chart.guaranteed[k] == 0).any()
            assert chart.guaranteed[k].max() < 1.5e-3
    fast, slow = found
    assert len(fast.spans) == len(slow.spans) and len(fast.within) == len(slow.within)
    # An end is told to half a millimetre of way, which either engine divides in its own places.
    for a, b in zip((*fast.spans, *fast.within), (*slow.spans, *slow.within), strict=True):
        np.testing.assert_allclose(a[:2], b[:2], atol=2e-3)


class Told:
    """An engine's answers made up, to look at how they are put together."""

    def __init__(self, meeting, inner):
        self.meeting, self.inner = meeting, inner
        self.asked = []

    def intervals_below(self, *asked):
        assert asked[-1] == 0.0
        return self.meeting

    def inner_at(self, _piece, _standing, times):
        self.asked += times.tolist()
        return [self.inner.get(round(time, 3)) for time in times.tolist()]


def test_each_gap_is_asked_about_once():
    meeting = (Span(1.0, 2.0), Span(4.0, 5.0), Span(7.0, 8.0))
    told = Told(meeting, {0.5: Inner.STANDING, 3.0: Inner.MOVING})
    found = contact_time(told, (None, None), Span(0.0, 10.0))
    assert told.asked == [0.5, 3.0, 6.0, 9.0]
    assert found.spans == (Span(0.0, 5.0), Span(7.0, 8.0))
    assert [tuple(one) for one in found.within] == [
        (0.0, 1.0, Inner.STANDING), (2.0, 4.0, Inner.MOVING)
    ]  # fmt: skip
    assert found.meeting == meeting


def test_a_gap_shorter_than_times_are_told_is_contact():
    meeting = (Span(0.0, 1.0), Span(1.0 + 5e-10, 2.0))
    told = Told(meeting, {})
    assert contact_time(told, (None, None), Span(0.0, 2.0)).spans == (Span(0.0, 2.0),)
    assert told.asked == []


def test_where_surfaces_never_meet_one_look_tells_of_all():
    told = Told((), {1.0: Inner.STANDING})
    assert contact_time(told, (None, None), Span(0.0, 2.0)).spans == (Span(0.0, 2.0),)
    assert contact_time(Told((), {}), (None, None), Span(0.0, 2.0)).spans == ()
    assert contact_time(Told((), {}), (None, None), Span(1.0, 1.0)).spans == ()


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("is_small_carried", [True, False])
def test_who_lies_in_whom_is_told_the_right_way_round(engine, is_small_carried):
    rng = np.random.default_rng(1)
    turned = {"home": HOME, "end": HOME + 0.02}
    c = passing(ball(0.01, fineness=1), box((0.3,) * 3), is_small_carried, 0.5, rng)
    inside = cell(turned, [joint("end")], pieces=c.torch.pieces, bodies=c.bodies)
    result = check(inside, engine=engine(inside))
    (finding,) = [f for f in result.findings if f.piece == "nozzle"]
    who = ("nozzle", "thing") if is_small_carried else ("thing", "nozzle")
    assert finding.level is Level.STOP
    assert finding.text.startswith(f"The {who[0]} lies inside the {who[1]}, from 0 % to 100 %")
    # and where it only gets there, that it does is said behind
    result = check(c, engine=engine(c))
    (finding,) = [f for f in result.findings if f.piece == "nozzle"]
    assert finding.text.startswith("The nozzle touches the thing from ")
    assert "to 100 % of move 1" in finding.text
    assert f" The {who[0]} is wholly inside the {who[1]} from " in finding.text


@pytest.mark.parametrize("engine", ENGINES)
def test_what_starts_inside_and_leaves_is_in_contact_until_it_has_left(engine):
    rng = np.random.default_rng(3)
    c = passing(ball(0.01, fineness=1), box((0.2,) * 3), True, 1.0, rng)
    half = cell({"home": HOME, "end": c.points["end"].q}, [joint("end")], pieces=c.torch.pieces,
                bodies=c.bodies)  # fmt: skip
    trajectory = plan_program(half)
    times, gaps, inner = oracle(half, trajectory.tracks[0])
    moves = measure_moves(half, trajectory, engine(half))
    (pair,) = [p for p in moves[0].pairs if p.piece == "nozzle"]
    assert pair.clearance.inner is Inner.MOVING
    (span,) = pair.spans
    touches = (gaps <= 0) | (inner != None)  # noqa: E711
    assert span.start == 0.0 and not touches[-1]
    assert span.end == pytest.approx(times[touches].max(), abs=5e-3)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_hollow_thing_holds_what_is_in_its_hollow(engine):
    """Whatever is in a closed hollow has come through its wall."""
    rng = np.random.default_rng(5)
    outer, hollow = box((0.4,) * 3), box((0.36,) * 3)
    faces = np.vstack([outer.faces, hollow.faces[:, ::-1] + len(outer.vertices)])
    shell = Mesh(np.vstack([outer.vertices, hollow.vertices]), faces)
    c = passing(ball(0.01, fineness=1), shell, True, 0.5, rng)
    moves = measure_moves(c, plan_program(c), engine(c))
    (pair,) = [p for p in moves[0].pairs if p.piece == "nozzle"]
    (span,) = pair.spans
    assert span.end == moves[0].track.t[-1]
    assert {one.inner for one in pair.within} == {Inner.MOVING}  # in its wall, and in its hollow
