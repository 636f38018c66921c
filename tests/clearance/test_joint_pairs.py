"""What one joint joins, outside its bearing, against samples that know nothing of zones."""

import dataclasses
import json
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.spatial import cKDTree

from pathsim.check import check
from pathsim.clearance import ReferenceEngine, joint_store
from pathsim.clearance.joint_pairs import joined_of, joined_pairs, mounts_of
from pathsim.clearance.joint_range import JointRange, Sides
from pathsim.clearance.joint_store import Apart, Known, load_known, save_known
from pathsim.clearance.joint_zone import RoundZone
from pathsim.clearance.obstacle import OWN_CAP
from pathsim.clearance.queries import queries_of
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.geometry.containment import winding_number
from pathsim.kernels.cache_folder import VARIABLE, cache_folder
from pathsim.model import TorchPiece
from pathsim.motion import plan_program
from pathsim.transforms import apply
from tests.builders import ball, box, cell, joint, shop_arm
from tests.clearance.lathed import both, held_by, lathed, sampled

ENGINES = (FastEngine, ReferenceEngine)
HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch):
    monkeypatch.setenv(VARIABLE, "")


def axis_frames(arm, q):
    """Frames of all joint axes at ``q``, by plain products: ``(dof, 4, 4)``."""
    T, found = np.eye(4), []
    for k in range(arm.dof):
        c, s = np.cos(q[k]), np.sin(q[k])
        turn = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
        T = T @ arm.fixed[k]
        found.append(T)
        T = T @ turn
    return found


def lumpy_links(arm, rng):
    """A base and six links: at each joint hubs, in between a bar, at odd places lumps."""
    zero = np.zeros(6)
    frames, links = axis_frames(arm, zero), arm.link_poses(zero[None])[0]
    shapes = [[] for _ in range(7)]
    for k in range(6):
        hub = rng.uniform(0.02, 0.05)
        for link, low, high in ((k, -0.06, 0.0), (k + 1, 0.0, 0.06)):
            shapes[link].append(lathed(hub, low, high, 24).moved(frames[k]))
    for link in range(1, 7):
        for joint_of in (link - 1, min(link, 5)):
            way = rng.normal(size=3)
            at = frames[joint_of][:3, 3] + way / np.linalg.norm(way) * rng.uniform(0.1, 0.2)
            shapes[link].append(box(rng.uniform(0.05, 0.14, 3), at))
    return tuple(both(*some).moved(np.linalg.inv(T)) for some, T in zip(shapes, links, strict=True))


class Seen(NamedTuple):
    """Least distance of samples outside the zone, m; whether one lies in the other there."""

    least: float
    is_buried: bool


def seen_outside(c, one, tracks, looks=25):
    """What samples of two surfaces say that lie outside the zone: a k-d tree, winding numbers.

    The zone is turned into plain words first: so far from this axis, between these heights.
    """
    zone, arm = one.range.known.zone, c.arm
    meshes = one.standing.source, one.piece.mesh
    points = [sampled(mesh, 4000) for mesh in meshes]
    least, is_buried = np.inf, False
    for track in tracks:
        for k, time in enumerate(np.linspace(track.t[0], track.t[-1], looks)):
            q = track.q_at(time)[0]
            poses = arm.link_poses(q[None])[0]
            axis = np.linalg.inv(axis_frames(arm, q)[one.column])
            placed, frames = [], []
            for some, link in zip(points, (one.piece.link - 1, one.piece.link), strict=True):
                local = apply(axis @ poses[link], some)
                frames.append(axis @ poses[link])
                if zone is not None:
                    local = local[~held_by(zone, local)]
                placed.append(local)
            if not min(map(len, placed)):
                continue
            least = min(least, cKDTree(placed[0]).query(placed[1])[0].min())
            for this, other in ((0, 1), (1, 0)) if k % 6 == 0 else ():
                inside = apply(np.linalg.inv(frames[other]), placed[this][::80])
                is_buried |= any(
                    winding_number(p, meshes[other].vertices, meshes[other].faces) > 0.5
                    for p in inside
                )
    return Seen(least, is_buried)


