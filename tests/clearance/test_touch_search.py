"""A touch search wants one contact, and that alone: what else it meets is found by both engines."""

import dataclasses
import io
import json

import jsonschema
import numpy as np
import pytest
from rich.console import Console

from pathsim.check import check
from pathsim.clearance.contact_rules import Zone
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.stretches import stretches
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CellError, MotionError
from pathsim.findings import FindingKind, Level
from pathsim.findings.search_touch import search_touch
from pathsim.model.pause import Pause
from pathsim.motion import PATH_ERROR, MoveCache, plan_program
from pathsim.motion.search_move import search_times
from pathsim.report import result_as_json
from pathsim.report.sheet_seams import seam_numbers
from pathsim.report.text import print_result
from pathsim.result.as_json import schema
from pathsim.scene.seam_words import short_wanted_lines, wanted_lines_of
from tests.builders import joint, linear
from tests.clearance.oracle import dense_distances
from tests.clearance.searches import (
    ACROSS,
    RADIUS,
    UP,
    leant,
    nozzle,
    plate,
    rib,
    search,
    search_cell,
)

ENGINES = [FastEngine, ReferenceEngine]
USUAL = {"overtravel": 0.005, "margin": 0.004}
#: What the cells of these tests always lack.
_OF_CELL = (FindingKind.NOT_CHECKED, FindingKind.UNLIKELY_TORCH)


def grave(c, engine=FastEngine):
    found = check(c, engine=engine(c)).findings
    return [f for f in found if f.level is not Level.NOTE and f.kind not in _OF_CELL]


def stops(c, engine=FastEngine):
    return {(f.move, f.piece, f.body) for f in grave(c, engine) if f.kind is FindingKind.CONTACT}


def touched(c, engine=FastEngine):
    (track,) = (t for t in plan_program(c).tracks if t.move.search is not None)
    return search_touch(engine(c), c, track, c.wanted(track.move))


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("overtravel", [0.0, 0.001, 0.005])
@pytest.mark.parametrize("lean", [0.0, 0.3, -0.3])
def test_a_search_squarely_onto_a_plate_is_clear(engine, overtravel, lean):
    c = search_cell([plate()], lean=lean, overtravel=overtravel, margin=0.002)
    assert grave(c, engine) == []


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("top", [-0.004, -0.0005, 0.0, 0.003, 0.012])
def test_it_touches_where_the_plate_is(engine, top):
    found = touched(search_cell([plate(top)], **USUAL), engine)
    assert found.taught == pytest.approx(0.025, abs=1e-6)
    assert found.whole == pytest.approx(0.030, abs=1e-6)
    assert found.touch == pytest.approx(0.025 - top, abs=2e-5)
    assert found.slope == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("lean", [0.2, -0.5])
def test_a_leaning_wire_touches_with_its_rim(lean):
    found = touched(search_cell([plate()], lean=lean, **USUAL))
    rim = RADIUS * abs(np.sin(lean))
    assert found.touch == pytest.approx(0.025 - rim, abs=5e-5)


@pytest.mark.parametrize("angle", [0.5, 1.0, 1.4])
def test_the_slope_is_that_of_the_search_against_the_face(angle):
    start = 0.03 * (np.cos(angle) * UP + np.sin(angle) * ACROSS)
    c = search_cell([plate()], start=start, overtravel=0.002, margin=0.001)
    assert touched(c).slope == pytest.approx(angle, abs=0.02)
    slides = [f for f in grave(c) if f.kind is FindingKind.TOUCH_SEARCH and "slope" in f.numbers]
    assert bool(slides) == (angle > np.radians(60))


