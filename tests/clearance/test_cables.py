"""Cables against closed forms, by both engines; their margins, neighbours and what is said."""

import dataclasses

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import OWN_CAP
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.reference.engine import TOLERANCE
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.model import Cable, TorchPiece
from pathsim.motion import PATH_ERROR
from pathsim.transforms import apply, pose
from tests.builders import ball, body, box, cell, joint, linear
from tests.clearance.at_home import HOME, at
from tests.model.test_cable import LARGEST

ENGINES = [FastEngine, ReferenceEngine]
#: In the flange frame, beside the torch.
POINTS = np.array([[0.10, 0.0, 0.05], [0.10, 0.0, 0.15]])
RADIUS, SLACK, OFFSET = 0.012, 0.02, 0.05
WAY = np.array([0.0, 0.1, 0.0])
TINY = (TorchPiece("nozzle", ball(0.001)),)


def passing(thing, **options):
    """A straight move along ``WAY``; ``thing(place, normal, axes)`` stands ``OFFSET`` beside it.

    The line of the cable sweeps a flat piece; ``place`` is OFFSET off its middle along
    ``normal``, and the columns of ``axes (3, 3)`` are along the cable, along the way, normal.
    """
    base = cell({"home": HOME}, [joint("home")])
    flange = base.arm.pose(HOME)
    line = apply(flange, POINTS)
    along, way = line[1] - line[0], WAY / np.linalg.norm(WAY)
    along /= np.linalg.norm(along)
    normal = np.cross(along, way)
    normal /= np.linalg.norm(normal)
    square = np.column_stack([along, np.cross(normal, along), normal])
    place = line.mean(axis=0) + WAY / 2 + OFFSET * normal
    points = {"home": HOME, "end": at(base, WAY)}
    cable = Cable("cable", 6, POINTS, RADIUS, SLACK, **options)
    made = cell(points, [linear("end")], bodies=[thing(place, normal, square)], pieces=TINY)
    return dataclasses.replace(made, cables=(cable,))


def wall(place, normal, axes):
    """A face square to the normal, just at the place."""
    plate = box((0.5, 0.5, 0.01)).moved(pose(axes, place + 0.005 * normal))
    return body(plate, "wall")


def knob(place, normal, axes):  # noqa: ARG001 - one shape of call for all
    """A ball whose nearest point would be at the place."""
    return body(ball(0.03, place + 0.03 * normal, fineness=5), "knob")


def cable_pair(result, name):
    (pair,) = [p for p in result.moves[0].pairs if (p.piece, p.body) == ("cable", name)]
    return pair


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(("thing", "facets"), [(wall, 0.0), (knob, 0.03 * 0.002)])
def test_clearance_is_the_offset_less_radius_and_slack(engine, thing, facets):
    c = passing(thing)
    pair = cable_pair(check(c, engine=engine(c)), thing.__name__)
    true = OFFSET - RADIUS - SLACK
    faceting = (LARGEST - 1) * (RADIUS + SLACK)
    assert pair.clearance.lower <= true + facets
    assert pair.clearance.lower >= true - faceting - TOLERANCE - 2 * PATH_ERROR
    assert pair.clearance.upper >= true - faceting - PATH_ERROR


@pytest.mark.parametrize("engine", ENGINES)
def test_what_is_wholly_inside_the_slack_is_contact(engine):
    c = passing(wall)
    middle = apply(c.arm.pose(HOME), POINTS).mean(axis=0)
    screw = body(ball(0.002, middle), "screw")
    still = {**c.points, "end": dataclasses.replace(c.points["home"], name="end")}
    c = dataclasses.replace(c, bodies=(screw,), points=still)
    found = cable_pair(check(c, engine=engine(c)), "screw")
    assert found.clearance.touches and found.clearance.is_inside


def test_a_cable_keeps_its_own_margin_and_else_that_of_air_moves():
    for margin, asked in ((None, 0.01), (0.016, 0.016), (0.0, 0.0)):
        c = passing(wall, margin=margin)
        result = check(c)
        assert cable_pair(result, "wall").margin == asked
        near = [f for f in result.findings if (f.kind, f.piece) == ("near-hit", "cable")]
        # 17.3 to 18 mm are there
        assert len(near) == 0
    c = passing(wall, margin=0.019)
    (near,) = [f for f in check(c).findings if f.kind == "near-hit"]
    assert near.level is Level.WATCH and (near.piece, near.body) == ("cable", "wall")
    assert "able to wall: " in near.text and "margin 19 mm" in near.text


def test_a_margin_wider_than_all_others_is_still_told_apart():
    c = passing(wall, margin=0.09)
    result = check(c)
    assert result.cap > 0.09
    assert any((f.kind, f.piece) == ("near-hit", "cable") for f in result.findings)
    profile = clearance_profile(c, result.trajectory, moves=result.moves)
    least = np.nanargmin(profile.guaranteed)
    assert profile.margin[least] == 0.09 and profile.piece[least] == "cable"