@pytest.mark.parametrize("kind", ENGINES)
def test_neighbours_on_random_arms_against_samples(kind):
    """No sample outside a zone comes nearer than is guaranteed, and contact is really near."""
    rng = np.random.default_rng(11)
    told = dict.fromkeys(("proved", "touches", "apart", "inside", "buried"), 0)
    for _ in range(4):
        arm = shop_arm()
        links = lumpy_links(arm, rng)
        ends = rng.uniform(-1.6, 1.6, (2, 6))
        c = cell({"home": ends[0], "end": ends[1]}, [joint("end")], arm=arm, links=links)
        tracks = plan_program(c).tracks
        pairs = joined_pairs(c, tracks)
        asked = queries_of(c, plan_program(c), (), pairs.asked)
        found = {
            one.question.standing.at_joint: clearance
            for one, clearance in zip(asked, kind(c).min_distance(asked.queries), strict=True)
        }
        for one in joined_of(c):
            seen, clearance = seen_outside(c, one, tracks), found.get(one.number)
            told["buried"] += seen.is_buried
            if (one.piece, one.standing) in pairs.proved:
                told["proved"] += 1
                assert seen.least >= OWN_CAP - 1e-9 and not seen.is_buried
            elif clearance is None:  # wholly exempt: then there is nothing outside the zone
                assert one.apart(tracks) is Apart.EXEMPT
                assert not np.isfinite(seen.least) and not seen.is_buried
            elif one.pair in pairs.inside:
                told["inside"] += 1
                assert seen.is_buried
            else:
                told["touches" if clearance.touches else "apart"] += 1
                assert seen.least >= clearance.lower - 1e-9
                assert clearance.touches or not seen.is_buried
                assert not clearance.touches or seen.least <= 0.02  # samples are so far apart
    assert len(joined_of(c)) == 6
    assert min(told["proved"], told["touches"], told["buried"]) >= 4, told


@pytest.mark.parametrize("engine", ENGINES)
def test_neighbours_that_fold_into_each_other_stop(engine):
    """A lug on link 3 comes down on link 2's bar; closed form of the angle at which it does."""
    arm = shop_arm()
    axis = axis_frames(arm, np.zeros(6))[2]
    links, zero = [None] * 7, arm.link_poses(np.zeros((1, 6)))[0]
    # in the frame of joint 3's axis: a bar along x with its face at y = 0.03, a lug over it
    bar = both(lathed(0.03, -0.02, 0.02), box((0.4, 0.06, 0.04), (0.2, 0, 0)))
    lug = both(lathed(0.03, -0.02, 0.02), box((0.02, 0.1, 0.04), (0, 0.25, 0)))
    links[2] = bar.moved(np.linalg.inv(zero[2]) @ axis)
    links[3] = lug.moved(np.linalg.inv(zero[3]) @ axis)
    # its near corner is 0.2 m from the axis and 0.01 m to that side
    touching = -(np.arccos(0.03 / np.hypot(0.2, 0.01)) - np.arctan2(0.01, 0.2))
    for angle, stops in ((touching + 0.1, False), (touching - 0.1, True)):
        end = HOME.copy()
        start = HOME.copy()
        start[2], end[2] = 0.0, angle
        c = cell({"home": start, "end": end}, [joint("end")], arm=arm, links=links)
        result = check(c, engine=engine(c))
        hits = [f for f in result.findings if f.kind == "contact"]
        assert bool(hits) == stops, angle
        assert all((f.piece, f.body, f.level) == ("link 3", "link 2", Level.STOP) for f in hits)
    began = float(result.trajectory.tracks[0].q_at(hits[0].spans[0].start)[0, 2])
    assert began == pytest.approx(touching, abs=2e-3)


def test_a_pair_that_is_proved_stands_in_the_result():
    c = cell(
        {"home": HOME, "end": HOME + 0.1},
        [joint("end")],
        links=lumpy_links(shop_arm(), np.random.default_rng(2)),
    )
    result = check(c)
    told = {(p.piece, p.body) for p in result.moves[0].own}
    exempt = {i.what for i in result.left_out if i.what.endswith("wholly")}
    for one in joined_of(c):
        names = one.piece.name, one.standing.name
        assert names in told or f"{names[0]} against {names[1]}, wholly" in exempt