def test_it_goes_on_by_its_overtravel_and_the_next_move_starts_at_the_point_taught():
    c = search_cell([plate()], **USUAL)
    tracks = plan_program(c).tracks
    times = search_times(c, tracks[1])
    start, taught, turned = c.tips(
        tracks[1].q_at([float(tracks[1].t[0]), times.taught, times.turned])
    )
    assert taught - start == pytest.approx(-0.025 * UP, abs=1e-6)
    assert turned - start == pytest.approx(-0.030 * UP, abs=1e-6)
    assert c.tips(tracks[1].q)[-1] == pytest.approx(taught, abs=1e-8)
    assert (tracks[2].q[0] == tracks[1].q[-1]).all() and tracks[2].continuous
    plain = plan_program(search_cell([plate()])).tracks
    # Out and back again over 5 mm: twice the seconds of a straight move of 5 mm.
    short = plan_program(search_cell([plate()], height=0.005)).tracks[1]
    assert tracks[1].duration == pytest.approx(plain[1].duration + 2 * short.duration, abs=2e-3)
    assert tracks[1].slow_duration == pytest.approx(
        plain[1].slow_duration + 2 * short.slow_duration, rel=1e-3
    )


def test_a_wait_with_a_pause_behind_a_search_stands_at_the_point_taught():
    still = search("touch", **USUAL).waiting(1.5, (Pause(1.0, wait_for="the clamp"),))
    c = search_cell([plate()], moves=[joint("above"), still, linear("retract"), joint("home")])
    track = plan_program(c).tracks[1]
    assert track.duration == pytest.approx(plan_program(search_cell(
        [plate()], **USUAL)).tracks[1].duration + 1.5)  # fmt: skip
    assert (track.q[-1] == track.q[-2]).all() and track.move.pauses == still.pauses


def test_the_tip_stays_on_its_straight_line_with_overtravel():
    c = search_cell([plate()], overtravel=0.05, margin=0.001, wire=0.08)
    tips = c.tips(plan_program(c).tracks[1].q)
    off = (tips - tips[0]) - np.outer((tips - tips[0]) @ UP, UP)
    assert np.linalg.norm(off, axis=1).max() <= PATH_ERROR


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("aside", [0.0003, -0.0003])
def test_a_rib_in_the_wires_way_is_a_stop_and_said_to_be_found_first(engine, aside):
    c = search_cell([plate(), rib(aside, 0.008, 0.003)], **USUAL)
    assert (2, "wire", "rib") in stops(c, engine)
    (said,) = (f for f in grave(c, engine) if (f.move, f.piece, f.body) == (2, "wire", "rib"))
    assert "the search finds the rib and not the plate" in said.text


@pytest.mark.parametrize("engine", ENGINES)
def test_the_nozzle_hits_a_rib_that_the_wire_misses(engine):
    c = search_cell([plate(), rib(0.006, 0.02)], **USUAL)
    assert {(p, b) for m, p, b in stops(c, engine) if m == 2} == {("nozzle", "rib")}


@pytest.mark.parametrize("engine", ENGINES)
def test_what_is_met_in_the_overtravel_alone_is_found(engine):
    """Through a hole in the plate the arm would go on to a pin below it."""
    bodies = [plate(aside=0.1 + 0.004), plate(aside=-0.1 - 0.004, name="other"),
              rib(0.0002, 0.003, 0.002, "pin")]  # fmt: skip
    bodies[2] = dataclasses.replace(bodies[2], T_world_body=_down(0.0095))
    c = search_cell(bodies, overtravel=0.008, margin=0.0005)
    assert (2, "wire", "pin") in stops(c, engine)
    shorter = search_cell(bodies, overtravel=0.001, margin=0.0005)
    assert stops(shorter, engine) == set()


def _down(by):
    T = np.eye(4)
    T[:3, 3] = -by * UP
    return T


@pytest.mark.parametrize("engine", ENGINES)
def test_another_body_of_the_same_shape_has_no_rights(engine):
    for bodies in ([plate(), plate(name="liner")], [plate(name="liner"), plate()]):
        c = search_cell(bodies, **USUAL)
        assert (2, "wire", "liner") in stops(c, engine)
        assert not any(body == "plate" for _, _, body in stops(c, engine))


@pytest.mark.parametrize("engine", ENGINES)
def test_only_the_named_piece_may_touch(engine):
    deep = search_cell([plate()], overtravel=0.02, margin=0.0)
    assert (2, "nozzle", "plate") in stops(deep, engine)


