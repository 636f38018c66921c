"""At a station one piece of the torch may touch one body, near the point inside; nothing else."""

import dataclasses

import numpy as np
import pytest

from pathsim.advice.compare import unfolded
from pathsim.check import check
from pathsim.clearance.contact_rules import Zone
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.stretches import stretches
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CellError
from pathsim.findings import FindingKind, Level
from pathsim.model import Move, MoveKind
from pathsim.model.wanted_contact import Station, StationKind
from pathsim.motion import plan_program
from pathsim.transforms import translation
from tests.builders import joint, linear
from tests.clearance.joints import ACROSS, UP, solid
from tests.clearance.oracle import dense_distances
from tests.clearance.searches import search_cell

ENGINES = [FastEngine, ReferenceEngine]
_OF_CELL = (FindingKind.NOT_CHECKED, FindingKind.UNLIKELY_TORCH)
#: The nozzle ends 15 mm above the tip: a block whose top is 35 mm above the point inside.
TOP, DEPTH = 0.035, 0.03


def visit(target, speed=0.05, wait=0.0, body="cleaner"):
    return Move(MoveKind.LINEAR, target, speed, wait=wait, station=body)


def walls(name="cleaner", gap=0.007, top=TOP, thick=0.02):
    """Two walls with a gap that the wire has room in and the nozzle (8 mm) has not, as one."""
    one = solid((thick, 0.1, 0.06), (gap + thick / 2, 0.0, top - 0.03), name=name)
    two = solid((thick, 0.1, 0.06), (-gap - thick / 2, 0.0, top - 0.03), name=name)
    mesh = type(one.mesh)
    vertices = np.concatenate([one.mesh.vertices, two.mesh.vertices])
    faces = np.concatenate([one.mesh.faces, two.mesh.faces + len(one.mesh.vertices)])
    return dataclasses.replace(one, mesh=mesh(vertices, faces))


def station_cell(bodies=None, moves=None, points=None, wait=2.0, **of_station):
    """A cell that goes from 80 mm above straight into a cleaner, stays, and comes out again."""
    moves = moves or [joint("above"), visit("touch", wait=wait), visit("above"), joint("home")]
    bodies = [walls()] if bodies is None else bodies
    c = search_cell(bodies, moves=[joint("above")], height=0.08, points=points)
    said = {"kind": StationKind.CLEANER, "piece": "nozzle", "depth": DEPTH, "margin": 0.002}
    station = Station("cleaner", **(said | of_station))
    return dataclasses.replace(
        c, stations=(station,), program=dataclasses.replace(c.program, moves=tuple(moves))
    )


def grave(c, engine=FastEngine):
    found = check(c, engine=engine(c)).findings
    return [f for f in found if f.level is not Level.NOTE and f.kind not in _OF_CELL]


def stops(c, engine=FastEngine):
    """Contacts that are said, also those that are told with a doubt about a body."""
    found = unfolded(grave(c, engine))
    return {(f.move, f.piece, f.body) for f in found if f.kind is FindingKind.CONTACT}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_visit_to_a_cleaner_is_clear(engine):
    assert grave(station_cell(), engine) == []


@pytest.mark.parametrize("engine", ENGINES)
def test_the_same_moves_without_the_word_are_stops(engine):
    moves = [joint("above"), linear("touch"), linear("above"), joint("home")]
    assert {(2, "nozzle", "cleaner"), (3, "nozzle", "cleaner")} == stops(
        station_cell(moves=moves), engine
    )


@pytest.mark.parametrize("engine", ENGINES)
def test_contact_farther_out_than_the_depth_is_a_stop(engine):
    """The nozzle meets the walls 20 mm before the point inside."""
    assert stops(station_cell(depth=0.022), engine) == set()
    assert {(2, "nozzle", "cleaner"), (3, "nozzle", "cleaner")} == stops(
        station_cell(depth=0.018), engine
    )
    (said, *_) = (f for f in grave(station_cell(depth=0.018)) if f.move == 2)
    assert "only within 18.0 mm of the point inside" in said.text


@pytest.mark.parametrize("engine", ENGINES)
def test_who_leaves_without_the_word_is_stopped(engine):
    moves = [joint("above"), visit("touch"), linear("above"), joint("home")]
    assert (3, "nozzle", "cleaner") in stops(station_cell(moves=moves), engine)


@pytest.mark.parametrize("engine", ENGINES)
def test_no_other_piece_may_touch_it_and_it_may_touch_nothing_else(engine):
    plug = solid((0.004, 0.02, 0.02), (0.0, 0.0, 0.003), name="plug")
    assert {(2, "wire", "plug"), (3, "wire", "plug")} == stops(
        station_cell([walls(), plug]), engine
    )
    narrow = walls(gap=0.0004)
    assert {(2, "wire", "cleaner"), (3, "wire", "cleaner")} == stops(station_cell([narrow]), engine)
    twin = walls("housing")
    assert {(2, "nozzle", "housing"), (3, "nozzle", "housing")} == stops(
        station_cell([walls(), twin]), engine
    )


