"""The main job on every sample cell, and each against dense sampling with python-fcl."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.engine import CAP, TOLERANCE
from pathsim.cli.main import main
from pathsim.findings import Level
from pathsim.findings.kinds import FindingKind
from pathsim.motion import PATH_ERROR
from tests.clearance.oracle import dense_distances

SAMPLES = Path(__file__).parents[1] / "sample_cells"
NAMES = [
    "gate_hinge",
    "gate_hinge_no_retract",
    "wrist_in_line",
    "collar_seam",
    "deep_channel",
    "turned_collar",
    "tilted_pipe",
    "hanging_rail",
    "offset_wrist",
    "loose_cable",
    "hinge_stitched",
    "search_beside_rib",
    "three_passes",
    "skewed_web",
]
_results = {}


def result_of(name):
    if name not in _results:
        _results[name] = pathsim.check(pathsim.load_cell(SAMPLES / name))
    return _results[name]


def kinds(result, level):
    return [(f.kind, f.move, f.piece, f.body) for f in result.findings if f.level is level]


def test_every_folder_with_a_cell_is_listed_and_says_what_to_look_for():
    assert {path.parent.name for path in SAMPLES.glob("*/cell.yaml")} == set(NAMES)
    for name in NAMES:
        text = (SAMPLES / name / "README.md").read_text(encoding="utf-8")
        assert "What to look for" in text


@pytest.mark.parametrize(
    "name",
    [
        "gate_hinge",
        "collar_seam",
        "turned_collar",
        "tilted_pipe",
        "hanging_rail",
        "offset_wrist",
        "hinge_stitched",
        "skewed_web",
    ],
)
def test_clear_cells(name):
    result = result_of(name)
    assert result.is_clear
    assert kinds(result, Level.STOP) == kinds(result, Level.WATCH) == []
    for move in result.moves:
        for pair in move.pairs:
            assert pair.clearance.lower >= pair.margin


def test_gate_hinge_without_retract_clips_the_clamp_with_the_neck():
    result = result_of("gate_hinge_no_retract")
    assert kinds(result, Level.STOP) == [("contact", 4, "neck", "left clamp")]
    contact = result.findings[0]
    track = result.moves[3].track
    assert 0.10 < track.share(contact.time) < 0.20
    assert track.detour > 0.1
    # and yet not the cause: straight the nozzle would hit, so the lesson is the way up
    assert "does not travel straight" not in contact.text
    assert "leaves 'weld end' sideways: 68 mm along and 26 mm up" in contact.text
    assert "A straight move would touch too: nozzle and left clamp." in contact.text
    # only the way home differs from the clear cell
    assert {f.move for f in result.findings} == {4}


def test_stitches_pass_over_the_hold_down_by_their_lift():
    result = result_of("hinge_stitched")
    moves = result.cell.program.moves
    assert [m.belongs_to for m in moves if m.written is not None] == [
        "stitch 1 of 2", *["between stitches"] * 3, "stitch 2 of 2",
    ]  # fmt: skip
    line = moves[3].written.said

    def lifted(height):
        other = replace(line, lift=height).move
        return pathsim.check(result.cell.with_program("home", *moves[:3], other, *moves[-2:]))

    low, none = lifted(0.03), lifted(0.0)
    assert kinds(low, Level.STOP) == []
    assert {f.body for f in low.findings if f.level is Level.WATCH} == {"hold-down"}
    assert ("contact", 5, "nozzle", "hold-down") in kinds(none, Level.STOP)


def test_a_skewed_web_is_pushed_one_way_and_dragged_the_other_at_30_deg():
    result = result_of("skewed_web")
    angles = [s for s in result.seams if s.kind == "torch angles"]
    assert [np.degrees(s.numbers["work"]) for s in angles] == pytest.approx([30.0, 30.0], abs=0.1)
    assert [s.brief["travel angle"] for s in angles] == ["10 deg push", "10 deg drag"]
    # Faces 120 deg apart: A = z^2 sin(120) / 2, throat z cos(60).
    area = np.pi / 4 * 1.0**2 * 110 / 7 * 1e-6  # wire area x feed / travel
    legs = {s.numbers["leg"] for s in result.seams if s.kind == "process"}
    assert min(legs) == pytest.approx(np.sqrt(2 * area / np.sin(2 * np.pi / 3)), rel=1e-3)
    assert 2 * max(s.numbers["throat"] for s in result.seams if s.kind == "process") == (
        pytest.approx(max(legs), rel=1e-3)
    )


def test_the_way_back_over_a_groove_runs_through_the_bead_just_laid():
    result = result_of("three_passes")
    assert kinds(result, Level.STOP) == [
        ("contact", 5, "wire", "bead of 'root'"), ("contact", 9, "wire", "bead of 'root'"),
        ("contact", 9, "wire", "bead of 'fill'"),
    ]  # fmt: skip
    # It is no matter of how beads are drawn: A = h^2 tan 30 + 2 mm h, flat between the plates.
    wire = np.pi / 4 * 1.0**2 * 190
    heights = np.sqrt(1 + np.cumsum([wire / 7, wire / 6]) * np.tan(np.pi / 6)) - 1
    heights /= np.tan(np.pi / 6)
    lifted = 1e3 * result.cell.program.moves[2].written.said.lift
    assert heights == pytest.approx([4.6, 7.4], abs=0.05)
    assert (np.array([0.0, 4.0]) + lifted < heights).all()  # root and fill are hit as they are
    said = [f.text for f in result.findings if f.level is Level.STOP]
    assert "It is drawn 8.5 mm high, larger than it comes out." in said[0]
    moves = result.cell.program.moves
    line = moves[2].written.said
    assert [m.belongs_to for m in moves if m.arc_on] == [
        "pass 1 of 3, root", "pass 2 of 3, fill", "pass 3 of 3, cap",
    ]  # fmt: skip

    def with_line(**changes):
        other = replace(line, **changes).move
        return pathsim.check(result.cell.with_program("home", *moves[:2], other, *moves[-2:]))

    assert with_line(lift=0.04).is_clear
    back = replace(line.passes[1], reversed=True)
    assert with_line(lift=0.025, passes=(line.passes[0], back, line.passes[2])).is_clear
    # Two plates of 10 mm, 2 mm apart: 20 mm2 and 100 tan 30 between them, filled by wire / travel.
    areas = np.cumsum([wire / 7, wire / 6, wire / 5])
    notes = [s for s in result.seams if s.kind == "process"]
    assert [n.numbers["groove"] * 1e6 for n in notes] == pytest.approx([77.7] * 3, abs=0.1)
    assert notes[0].numbers["area"] * 1e6 == pytest.approx(areas[0])
    assert [n.numbers["area so far"] * 1e6 for n in notes[1:]] == pytest.approx(areas[1:])


def test_a_search_beside_a_rib_runs_onto_it_with_the_nozzle():
    result = result_of("search_beside_rib")
    assert kinds(result, Level.STOP) == [
        ("contact", 2, "nozzle", "rib"), ("contact", 3, "nozzle", "rib"),
    ]  # fmt: skip
    assert "feels with the wire alone" in result.findings[0].text
    # the wire would meet the plate where it was taught, the nozzle the rib 5 mm before
    (row,) = (s for s in result.seams if s.kind == "search")
    assert row.numbers["touch"] == pytest.approx(row.numbers["taught"], abs=1e-4)
    track = result.moves[1].track
    first = result.findings[0].time  # where contact is first seen, with either engine
    gone = np.linalg.norm(np.diff(result.cell.tips(track.q_at([track.t[0], first])), axis=0))
    assert row.numbers["touch"] - gone == pytest.approx(0.0054, abs=7e-4)
    (of_plate,) = (t for t in result.placement if t.body == "base plate")
    assert of_plate.excluded == "the wire at the weld and the wire on its search"
    # 45 mm beside it, as its README says, it is clear
    taught = {"above plate": [6.600, 32.386, 2.409, -26.091, 92.956, -30.715],
              "plate touch": [6.600, 34.340, 3.936, -26.054, 89.829, -29.185]}  # fmt: skip
    cell = result.cell
    for name, q in taught.items():
        cell = cell.with_point(name, q=np.radians(q))
    assert pathsim.check(cell).is_clear


def test_loose_cable_touches_a_clamp_that_the_torch_misses():
    result = result_of("loose_cable")
    assert kinds(result, Level.STOP) == [("contact", 3, "torch cable", "right clamp")]
    assert "torch cable touches the right clamp" in result.findings[0].text
    hinge = result_of("gate_hinge")
    for move, same in zip(result.moves, hinge.moves, strict=True):
        others = [p for p in move.pairs if p.piece != "torch cable"]
        assert all(pair.clearance.lower >= pair.margin for pair in others)
        np.testing.assert_allclose(
            [p.clearance.lower for p in others],
            [p.clearance.lower for p in same.pairs],
            atol=TOLERANCE + PATH_ERROR,
        )
    # tied to the torch body, as the cell's README says, it is clear
    cable = result.cell.cables[0]
    points = np.array([[0, 20, 80], [0, 32, 140], [0, 32, 180]]) / 1e3
    tied = replace(result.cell, cables=(replace(cable, points=points),))
    assert pathsim.check(tied).is_clear


def test_wrist_in_line_lines_up_on_the_way_down():
    result = result_of("wrist_in_line")
    assert kinds(result, Level.STOP) == []
    assert kinds(result, Level.WATCH) == [("wrist aligned", 2, None, None)]
    finding = result.findings[0]
    assert finding.numbers["angle"] < np.radians(2.5)
    # joint 4 really turns far while the torch goes straight down
    track = result.moves[1].track
    assert np.ptp(track.q[:, 3]) > np.radians(120)
    speed = np.abs(np.diff(track.q[:, 3]) / np.diff(track.t)).max()
    share = finding.numbers["joint speed share"]
    assert speed == pytest.approx(share * result.cell.arm.speed[3], rel=0.02)


def test_collar_seam_goes_three_quarters_round():
    result = result_of("collar_seam")
    track = result.moves[2].track
    assert track.tip_length == pytest.approx(0.75 * 2 * np.pi * 0.045, rel=1e-3)
    turned = np.abs(track.q[-1, 5] - track.q[0, 5])
    assert np.degrees(turned) > 270


def test_tilted_pipe_is_kept_flat_by_both_axes():
    result = result_of("tilted_pipe")
    track = result.moves[2].track
    assert track.tip_length == pytest.approx(0.75 * 2 * np.pi * 0.045, rel=1e-3)
    tilt, turn = np.degrees(track.q[:, -2:]).T
    assert tilt.max() == pytest.approx(60.0, abs=0.2) and tilt.min() == pytest.approx(30, abs=0.2)
    assert np.ptp(turn) > 250

    def rotation(checked):
        (found,) = (f for f in checked.seams if f.kind is FindingKind.WELD_POSITION)
        return np.degrees(found.numbers["rotation least"])

    assert rotation(result) > 89.5
    moves = result.cell.program.moves
    taught = [replace(move, position=None) for move in moves]
    assert rotation(pathsim.check(result.cell.with_program("home", *taught))) < 88.0


def test_turned_collar_stands_still_while_the_part_turns():
    result = result_of("turned_collar")
    track = result.moves[2].track
    assert track.tip_length == pytest.approx(0.75 * 2 * np.pi * 0.045, rel=1e-3)
    tips = result.cell.tool_poses(track.q)[:, :3, 3]
    # the tip leaves its place by the weave's 1.5 mm only
    assert np.linalg.norm(tips - tips[0], axis=1).max() < 0.00155
    assert np.degrees(np.ptp(track.q[:, 6])) == pytest.approx(270, abs=1e-6)
    # what turns is held against what stands, while it turns
    turning = {(p.piece, p.body) for p in result.moves[2].pairs}
    assert ("left stop", "table stand") in turning and ("collar base", "arm base") in turning
    assert ("turning plate", "table stand") not in turning
    assert not any(p.piece == "left stop" for p in result.moves[1].pairs)


def test_hanging_rail_travels_by_rail():
    result = result_of("hanging_rail")
    track = result.moves[2].track
    assert np.ptp(track.q[:, 0]) == pytest.approx(0.6, abs=1e-9)
    # the arm's own joints only weave
    assert np.degrees(np.ptp(track.q[:, 1:], axis=0)).max() < 3
    assert result.cell.T_world_base[2, 2] == pytest.approx(-1)


def test_offset_wrist_is_judged_by_singular_values():
    result = result_of("offset_wrist")
    assert not any(f.kind == "wrist aligned" for f in result.findings)
    by_name = {p.name: p for p in result.cell.points.values()}
    assert all(p.q is not None for p in by_name.values())


def test_offset_wrist_is_taught_in_what_its_display_shows():
    """Horizon counted, joint 5 the other way: the model's joints, and six rows noted besides."""
    cell = pathsim.load_cell(SAMPLES / "offset_wrist")
    assert not cell.arm.readings.is_identity
    start = np.degrees(cell.points["weld start"].q)
    np.testing.assert_allclose(start, [-9.984, 16.319, 52.943, -15.916, -70.209, 10.541], atol=1e-9)
    seen = str(SAMPLES / "offset_wrist" / "seen.csv")
    ask = ["arm", str(SAMPLES / "offset_wrist"), "--readings", seen, "--rotation", "fixed x-y-z"]
    assert main(ask) == 0