def test_of_the_wire_only_its_end_may_touch():
    """A lug of the plate itself beside the wire, above its end and clear of the nozzle."""
    lug = rib(0.0003, 0.004, 0.004)
    high = dataclasses.replace(lug, T_world_body=_down(-0.009), name="lug")
    both = _one_body([plate(), high])
    pieces = (nozzle(0.002, back=0.004),)
    for end, expected in ((0.003, True), (0.014, False)):
        c = search_cell([both], overtravel=0.001, margin=0.0, wire_end=end, pieces=pieces)
        assert ((2, "wire", "plate") in stops(c)) == expected


def _one_body(bodies):
    mesh = bodies[0].mesh
    vertices, faces = [mesh.vertices], [mesh.faces]
    for one in bodies[1:]:
        faces.append(one.mesh.faces + sum(len(v) for v in vertices))
        vertices.append(one.mesh.vertices + one.T_world_body[:3, 3])
    return dataclasses.replace(
        bodies[0], mesh=type(mesh)(np.concatenate(vertices), np.concatenate(faces))
    )


@pytest.mark.parametrize("engine", ENGINES)
def test_a_rib_of_the_searched_plate_itself_is_found_first(engine):
    one = _one_body([plate(), rib(-0.0001, 0.004, 0.004)])
    c = search_cell([one], wire_end=0.01, **USUAL)
    # The rib reaches over the wire's place: 4 mm are missing.
    (said,) = (f for f in grave(c, engine) if f.kind is FindingKind.TOUCH_SEARCH)
    assert said.level is Level.WATCH and said.numbers["off"] == pytest.approx(0.004, abs=2e-5)
    assert "4.0 mm before 'touch'" in said.text


@pytest.mark.parametrize("engine", ENGINES)
def test_a_search_that_meets_nothing_is_a_stop(engine):
    c = search_cell([plate(-0.008)], **USUAL)
    (said,) = grave(c, engine)
    assert (said.level, said.kind) == (Level.STOP, FindingKind.TOUCH_SEARCH)
    assert said.numbers["nearest"] == pytest.approx(0.003, abs=6e-4)
    assert said.numbers["nearest"] <= 0.003


def test_a_search_that_starts_at_its_body_is_a_stop():
    found = grave(search_cell([plate(0.0245)], margin=0.0))
    assert any(f.level is Level.STOP and "already where the search starts" in f.text for f in found)


def test_a_search_that_starts_inside_its_body_is_a_stop():
    found = grave(search_cell([plate(0.03)], margin=0.0, wire_end=0.02))
    assert any(f.kind is FindingKind.TOUCH_SEARCH and f.level is Level.STOP for f in found)


@pytest.mark.parametrize("speed, said", [(0.05, False), (0.0501, True), (0.2, True)])
def test_a_fast_search_is_said(speed, said):
    found = grave(search_cell([plate()], speed=speed, **USUAL))
    assert bool([f for f in found if "speed" in f.numbers]) == said
    if speed == 0.2:  # v^2 / 2a with 3 m/s2
        assert "6.7 mm to stop" in found[0].text


@pytest.mark.parametrize("known_to, said", [(0.004, False), (0.006, True)])
def test_overtravel_has_to_reach_a_body_that_may_be_off(known_to, said):
    bodies = [dataclasses.replace(plate(), known_to=known_to)]
    found = grave(search_cell(bodies, overtravel=0.005, margin=0.001))
    assert bool([f for f in found if "needed" in f.numbers]) == said


@pytest.mark.parametrize("engine", ENGINES)
def test_behind_a_search_the_wire_may_only_touch_near_the_point(engine):
    """It leaves along the plate, too low: the wire's end drags over the plate."""
    points = {"drag": 0.03 * ACROSS - 0.0005 * UP, "retract": 0.03 * ACROSS + 0.08 * UP}
    moves = [joint("above"), search("touch", **USUAL), linear("drag"), linear("retract"),
             joint("home")]  # fmt: skip
    c = search_cell([plate()], moves=moves, points=points)
    assert {(3, "wire", "plate"), (4, "wire", "plate")} <= stops(c, engine)


