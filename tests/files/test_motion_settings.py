"""What a cell file may say of motion, weave and process, and its faults."""

import pytest

import pathsim
from pathsim import load_cell
from pathsim.model import Pattern
from tests.files.test_cell_folder import faults, only, shop, spoil

__all__ = ["shop"]
CELL = "gate_hinge/cell.yaml"
WEAVE = "pattern: zigzag, amplitude: 2 mm, frequency: 2.2 Hz, dwell: 0.1 s, dwell counts: added"
SEAM = "{seam: weld end, speed: 5 mm/s, weave: hinge fillet, crater: 0.6 s}"


def test_everything_is_read(shop):
    more = "dwell centre: 50 ms, travel in dwell: stands still, tilt: 10 deg"
    spoil(shop, CELL, WEAVE, WEAVE.replace("zigzag", "figure-of-eight") + ", " + more)
    spoil(shop, CELL, "{linear: retract, speed: 120 mm/s}",
          "{linear: retract, speed: 120 mm/s, rounding: 15 mm}")  # fmt: skip
    spoil(shop, CELL, "{joint: home, speed: 40 %}\n", "{joint: home, speed: 40 %}\n  - wait: 2 s\n")
    spoil(shop, CELL, "margins:", "override: 25 %\nprocess: {wire feed: 7.6 m/min, voltage: 22 V, "
          "current: 190 A}\nmargins:")  # fmt: skip
    spoil(shop, "shop_arm/arm.yaml", "tip: {", "natural frequency: 9 Hz\ntip: {jerk: 20 m/s3, ")
    cell = load_cell(shop / "gate_hinge")
    weave = cell.program.moves[2].weave
    assert weave.pattern is Pattern.EIGHT and weave.dwell_centre == pytest.approx(0.05)
    assert weave.travel_in_dwell == "stands still" and weave.tilt == pytest.approx(
        0.174533, abs=1e-5
    )
    assert cell.program.moves[3].rounding == pytest.approx(0.015)
    assert cell.program.moves[4].wait == 2 and cell.override == 0.25
    assert cell.process.wire_feed == pytest.approx(7.6 / 60) and cell.natural_frequency == 9
    assert cell.tip_jerk == 20
    result = pathsim.check(cell)
    said = " ".join(f.text for f in result.seams)
    assert "U I / v" in said and "a flat fillet of equal legs" in said and "of wire" in said
    assert any(p.stretch.corner == "retract" for p in result.moves[4].pairs)


def test_a_joined_seam(shop):
    extra = ["weld middle,-3.3,8.1,29.8,6.2,52.7,-12.0"]
    points = shop / "gate_hinge" / "points.csv"
    points.write_text(points.read_text().rstrip() + "\n" + "\n".join(extra) + "\n")
    first = SEAM.replace("weld end", "weld middle").replace(", crater: 0.6 s", "")
    spoil(shop, CELL, SEAM, first + "\n  - {seam: weld end, joined: true, crater: 0.6 s}")
    cell = load_cell(shop / "gate_hinge")
    a, b = cell.program.moves[2:4]
    assert b.joined and (b.speed, b.weave) == (a.speed, a.weave) and b.crater == 0.6
    result = pathsim.check(cell)
    assert len([s for s in result.seams if s.kind == "weave"]) == 1


@pytest.mark.parametrize(
    ("old", "new", "came"),
    [
        (WEAVE, WEAVE + ", tilt: 80 deg", "tilt of 80 deg"),
        (WEAVE, WEAVE.replace("added", "inside") + ", dwell centre: 0.2 s", "twice 0.2 s"),
        (WEAVE, WEAVE.replace("zigzag", "zig-zag"), "zig-zag"),
        (SEAM, SEAM.replace("speed: 5 mm/s", "joined: true, speed: 5 mm/s"), "on a joined seam"),
        (SEAM, "{seam: weld end, joined: true}", "without a seam right before it"),
        (SEAM, SEAM.replace("crater: 0.6 s", "rounding: 5 mm"), "'rounding' on 'seam'"),
        ("{linear: weld start, speed: 60 mm/s}", "{linear: weld start, speed: 60 mm/s, "
         "rounding: 5 mm}", "the arc starts there"),
        ("{linear: retract, speed: 120 mm/s}",
         "{linear: retract, speed: 120 mm/s, rounding: 5 mm, station: cleaner}",
         "into or out of a station"),
        ("{joint: home, speed: 40 %}\n", "{joint: home, speed: 40 %, rounding: 5 mm}\n",
         "the program ends there"),
        ("{linear: retract, speed: 120 mm/s}",
         "{linear: retract, speed: 120 mm/s, rounding: 5 mm}\n  - wait: 1 s", "arm waits there"),
        ("  - start: home\n", "  - start: home\n  - wait: 1 s\n", "'wait' before any move"),
        ("margins:", "override: 120 %\nmargins:", "came '120 %'"),
        ("margins:", "process: {efficiency: 1.4}\nmargins:", "1.4 has no unit"),
        ("margins:", "process: {}\nmargins:", "neither wire feed nor"),
        ("margins:", "process: {voltage: 22 V}\nmargins:", "half of voltage and current"),
        ("  - start: home\n", "  - start: home\n  - wait: 0 s\n", "'wait: 0'"),
        (WEAVE, WEAVE.replace("dwell: 0.1 s, ", ""), "words about a dwell"),
        (WEAVE, WEAVE.replace("0.1 s", "0.22 s").replace("added", "inside"), "left for a stroke"),
        (WEAVE, WEAVE.replace("2.2 Hz", "1e-9 Hz"), "1e-9 Hz"),
        ("margins:", "process: {voltage: 22 A}\nmargins:", "unit 'A'"),
    ],
)  # fmt: skip
def test_faults(shop, old, new, came):
    spoil(shop, CELL, old, new)
    found = faults(shop) if "zig" in new else [only(shop)]
    assert any(came in f.came for f in found), [str(f) for f in found]
    assert found[0].line is not None