@pytest.mark.parametrize("engine", ENGINES)
def test_a_move_on_through_the_station_ends_its_right(engine):
    """Inside it goes 40 mm aside through the wall: beyond its depth that is a stop."""
    points = {"aside": 0.04 * ACROSS}
    moves = [joint("above"), visit("touch"), visit("aside"), visit("above"), joint("home")]
    deep = dataclasses.replace(station_cell(moves=moves, points=points, depth=0.01))
    assert (3, "nozzle", "cleaner") in stops(deep, engine)


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("again", [False, True])
def test_between_two_visits_the_station_may_not_be_touched(again, engine):
    """It comes out beside a post of the station; going in once more makes that no place inside."""
    post = solid((0.02, 0.02, 0.06), (-0.0275, 0.0, 0.135)).mesh
    one = walls()
    vertices = np.concatenate([one.mesh.vertices, post.vertices])
    faces = np.concatenate([one.mesh.faces, post.faces + len(one.mesh.vertices)])
    both = dataclasses.replace(one, mesh=type(post)(vertices, faces))
    points = {"aside": -0.01 * ACROSS + 0.09 * UP}
    once_more = [visit("touch"), visit("above")] if again else []
    moves = [joint("above"), visit("touch"), visit("aside"), *once_more, joint("home")]
    touched = {(3, "nozzle", "cleaner"), (4, "nozzle", "cleaner")}
    assert stops(station_cell([both], moves, points), engine) == touched
    moves = [joint("above"), visit("touch"), visit("above"), *once_more, joint("home")]
    assert stops(station_cell([both], moves, points), engine) == set()


def test_zones_and_margin():
    c = station_cell()
    trajectory = plan_program(c)
    found = [(p.zone, p.margin(c.margins)) for t in trajectory.tracks
             for p in stretches(c, trajectory, t)]  # fmt: skip
    air = (Zone.AIR, c.margins.air)
    assert found == [air, (Zone.STATION, 0.002), (Zone.STATION, 0.002), air]
    unsaid = station_cell(margin=None)
    assert stretches(unsaid, trajectory, trajectory.tracks[1])[0].margin(unsaid.margins) == 0.01


def test_a_cutter_takes_the_wire_and_not_the_nozzle():
    block = solid((0.05, 0.05, 0.02), (0.0, 0.0, -0.01 + 0.006), name="cleaner")
    cutter = {"kind": StationKind.CUTTER, "piece": "wire", "cuts_to": 0.015, "depth": 0.01}
    assert grave(station_cell([block], **cutter)) == []
    assert (2, "wire", "cleaner") in stops(station_cell([block], **(cutter | {"depth": 0.004})))
    longer = station_cell([block], **(cutter | {"cuts_to": 0.018}))
    (said,) = grave(longer)
    assert (said.level, said.kind) == (Level.WATCH, FindingKind.STATION_USE)
    assert "leaves 18.0 mm of wire" in said.text and "drawn with 15.0 mm" in said.text
    shorter = station_cell([block], **(cutter | {"cuts_to": 0.012}))
    assert grave(shorter) == []
    notes = [f for f in check(shorter).findings if f.kind is FindingKind.STATION_USE]
    assert any("touches later" in f.text for f in notes)


def test_rows_say_how_deep_and_how_long():
    rows = [s for s in check(station_cell()).seams if s.kind is FindingKind.STATION]
    assert [row.move for row in rows] == [2, 3]
    assert rows[0].numbers["touching"] == pytest.approx(0.02, abs=1e-3)
    assert rows[1].numbers["touching"] == pytest.approx(0.02, abs=1e-3)
    assert "goes into the cleaner" in rows[0].text and "stays 2 s" in rows[0].text
    assert "comes out of the cleaner" in rows[1].text and "stays" not in rows[1].text
    wide = check(station_cell([walls(gap=0.02)])).seams
    assert all("it does not as drawn" in s.text for s in wide if s.kind is FindingKind.STATION)


@pytest.mark.parametrize("wait, speed, said", [(2.0, 0.1, ()), (0.0, 0.1, ("no wait",)),
                                               (2.0, 0.2, ("200 mm/s",))])  # fmt: skip
def test_habits_at_a_station_are_notes(wait, speed, said):
    moves = [joint("above"), visit("touch", speed, wait), visit("above"), joint("home")]
    found = check(station_cell(moves=moves)).findings
    notes = [f.text for f in found if f.kind is FindingKind.STATION_USE]
    assert len(notes) == len(said)
    assert all(words in note for words, note in zip(said, notes, strict=True))


def test_left_out_names_the_pair_and_the_moves():
    (item,) = (i for i in check(station_cell()).left_out if "cleaner" in i.what)
    assert item.is_agreed and item.moves == (2, 3)
    assert "the nozzle against the cleaner" in item.what and "30.0 mm" in item.why