@pytest.mark.parametrize("engine", ENGINES)
def test_close_behind_a_search_the_wire_must_be_off_after_its_end(engine):
    """It drags over the plate for 12 mm, less than the zone behind a search: 5 mm are allowed."""
    points = {"drag": 0.012 * ACROSS - 0.0005 * UP, "retract": 0.012 * ACROSS + 0.08 * UP}
    moves = [joint("above"), search("touch", **USUAL), linear("drag"), linear("retract"),
             joint("home")]  # fmt: skip
    c = search_cell([plate()], moves=moves, points=points)
    assert (3, "wire", "plate") in stops(c, engine)
    lifted = {"drag": 0.012 * ACROSS + 0.012 * UP, "retract": 0.012 * ACROSS + 0.08 * UP}
    assert stops(search_cell([plate()], moves=moves, points=lifted), engine) == set()


def test_zones_and_margins():
    c = search_cell([plate()], **USUAL)
    trajectory = plan_program(c)
    zones = [[(p.zone, p.margin(c.margins)) for p in stretches(c, trajectory, t)]
             for t in trajectory.tracks]  # fmt: skip
    air = c.margins.air
    assert zones == [
        [(Zone.AIR, air)], [(Zone.SEARCH, 0.004)], [(Zone.SEARCH, 0.004), (Zone.AIR, air)],
        [(Zone.AIR, air)],
    ]  # fmt: skip
    part = stretches(c, trajectory, trajectory.tracks[2])[0]
    away = c.tips(trajectory.tracks[2].q_at([part.start, part.end]))
    assert np.linalg.norm(away[1] - away[0]) == pytest.approx(c.torch.wire_length, abs=5e-4)
    unsaid = search_cell([plate()], overtravel=0.004)
    assert stretches(unsaid, plan_program(unsaid), plan_program(unsaid).tracks[1])[0].margin(
        unsaid.margins) == air  # fmt: skip


@pytest.mark.parametrize("engine", ENGINES)
def test_a_nozzle_may_search_too(engine):
    """The wire is cut off flush: the nozzle's rim, 1 mm in front of it, meets the plate."""
    flush = {"pieces": (nozzle(back=-0.016),), "wire": 0.0005, "end": 0.001 * UP}
    c = search_cell([plate()], piece="nozzle", overtravel=0.0005, margin=0.0, **flush)
    assert grave(c, engine) == []
    found = touched(c, engine)
    assert found.touch == pytest.approx(0.025, abs=2e-5)
    assert (2, "nozzle", "plate") in stops(search_cell([plate()], margin=0.0, **flush), engine)


def test_no_contact_that_samples_see_is_left_unsaid():
    """Ribs anywhere beside the search, against dense samples that know no rule but its own."""
    rng = np.random.default_rng(20)
    seen = 0
    for _ in range(25):
        side = rng.choice([-1.0, 1.0])
        ribs = [rib(side * rng.uniform(0.0006, 0.012), rng.uniform(0.001, 0.03))]
        lean = rng.uniform(-0.4, 0.4)
        c = search_cell([plate(rng.uniform(-0.004, 0.002)), *ribs], lean=lean,
                        overtravel=rng.uniform(0.0, 0.008) + 1e-4, margin=0.001)  # fmt: skip
        said = {(m, p, b) for m, p, b in stops(c) if m == 2}
        track = plan_program(c).tracks[1]
        for piece in c.arm_pieces:
            for thing in obstacles(c):
                if (piece.name, thing.name) == ("wire", "plate"):
                    continue
                window = float(track.t[0]), float(track.t[-1])
                _, distances = dense_distances(c, track, piece, thing, window, 200)
                if distances.min() <= 0.0:
                    seen += 1
                    assert (2, piece.name, thing.name) in said
                elif distances.min() > 0.001:
                    assert (2, piece.name, thing.name) not in said
    assert seen > 10


def test_the_chart_leaves_out_the_wanted_pair_alone():
    c = search_cell([plate(), rib(0.012, 0.02)], **USUAL)
    trajectory = plan_program(c)
    profile = clearance_profile(c, trajectory, FastEngine(c))
    here = profile.move == 2
    pairs = set(zip(np.array(profile.piece)[here], np.array(profile.body)[here], strict=True))
    assert ("wire", "plate") not in pairs and ("nozzle", "rib") in pairs
    assert np.nanmin(profile.guaranteed[here[1:] & here[:-1]]) == pytest.approx(0.004, abs=6e-4)