def sides(standing, moving, limits=(-3.0, 3.0), **more):
    return Sides(standing, moving, np.eye(4), np.eye(4), False, limits, **more)


HUB = lathed(0.03, -0.02, 0.02, 24)


def bar_at(angle, length=0.4, height=0.0):
    c, s = np.cos(angle), np.sin(angle)
    T = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    return box((length, 0.04, 0.04), (length / 2, 0, height)).moved(T)


def test_over_which_values_they_are_proved_apart():
    """Two bars on one axis: apart until their corners meet, which is where a sum of angles says."""
    joint_range = JointRange(sides(both(HUB, bar_at(0.0)), both(HUB, bar_at(np.pi / 2))))
    assert joint_range.over(-0.1, 1.0) is Apart.PROVED
    assert joint_range.over(-0.1, 1.2) is Apart.PROVED
    assert joint_range.over(-1.5, 0.0) is Apart.ASK
    assert joint_range.over(-2.0, -1.2) is Apart.ASK
    assert joint_range.distance(-np.pi / 2) == 0
    for value in np.linspace(-0.1, 1.2, 200):
        assert joint_range.distance(value) >= OWN_CAP


@pytest.mark.parametrize("seed", range(6))
def test_what_is_proved_holds_everywhere(seed):
    rng = np.random.default_rng(seed)
    lumps = [
        both(HUB, *(box(rng.uniform(0.02, 0.1, 3), rng.normal(0, 0.15, 3)) for _ in range(3)))
        for _ in range(2)
    ]
    joint_range = JointRange(sides(*lumps))
    proved = 0
    for low in np.arange(-3.0, 3.0, 0.3):
        if joint_range.over(low, low + 0.3) is Apart.PROVED and joint_range.rest[0] is not None:
            proved += 1
            values = rng.uniform(low, low + 0.3, 40)
            assert min(joint_range.distance(value) for value in values) >= OWN_CAP
    assert proved >= 2


def test_one_wholly_inside_the_other_is_no_clearance():
    """A small block deep in a large one: no surfaces meet, and yet it is contact."""
    large = both(HUB, box((0.2, 0.2, 0.2), (0.3, 0, 0)))
    small = both(HUB, box((0.02, 0.02, 0.02), (0.3, 0, 0)))
    assert JointRange(sides(large, small)).over(-0.1, 0.1) is Apart.INSIDE
    assert JointRange(sides(small, large)).over(-0.1, 0.1) is Apart.AROUND
    assert JointRange(sides(large, small)).over(1.5, 1.7) is Apart.PROVED


@pytest.mark.parametrize("engine", ENGINES)
def test_a_link_inside_its_neighbour_stops(engine):
    arm = shop_arm()
    axis, zero = axis_frames(arm, np.zeros(6))[2], arm.link_poses(np.zeros((1, 6)))[0]
    links = [None] * 7
    large = both(HUB, box((0.2, 0.2, 0.2), (0.3, 0, 0)))
    small = both(HUB, box((0.02, 0.02, 0.02), (0.3, 0, 0)))
    links[2], links[3] = (
        mesh.moved(np.linalg.inv(zero[k]) @ axis) for k, mesh in ((2, large), (3, small))
    )
    q = np.array([0.3, 0.1, 0.0, 0.3, 0.9, 0.4])
    c = cell({"home": q, "end": q + 0.02}, [joint("end")], arm=arm, links=links)
    result = check(c, engine=engine(c))
    (hit,) = [f for f in result.findings if f.kind == "contact"]
    assert "link 3 lies inside the link 2" in hit.text


def test_castings_drawn_into_each_other_at_all_values_are_told_once():
    """Balls beside the hubs, most of the way round: some two overlap however the joint turns."""

    def balls(angles):
        return both(HUB, *(ball(0.05, (0.09 * np.cos(a), 0.09 * np.sin(a), 0), 2) for a in angles))

    wide, three = balls(np.radians(np.arange(0, 250, 20))), balls(np.radians([0, 120, 240]))
    strict = JointRange(sides(wide, three))
    assert strict.over(-0.2, 0.2) is Apart.ASK and strict.known.growth == 1
    joint_range = JointRange(sides(wide, three, grows=True))
    assert joint_range.over(-0.2, 0.2) in (Apart.PROVED, Apart.EXEMPT)
    assert joint_range.known.growth > 1
    assert joint_range.known.zone.radius > strict.known.zone.radius