def test_a_station_names_what_is_there():
    with pytest.raises(CellError, match="station"):
        station_cell(moves=[joint("above"), visit("touch", body="clener"), joint("home")])
    with pytest.raises(CellError, match="nozzle"):
        station_cell(piece="nozle")
    with pytest.raises(CellError, match="cutter"):
        Station("b", StationKind.GAUGE, "wire", 0.01, cuts_to=0.01)
    with pytest.raises(CellError, match="straight move"):
        Move(MoveKind.JOINT, "touch", 0.5, station="cleaner")


def test_no_contact_that_samples_see_is_left_unsaid():
    """Pins anywhere beside the station, against dense samples."""
    rng = np.random.default_rng(7)
    seen = 0
    for _ in range(15):
        pin = solid((0.003, 0.003, rng.uniform(0.01, 0.06)), name="pin")
        T = np.eye(4)
        T[:3, 3] = rng.uniform(-0.012, 0.012) * ACROSS + rng.uniform(0.0, 0.05) * UP
        c = station_cell([walls(), dataclasses.replace(pin, T_world_body=T)], margin=0.0005)
        said, tracks = stops(c), plan_program(c).tracks
        for track in tracks[1:3]:
            for piece in c.arm_pieces:
                for thing in obstacles(c):
                    if (piece.name, thing.name) == ("nozzle", "cleaner"):
                        continue
                    window = float(track.t[0]), float(track.t[-1])
                    _, distances = dense_distances(c, track, piece, thing, window, 150)
                    if distances.min() <= 0.0:
                        seen += 1
                        assert (track.number, piece.name, thing.name) in said
    assert seen > 5


def cleaner_of_two(gap=0.007):
    """A cleaner that consists of two bodies, a wall each, as the cell draws them."""
    sides = []
    for name, sign in (("cleaner", 1.0), ("brush", -1.0)):
        place = (sign * (gap + 0.01), 0.0, TOP - 0.03)
        sides.append(solid((0.02, 0.1, 0.06), place, name=name))
    return sides


@pytest.mark.parametrize("engine", ENGINES)
def test_a_station_of_two_bodies_may_be_touched_on_both(engine):
    bodies = cleaner_of_two()
    assert {(2, "nozzle", "brush"), (3, "nozzle", "brush")} == stops(station_cell(bodies), engine)
    assert stops(station_cell(bodies, also=("brush",)), engine) == set()
    # farther out than its depth both are told; without the word both are too
    both = {(2, "nozzle", "cleaner"), (2, "nozzle", "brush"),
            (3, "nozzle", "cleaner"), (3, "nozzle", "brush")}  # fmt: skip
    assert stops(station_cell(bodies, depth=0.018, also=("brush",)), engine) == both
    moves = [joint("above"), linear("touch"), linear("above"), joint("home")]
    assert stops(station_cell(bodies, moves, also=("brush",)), engine) == both


@pytest.mark.parametrize("engine", ENGINES)
def test_beside_a_station_of_two_bodies_a_rib_is_found_and_another_piece_too(engine):
    bodies = cleaner_of_two()
    rib = solid((0.02, 0.02, 0.06), (0.0, 0.016, TOP - 0.03), name="rib")
    plug = solid((0.004, 0.02, 0.02), (0.0, 0.0, 0.003), name="plug")
    for more, met in ((rib, "nozzle"), (plug, "wire")):
        touched = {(2, met, more.name), (3, met, more.name)}
        assert stops(station_cell([*bodies, more], also=("brush",)), engine) == touched
    narrow = cleaner_of_two(gap=0.0004)  # the wire may touch neither of them
    assert stops(station_cell(narrow, also=("brush",)), engine) == {
        (move, "wire", name) for move in (2, 3) for name in ("cleaner", "brush")
    }


def test_of_two_bodies_all_is_said_and_what_is_no_body_refused():
    c = station_cell(cleaner_of_two(), also=("brush",))
    result = check(c)
    (into, out) = [f for f in result.seams if f.kind is FindingKind.STATION]
    assert "goes into the cleaner and the brush (cleaner)" in into.text
    assert "may touch them within 30.0 mm" in into.text and "comes out of" in out.text
    assert any(
        "the nozzle against the cleaner and the brush" in one.what for one in result.left_out
    )
    with pytest.raises(CellError, match="station: also"):
        station_cell(also=("nobody",))
    with pytest.raises(CellError, match="body of it"):
        Station("cleaner", StationKind.CLEANER, "nozzle", DEPTH, also=("cleaner",))


def test_of_two_bodies_it_tells_from_the_first_touch_to_the_last():
    """The brush is 10 mm higher: by hand the nozzle meets it 30 mm before the point inside."""
    low, high = cleaner_of_two()
    plain = station_cell([low, high], also=("brush",), depth=0.04)
    up = translation(0.01 * UP)
    raised = dataclasses.replace(high, T_world_body=up @ high.T_world_body)
    found = []
    for bodies in ([low, high], [low, raised], [raised, low]):
        c = dataclasses.replace(plain, bodies=tuple(bodies))
        into = next(f for f in check(c).seams if f.kind is FindingKind.STATION)
        found.append(into.numbers["touching"])
    assert found[0] == pytest.approx(0.02, abs=5e-4)
    assert found[1:] == pytest.approx([0.03, 0.03], abs=5e-4)