def test_deep_channel_runs_out_of_room_at_the_ends_of_the_weave():
    result = result_of("deep_channel")
    assert kinds(result, Level.STOP) == [("contact", 3, "nozzle", "channel")]
    contact = result.findings[0]
    track = result.moves[2].track
    weave = track.move.weave
    cycles = int(track.duration / weave.period)
    assert cycles - 1 <= len(contact.spans) <= cycles + 1  # once a cycle, at one wall
    # each touch lies at a dwell on the right
    for span in contact.spans[:-1]:
        phase = ((span.start + span.end) / 2 - track.t[0]) % weave.period / weave.period
        assert 0.6 < phase < 0.9


@pytest.mark.parametrize("name", NAMES)
def test_every_pair_against_dense_sampling(name):
    """lower <= densest sample <= upper + tolerance for every pair of every stretch."""
    result = result_of(name)
    things = {thing.name: thing for thing in obstacles(result.cell)}
    pieces = {piece.name: piece for piece in result.cell.pieces}
    compared = 0
    for move in result.moves:
        for pair in move.pairs:
            found = pair.clearance
            window = (pair.stretch.start, pair.stretch.end)
            # pairs said to be far are looked at less often: they must only be far
            count = 12 if not np.isfinite(found.upper) else 80
            _, values = dense_distances(
                result.cell, move.track, pieces[pair.piece], things[pair.body], window, count
            )
            least = values.min()
            assert found.lower <= least + 1e-9, (move.track.number, pair.piece, pair.body)
            if found.is_capped:
                assert least >= CAP - 1e-9
            elif not found.touches:
                assert found.upper <= least + TOLERANCE + PATH_ERROR
                assert found.upper - found.lower <= TOLERANCE + PATH_ERROR + 1e-9
            compared += 1
    assert compared > 200


def test_margins_are_kept_by_no_finding_and_broken_by_one():
    for name in NAMES:
        result = result_of(name)
        for move in result.moves:
            for pair in move.pairs:
                broken = pair.clearance.touches or pair.clearance.lower < pair.margin
                named = any(
                    f.move == move.track.number and (f.piece, f.body) == (pair.piece, pair.body)
                    for f in result.findings
                )
                assert broken <= named