def test_what_was_proved_is_kept_and_believed_only_when_whole(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    known = Known(RoundZone((0.1, 0.0, 0.2), -0.2, 0.01), False, 1.0, [(-1.0, 2.0, Apart.PROVED)])
    save_known("a joint", known)
    assert load_known("a joint") == known and load_known("another") is None
    (file,) = cache_folder("joints").glob("*.json")
    text = file.read_text()
    for spoiled in ("", "x", text[:-3], text.replace("2.0", "9.0"), "\n".join(["0", "{}"])):
        file.write_text(spoiled)
        assert load_known("a joint") is None
    first, body = text.split("\n")
    assert json.loads(body)["spans"] and first
    file.write_bytes(b"\xff\xfe")
    assert load_known("a joint") is None


def test_what_older_code_proved_is_not_believed(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    save_known("a joint", Known(None))
    assert load_known("a joint") == Known(None)
    monkeypatch.setattr(joint_store, "_made_by", lambda: "other sources")
    assert load_known("a joint") is None
    # Nor may a file be believed that was only given the newer name.
    (old,) = cache_folder("joints").glob("*.json")
    old.rename(joint_store._path("a joint"))
    assert load_known("a joint") is None
    monkeypatch.setattr(joint_store, "_made_by", lambda: None)
    assert joint_store._path("a joint") is None


def test_every_module_that_leads_proofs_counts_among_the_sources():
    """All that ``joint_range`` takes from clearance and geometry, and what that takes in turn."""
    package = Path(joint_store.__file__).parents[1]
    found = set()
    left = {f"clearance/{name}.py" for name in ("joint_range", "joint_store", "joint_pairs")}
    while left:
        name = left.pop()
        found.add(name)
        text = (package / name).read_text(encoding="utf-8")
        taken = re.findall(r"^from pathsim\.((?:clearance|geometry)[\w.]*) import", text, re.M)
        left |= {f"{each.replace('.', '/')}.py" for each in taken} - found
    said = {
        str((package / "clearance" / name).resolve().relative_to(package))
        for name in joint_store._MADE_BY
    }
    assert found - said <= {"clearance/records.py"}  # words of an answer, no numbers
    assert said <= found | {"geometry/rays.py", "geometry/mesh.py"}


def test_proofs_are_not_led_again(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    some = sides(both(HUB, bar_at(0.0)), both(HUB, bar_at(np.pi / 2)))
    assert JointRange(some).over(-0.1, 1.0) is Apart.PROVED
    monkeypatch.setattr(JointRange, "distance", lambda *_: pytest.fail("looked again"))
    assert JointRange(some).over(-0.05, 0.9) is Apart.PROVED
    moved = dataclasses.replace(some, T_axis_moving=np.diag([1.0, -1, -1, 1]))
    with pytest.raises(pytest.fail.Exception):
        JointRange(moved).over(-0.05, 0.9)


def test_a_torch_that_lies_in_its_link_is_told_and_one_on_the_flange_is_not():
    flange = lathed(0.04, -0.3, 0.0)
    links = (None,) * 6 + (flange,)
    good = lathed(0.035, 0.0, 0.2)
    for piece, expected in ((good, 0), (both(good, box((0.3, 0.02, 0.02), (0, 0, -0.2))), 1)):
        c = cell({"home": HOME}, [joint("home")], links=links, pieces=(TorchPiece("neck", piece),))
        found = [f for f in check(c).findings if f.kind == "drawn into each other"]
        assert len(found) == expected
        assert all(f.level is Level.WATCH and f.piece == "neck" for f in found)
    assert len(mounts_of(c)) == 1


def test_the_lever_is_that_of_the_shorter_side():
    joint_range = JointRange(sides(both(HUB, bar_at(0.0, 0.9)), both(HUB, bar_at(1.5, 0.2))))
    assert joint_range._lever <= 0.9
    assert joint_range._lever == pytest.approx(np.hypot(0.2, 0.02), abs=1e-3)