def linked(*cables):
    links = [box((0.1, 0.1, 0.1))] * 7
    points = {"home": HOME, "end": HOME + 0.05}
    made = cell(points, [joint("end")], bodies=[body(box(at=(0, 0, -3)), "floor")], links=links)
    return dataclasses.replace(made, cables=cables)


def test_a_cable_meets_what_its_link_would_meet():
    on = [Cable(f"cable {link}", link, POINTS, 0.01, 0.0) for link in (1, 3, 4, 6)]
    pairs = {(piece.name, held.name) for piece, held in own_pairs(linked(*on))}
    mine = {pair for pair in pairs if "cable" in pair[0] + pair[1]}
    torch = ("nozzle", "wire")
    expected = {(f"link {k}", "cable 1") for k in (3, 4, 5, 6)}
    expected |= {(f"link {k}", "cable 3") for k in (5, 6)} | {("cable 3", "link 1")}
    expected |= {("link 6", "cable 4"), ("cable 4", "link 1"), ("cable 4", "link 2")}
    expected |= {("cable 3", "cable 1"), ("cable 4", "cable 1")}
    expected |= {(piece, f"cable {k}") for piece in (*torch, "cable 6") for k in (1, 3, 4)}
    expected |= {("cable 6", f"link {k}") for k in (1, 2, 3, 4, 5)}
    assert mine == expected


@pytest.mark.parametrize("engine", ENGINES)
def test_a_cable_that_hits_a_link_of_its_own_arm_stops(engine):
    c = linked()
    T = c.arm.link_poses(HOME[None])[0]
    # from the flange to the middle of link 2's block
    points = np.array([[0.0, 0.0, 0.02], (np.linalg.inv(T[6]) @ T[2])[:3, 3]])
    c = dataclasses.replace(c, cables=(Cable("cable", 6, points, 0.01, 0.0),))
    result = check(c, engine=engine(c))
    hit = {f.body for f in result.findings if (f.kind, f.piece) == ("contact", "cable")}
    assert "link 2" in hit and "link 6" not in hit


def test_both_engines_say_the_same_of_every_pair_with_a_cable():
    rng, told = np.random.default_rng(8), 0
    for _ in range(6):
        points = rng.uniform(-0.2, 0.3, (3, 3))
        link = int(rng.integers(2, 7))
        c = linked(Cable("cable", link, points, 0.02, 0.01))
        spot = apply(c.arm.link_poses(HOME[None])[0][link], points.mean(axis=0)[None])[0]
        block = body(box((0.05, 0.05, 0.05), spot + rng.uniform(-0.08, 0.08, 3)), "block")
        c = dataclasses.replace(c, bodies=(block,))
        moves = [check(c, engine=kind(c)).moves[0] for kind in ENGINES]
        for a, b in zip(*((*m.pairs, *m.own) for m in moves), strict=True):
            assert (a.piece, a.body) == (b.piece, b.body)
            if "cable" not in (a.piece, a.body):
                continue
            told += not a.clearance.is_capped
            assert a.clearance.touches == b.clearance.touches
            assert abs(a.clearance.lower - b.clearance.lower) <= TOLERANCE + 2 * PATH_ERROR
            if a.body.startswith("link"):
                assert a.clearance.lower <= OWN_CAP
    assert told >= 6


def test_rounded_corners_ask_for_the_cables_margin_too():
    c = passing(wall, margin=0.03)
    moves = (dataclasses.replace(linear("end"), rounding=0.01), linear("away"))
    away = dataclasses.replace(c.points["end"], name="away", q=at(c, WAY + [0.05, 0, 0]))
    program = dataclasses.replace(c.program, moves=moves)
    c = dataclasses.replace(c, points={**c.points, "away": away}, program=program)
    rounded = [
        p for m in check(c).moves for p in m.pairs if p.stretch.corner and p.piece == "cable"
    ]
    assert rounded and all(pair.margin == 0.03 for pair in rounded)


def test_what_is_not_in_the_model_is_said_with_and_without_a_cable():
    for count in (0, 1, 2):
        cables = [Cable(f"cable {k}", 6, POINTS, 0.01) for k in range(count)]
        result = check(linked(*cables))
        (said,) = [i for i in result.left_out if i.what == "cables and hoses"]
        assert not said.is_agreed
        if count:
            assert f"{count} modelled; free spans between links not checked" in said.why
        else:
            assert said.why == "they are not in the model"
        notes = [f for f in result.findings if f.kind == "cable"]
        assert len(notes) == count and all(f.level is Level.NOTE for f in notes)
        assert all("as the cell does not say" in f.text for f in notes)