def test_results_say_loudly_what_is_not_checked():
    result = check(search_cell([plate()], **USUAL))
    lacking = [item for item in result.left_out if not item.is_agreed]
    (said,) = (item for item in lacking if "search of move 2" in item.what)
    assert said.moves == (3, 4) and "where it is drawn" in said.why
    agreed = [item.what for item in result.left_out if item.is_agreed]
    assert "the wire's last 10.0 mm against the plate" in agreed
    (row,) = (s for s in result.seams if s.kind is FindingKind.SEARCH)
    for words in ("25.0 mm and 5.0 mm of overtravel", "touches after 25.0 mm, at the point taught",
                  "bends the wire by 5.0 mm", "0.0 deg off square"):  # fmt: skip
        assert words in row.text


def test_rows_stand_in_the_table_the_json_the_window_and_on_the_sheet():
    result = check(search_cell([plate(0.004)], **USUAL))
    (row,) = (s for s in result.seams if s.kind is FindingKind.SEARCH)
    console = Console(file=io.StringIO(), width=600)
    print_result(result, console)
    assert row.text.partition(": ")[2] in console.file.getvalue()
    document = json.loads(result_as_json(result))
    jsonschema.validate(document, schema())
    touches = [s["numbers_si"]["touch"] for s in document["seams"] if s["kind"] == "search"]
    assert touches == [pytest.approx(0.021, abs=2e-5)]
    assert document["moves"][1]["kind"] == "search"
    pairs = document["moves"][1]["wire_pairs"]
    assert {(p["zone"], p["margin_mm"]) for p in pairs} == {("search", 0.0)}
    assert wanted_lines_of(result, 2) == (row.text,) and wanted_lines_of(result, 3) == ()
    short = "Search, move 2: touches after 21.0 mm, taught at 25.0 mm"
    assert short_wanted_lines(result) == (short,)
    assert any("touches after 21.0 mm, 4.0 mm before" in line for line in seam_numbers(result))


def test_a_search_has_a_direction_and_names_what_is_there():
    none = search_cell([plate()], moves=[joint("above"), search("above"), joint("home")])
    with pytest.raises(MotionError, match="no direction"):
        plan_program(none)
    with pytest.raises(CellError, match="plate"):
        search_cell([plate()], body="plat")
    with pytest.raises(CellError, match="nozzle"):
        search_cell([plate()], piece="nozle")
    with pytest.raises(CellError, match="straight move"):
        dataclasses.replace(search("touch"), rounding=0.01)
    with pytest.raises(CellError, match="speed"):
        search("touch", speed=0.3)


def test_overtravel_out_of_reach_stops_the_search():
    far = {"above": 0.02 * UP, "touch": np.zeros(3)}
    way = 0.0
    for way in np.arange(0.1, 1.2, 0.02):
        try:
            leant(-(way + 0.09) * UP, 0.0)
        except ValueError:
            break
    points = {name: place - way * UP for name, place in far.items()}
    points["retract"] = points["above"]
    c = search_cell([plate(-way)], points=points, overtravel=0.1, margin=0.0)
    track = plan_program(c).tracks[1]
    assert track.fault is not None and 0.0 < track.fault.share < 1.0
    assert track.share(float(track.t[-1])) == pytest.approx(track.fault.share)
    assert any(f.move == 2 and f.kind is FindingKind.OUT_OF_REACH for f in check(c).findings)


def test_a_kept_search_is_not_taken_for_one_with_another_overtravel():
    kept = MoveCache()
    tracks = [plan_program(search_cell([plate()], overtravel=by), kept).tracks[1]
              for by in (0.005, 0.006, 0.005)]  # fmt: skip
    assert tracks[0].kept is tracks[2].kept and tracks[1].kept is not tracks[0].kept
    assert tracks[1].duration > tracks[0].duration == pytest.approx(tracks[2].duration)
