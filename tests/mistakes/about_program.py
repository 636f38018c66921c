"""The program as a whole: what is never used, said twice, wound up, or far from any welding."""

from __future__ import annotations

from pathlib import Path

from pathsim.findings import Level
from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

HOME = "  - {joint: home, speed: 40 %}\n"
RETRACT = "  - {linear: retract, speed: 120 mm/s}\n"
APPROACH = "  - {joint: approach, speed: 40 %}\n"
DOWN = "  - {linear: weld start, speed: 60 mm/s}\n"
SEAM = "  - {seam: weld end, speed: 5 mm/s, weave: hinge fillet, crater: 0.6 s}\n"
WEAVE = "\nweaves:\n"
MARGINS = "margins: {air: 10 mm, seam: 1.5 mm}\n"


def taught(*rows: str) -> Change:
    """Add rows to the points file."""

    def change(folder: Path) -> None:
        path = folder / "points.csv"
        text = path.read_text(encoding="utf-8").rstrip("\n")
        path.write_text("\n".join([text, *rows]) + "\n", encoding="utf-8")

    return change


def instead(old: str, *new: str) -> Change:
    return swap(old, "".join(new))


def process(text: str) -> Change:
    return swap(MARGINS, f"{MARGINS}process: {{{text}}}\n")


def speed(text: str) -> Change:
    """Weld without a weave, at another speed."""
    return swap("speed: 5 mm/s, weave: hinge fillet", f"speed: {text}")


def foot_at(x: str) -> Change:
    """Lay a flat foot of a clamp, 3 mm thick, on the far plate from ``x`` mm on."""
    old = "\npoints: {file: points.csv}\n"
    foot = "  - {name: foot, role: clamp, plate: {length: 40 mm, width: 20 mm, thickness: 3 mm, "
    return swap(old, f"{foot}from: corner}}, at: {x} 0 740 mm}}\n{old}")


def by(point: str) -> str:
    return f"  - {{joint: {point}, speed: 40 %}}\n"


def wound(joint: int, low: float, high: float) -> Change:
    """Turn one joint to and fro at home, before the weld."""
    rows = []
    for name, value in (("one way", low), ("other way", high)):
        q = [60.0, -20.0, 25.0, 0.0, 90.0, 0.0]
        q[joint - 1] = value
        rows.append(",".join([name, *(f"{each:.3f}" for each in q)]))
    return all_of(taught(*rows), instead(APPROACH, by("one way"), by("other way"), APPROACH))


def in_subprogram(run: str) -> Change:
    """Put all between home and home into a subprogram, 'hinge', and run that."""

    def change(folder: Path) -> None:
        path = folder / "cell.yaml"
        text = path.read_text(encoding="utf-8")
        head, lines = text.split("program:\n  - start: home\n")
        lines, home = lines[: -len(HOME)], lines[-len(HOME) :]
        inner = "".join(f"  {line}\n" for line in lines.splitlines())
        program = f"program:\n  - start: home\n  - {run}\n{home}"
        path.write_text(f"{head}subprograms:\n  hinge:\n{inner}\n{program}", encoding="utf-8")

    return change


TWIN = "home 2,60.500,-20.000,25.000,0.000,90.000,0.000"
SAME = "home again,60.000,-20.000,25.000,0.000,90.000,0.000"
FAR = "old point,30.000,-20.000,25.000,0.000,90.000,0.000"
TURNED = "home turned,60.000,-20.000,25.000,0.000,90.000,200.000"
HALF_WAY = "half way,-3.300,8.100,29.850,6.200,52.700,-12.100"
IDLE = "  idle weave: {pattern: sine, amplitude: 1 mm, frequency: 1 Hz}\n"

MISTAKES = [
    # the way home
    Mistake("the program ends at the retract point", "gate_hinge", instead(HOME, ""),
            Level.WATCH, ("ends elsewhere, at 'retract'", "way back", "not checked")),
    Mistake("the program ends above the other end", "gate_hinge", swap(HOME, by("approach")),
            Level.WATCH, ("ends elsewhere, at 'approach'", "not checked", "'home'")),
    Mistake("the program ends on the weld", "collar_seam",
            swap("  - {linear: retract, speed: 120 mm/s}\n  - {joint: home, speed: 30 %}\n", ""),
            Level.WATCH, ("ends elsewhere, at 'weld end'", "not checked")),
    Mistake("home to a twin", "gate_hinge", all_of(taught(TWIN), swap(HOME, by("home 2"))),
            Level.NOTE, ("ends at 'home 2', nearly the same place",)),
    # never used
    Mistake("the retract point was taught and left out", "gate_hinge", instead(RETRACT, ""),
            Level.WATCH, ("you taught 'retract'", "never use it", "move 4 leaves the weld")),
    Mistake("the approach point was taught and left out", "gate_hinge",
            instead(APPROACH + DOWN, by("weld start")),
            Level.WATCH, ("you taught 'approach'", "never use it", "move 1 goes to the weld")),
    Mistake("the retract point of an arc was left out", "collar_seam",
            swap("  - {linear: retract, speed: 120 mm/s}\n", ""),
            Level.WATCH, ("you taught 'retract'", "never use it")),
    Mistake("a point that nothing goes to", "gate_hinge", taught(FAR),
            Level.NOTE, ("'old point'", "never use it")),
    Mistake("a weave that no seam has", "gate_hinge", instead(WEAVE, WEAVE, IDLE),
            Level.NOTE, ("'idle weave'", "no seam uses it")),
    Mistake("the weave was left off the seam", "gate_hinge", speed("5 mm/s"),
            Level.NOTE, ("'hinge fillet'", "no seam uses it")),
    # wound up
    Mistake("joint 6 winds a hose up by 337 deg", "gate_hinge", wound(6, -187.0, 150.0),
            Level.WATCH, ("joint 6 turns 337 deg", "-187 deg to 150 deg", "300 deg")),
    Mistake("joint 4 winds a hose up by 310 deg", "gate_hinge", wound(4, -155.0, 155.0),
            Level.WATCH, ("joint 4 turns 310 deg", "hose")),
    Mistake("every run winds joint 6 up", "gate_hinge",
            all_of(taught(TURNED), swap(HOME, by("home turned"))),
            Level.WATCH, ("joint 6 ends 200 deg from where it started", "next run")),
    # margins
    Mistake("an air margin of 0.1 mm", "gate_hinge", swap("air: 10 mm", "air: 0.1 mm"),
            Level.WATCH, ("margin in the air is 0.10 mm", "1.0 mm")),
    Mistake("no air margin", "collar_seam", swap("air: 10 mm", "air: 0 mm"),
            Level.WATCH, ("margin in the air is 0.00 mm",)),
    Mistake("an air margin in inch", "gate_hinge", swap("air: 10 mm", "air: 10 in"),
            Level.NOTE, ("margin in the air is 254 mm", "unit")),
    # the process
    Mistake("welding at 500 mm/s", "gate_hinge", speed("500 mm/s"),
            Level.NOTE, ("outside what arc welding does", "mm/s (1 to 50 mm/s)")),
    Mistake("welding at 5 m/s", "gate_hinge", speed("5 m/s"),
            None, ("came '5 m/s'", "unit right")),
    Mistake("welding at 5 mm/min", "gate_hinge", speed("5 mm/min"),
            Level.NOTE, ("outside what arc welding does", "0.0833 mm/s")),
    Mistake("a current that no wire stands", "gate_hinge",
            process("voltage: 25 V, current: 1400 A"),
            Level.NOTE, ("heat input 7", "common practice")),
    Mistake("a wire feed in m/s", "gate_hinge", process("wire feed: 8 m/s"),
            Level.NOTE, ("fillet leg", "1.5 to 20 mm")),
    Mistake("a wire feed in mm/min", "gate_hinge", process("wire feed: 100 mm/min"),
            Level.NOTE, ("fillet leg", "outside what arc welding does")),
    # habits of the trade
    Mistake("no crater time", "gate_hinge", swap(", crater: 0.6 s", ""),
            Level.NOTE, ("move 3", "ends without a crater time", "0.3 to 0.8 s")),
    Mistake("a crater of three seconds", "gate_hinge", swap("crater: 0.6 s", "crater: 3 s"),
            Level.NOTE, ("has 3 s of crater time",)),
    Mistake("down to the weld at full speed", "gate_hinge",
            swap("weld start, speed: 60 mm/s", "weld start, speed: 600 mm/s"),
            Level.NOTE, ("comes to the weld at 600 mm/s", "100 mm/s or less")),
    Mistake("a first run at 80 %", "gate_hinge",
            swap("margins:", "override: 80 %\nmargins:"),
            Level.NOTE, ("first run is set to 80 % override", "50 % or less")),
    # lines of several moves
    Mistake("a stitch with no lift into a hold-down", "hinge_stitched",
            swap(", lift: 80 mm", ""),
            Level.STOP, ("nozzle", "touches", "hold-down", "move 5"), both_engines=True),
    Mistake("a stitch lifted too low", "hinge_stitched", swap("lift: 80 mm", "lift: 30 mm"),
            Level.WATCH, ("nozzle to hold-down", "margin 10 mm", "move 6")),
    Mistake("stitches longer than the line", "hinge_stitched", swap("on: 30 mm", "on: 300 mm"),
            None, ("cell.yaml:26", "shorter than one stitch", "at least 'on: 300 mm'")),
    Mistake("a joined seam behind a stitch", "hinge_stitched",
            all_of(swap(" crater: 0.4 s,", ""), swap("{stitch: weld end", "{stitch: weld middle"),
                   swap("  - {linear: retract", "  - {seam: weld end, joined: true}\n"
                        "  - {linear: retract"),
                   swap("retract,0.881", "weld middle,-3.3,8.1,29.8,6.2,52.7,-12.1\nretract,0.881",
                        file="points.csv")),
            None, ("cell.yaml:27", "joined seam without a seam right before it")),
    Mistake("a stitch without a gap", "hinge_stitched", swap(" off: 60 mm,", ""),
            None, ("a stitch without 'off'",)),
    Mistake("a gap on a plain seam", "hinge_stitched", swap("{stitch:", "{seam:"),
            None, ("'on' on 'seam'",)),
    Mistake("a tack elsewhere than the torch stands", "hinge_stitched",
            swap("{tack: weld start", "{tack: weld end"),
            None, ("torch does not stand at 'weld end'", "linear: weld end")),
    Mistake("a tack of no time", "hinge_stitched", swap(", time: 0.8 s", ""),
            None, ("a tack without 'time'",)),
    Mistake("a rest that no stitch fits on", "hinge_stitched", swap("off: 60 mm", "off: 80 mm"),
            Level.NOTE, ("last 90.0 mm to 'weld end'", "not welded")),
    # passes
    Mistake("two passes of one name", "three_passes", swap("{pass: cap,", "{pass: fill,"),
            None, ("2 passes are called 'fill'", "a name of its own for each pass")),
    Mistake("a pass to both sides", "three_passes", swap("up: 4 mm,", "left: 2 mm, right: 2 mm,"),
            None, ("came 'left' and 'right' on one pass",)),
    Mistake("passes without a lift", "three_passes", swap("    lift: 3 mm\n", ""),
            None, ("came a multipass without 'lift'",)),
    Mistake("a pass with a weave that nobody wrote", "three_passes",
            swap("weave: fill}", "weave: fil}"), None, ("no weave is called 'fil'", "fill")),
    Mistake("beads that nobody can size", "three_passes",
            swap("process: {wire feed: 190 mm/s, voltage: 28 V, current: 260 A}\n", ""),
            Level.WATCH, ("bead of 'root' has no size", "Give 'wire feed'")),
    Mistake("a low clamp within the bead of the cap", "three_passes", foot_at("936"),
            Level.WATCH, ("bead of 'cap' as drawn reaches the foot", "Move the foot"), True),
    # hoses
    Mistake("a hose package that stands less than the program turns", "gate_hinge",
            all_of(wound(6, -60.0, 60.0),
                   swap(MARGINS, "hoses: {j6: {turns: 100 deg}}\n" + MARGINS)),
            Level.WATCH, ("joint 6 turns 120 deg", "hoses stand 100 deg (as the cell says)",
                          "move 2, one way > other way: 120 deg alone")),
    Mistake("hoses on a joint that is none", "gate_hinge",
            swap(MARGINS, "hoses: {j8: {turns: 100 deg}}\n" + MARGINS), None,
            ("no joint that turns is called 'j8'",)),
    # schedules
    Mistake("a schedule that nobody wrote", "hinge_stitched",
            swap("crater: 0.4 s", "schedule: filet"),
            None, ("no schedule is called 'filet'",)),
    Mistake("two crater times", "hinge_stitched",
            all_of(swap("crater: 0.4 s", "crater: 0.4 s, schedule: fillet"),
                   swap("program:", "schedules: {fillet: {crater: 0.4 s}}\n\nprogram:")),
            None, ("whose schedule has one", "in one place")),
    Mistake("two crater times over two joined seams", "gate_hinge",
            all_of(swap(SEAM, SEAM.replace("weld end", "half way").replace(
                       "crater: 0.6 s", "schedule: fillet") +
                       "  - {seam: weld end, joined: true, crater: 0.4 s}\n"),
                   swap("program:", "schedules: {fillet: {crater: 0.4 s}}\n\nprogram:"),
                   taught(HALF_WAY)),
            None, ("whose schedule has one", "in one place")),
    Mistake("a preflow in the wrong unit", "hinge_stitched",
            swap("program:", "schedules: {fillet: {preflow: 30 min}}\n\nprogram:"),
            None, ("1800 s of preflow", "is the unit right")),
    Mistake("a schedule that no seam has", "hinge_stitched",
            swap("program:", "schedules: {fillet: {preflow: 1 s}}\n\nprogram:"),
            Level.NOTE, ("Schedule 'fillet'", "no seam uses it")),
    # subprograms and pauses
    Mistake("a subprogram that nobody wrote", "hinge_stitched", in_subprogram("{run: hinges}"),
            None, ("no subprogram is called 'hinges'", "did you mean 'hinge'")),
    Mistake("a subprogram that runs another", "hinge_stitched",
            all_of(in_subprogram("{run: hinge}"),
                   swap("    - {tack:", "    - {run: hinge}\n    - {tack:")),
            None, ("came 'run'", "in a subprogram")),
    Mistake("a shift in the axes of nothing", "hinge_stitched",
            in_subprogram("{run: hinge, shift: 0 0 5 mm, frame: gate past}"),
            None, ("'gate past'", "did you mean 'gate post'")),
    Mistake("a corner rounded where a run starts the arc", "gate_hinge",
            all_of(swap(DOWN, DOWN.replace("mm/s}", "mm/s, rounding: 5 mm}")),
                   swap(SEAM, "  - {run: weld}\n"),
                   swap("program:", "subprograms:\n  weld:\n  " + SEAM + "\nprogram:")),
            None, ("'weld start' is to be rounded", "the arc starts there")),
    Mistake("a step for one run", "hinge_stitched", in_subprogram("{run: hinge, step: 0 0 5 mm}"),
            None, ("a step for one run", "'times: 2' or more")),
    Mistake("a run shifted into the part", "hinge_stitched",
            in_subprogram("{run: hinge, times: 2, step: 30 0 0 mm}"),
            Level.STOP, ("wire touches the hinge plate", "move 11", "hinge 2")),
    Mistake("a run shifted out of reach", "hinge_stitched",
            in_subprogram("{run: hinge, shift: 4 0 0 m}"), Level.STOP, ("reach", "hinge")),
    Mistake("a subprogram that never runs", "hinge_stitched",
            swap("program:", "subprograms: {old: [{joint: home, speed: 5 %}]}\n\nprogram:"),
            Level.NOTE, ("Subprogram 'old'", "never runs it")),
    Mistake("wire inched out beyond the stick-out", "hinge_stitched",
            swap("  - {tack:", "  - {inch: 3 mm, speed: 20 mm/s}\n  - {tack:"),
            None, ("3.0 mm longer", "inched back before")),
    Mistake("a wait for somebody", "hinge_stitched",
            swap("  - {tack:", "  - {wait for: the operator, at least: 5 s}\n  - {tack:"),
            Level.NOTE, ("waits for the operator", "5 s of it are counted")),
    # twice, or for nothing
    Mistake("the same move twice", "gate_hinge", instead(RETRACT, RETRACT, RETRACT),
            Level.NOTE, ("move 5, retract > retract starts where it ends", "does nothing")),
    Mistake("a seam to its own start", "gate_hinge",
            swap(SEAM, "  - {seam: weld start, speed: 5 mm/s}\n"),
            None, ("needs a length", "crater time", "same place")),
    Mistake("one place under two names", "gate_hinge", taught(SAME),
            Level.NOTE, ("'home' and 'home again' are one place",)),
    Mistake("the same seam twice", "gate_hinge",
            instead(HOME, HOME, APPROACH, DOWN, SEAM, RETRACT, HOME),
            Level.NOTE, ("move 8", "same way as move 3", "second pass")),
    Mistake("the arc off and on in the middle of a seam", "gate_hinge",
            all_of(taught(HALF_WAY),
                   instead(SEAM, "  - {seam: half way, speed: 5 mm/s}\n", SEAM)),
            Level.NOTE, ("move 4", "strikes the arc again where move 3 ended", "joined")),
    Mistake("a row of the points file twice", "gate_hinge",
            taught("retract,0.881,1.145,29.280,5.752,59.841,-7.000"),
            None, ("points.csv", "retract")),
]  # fmt: skip

HARMLESS = [
    Harmless("a low clamp beside the beads", "three_passes",
             all_of(foot_at("942"), swap("lift: 3 mm", "lift: 40 mm"))),
    Harmless("home twice at the end", "gate_hinge", instead(HOME, HOME, HOME)),
    Harmless("home to a twin is only noted", "gate_hinge",
             all_of(taught(TWIN), swap(HOME, by("home 2")))),
    Harmless("home under another name", "gate_hinge",
             all_of(taught(SAME), swap(HOME, by("home again")))),
    Harmless("a point of another program", "gate_hinge", taught(FAR)),
    Harmless("a spare point above the weld, the retract used", "gate_hinge",
             taught("spare,0.880,4.000,29.700,6.000,56.500,-7.400")),
    Harmless("a weave for another job", "gate_hinge", instead(WEAVE, WEAVE, IDLE)),
    Harmless("a seam without a weave", "gate_hinge", speed("5 mm/s")),
    Harmless("joint 6 turns 320 deg in all, which its hoses stand", "gate_hinge",
             all_of(wound(6, -160.0, 160.0),
                    swap(MARGINS, "hoses: {j6: {turns: 330 deg}}\n" + MARGINS))),
    Harmless("joint 6 turns 295 deg in all", "gate_hinge", wound(6, -145.0, 150.0)),
    Harmless("joint 4 turns 290 deg in all", "gate_hinge", wound(4, -145.0, 145.0)),
    Harmless("joint 1 turns 300 deg, which winds no hose", "gate_hinge",
             wound(1, -70.0, 120.0)),
    Harmless("an air margin of 1 mm", "gate_hinge", swap("air: 10 mm", "air: 1 mm")),
    Harmless("an air margin of 20 mm", "gate_hinge", swap("air: 10 mm", "air: 20 mm")),
    Harmless("a quick seam", "gate_hinge", speed("45 mm/s")),
    Harmless("a slow seam", "gate_hinge", speed("1.2 mm/s")),
    Harmless("a crater of 0.3 s", "gate_hinge", swap("crater: 0.6 s", "crater: 0.3 s")),
    Harmless("down to the weld at 100 mm/s", "gate_hinge",
             swap("weld start, speed: 60 mm/s", "weld start, speed: 100 mm/s")),
    Harmless("a first run at 10 %", "gate_hinge",
             swap("margins:", "override: 10 %\nmargins:")),
    Harmless("a pulsed arc by its measured power", "gate_hinge",
             process("wire feed: 8 m/min, crater feed: 4 m/min, power: 4.6 kW")),
    Harmless("a process as usual", "gate_hinge",
             process("wire feed: 8 m/min, voltage: 25 V, current: 200 A")),
    Harmless("a hot process", "gate_hinge", process("voltage: 34 V, current: 450 A")),
    Harmless("a small bead", "gate_hinge", process("wire feed: 3 m/min")),
    Harmless("a move that only waits", "gate_hinge",
             instead(RETRACT, RETRACT, RETRACT, "  - {wait: 1 s}\n")),
    Harmless("a second pass", "gate_hinge",
             instead(HOME, APPROACH, DOWN, SEAM, RETRACT, HOME)),
    Harmless("a spot at the end of the seam", "gate_hinge",
             instead(SEAM, SEAM, "  - {seam: weld end, speed: 5 mm/s, crater: 1 s}\n")),
    Harmless("a spot alone", "gate_hinge",
             all_of(swap(SEAM, "  - {seam: weld start, speed: 5 mm/s, crater: 1 s}\n"),
                    swap(RETRACT, "  - {linear: approach, speed: 120 mm/s}\n"))),
    Harmless("back over the approach point", "gate_hinge",
             swap(RETRACT, "  - {linear: retract, speed: 120 mm/s}\n" + by("approach"))),
    Harmless("a wait before the weld", "gate_hinge", instead(DOWN, DOWN, "  - {wait: 0.5 s}\n")),
    Harmless("stitches by a schedule", "hinge_stitched",
             all_of(swap("crater: 0.4 s", "schedule: fillet"),
                    swap("program:", "schedules: {fillet: {preflow: 1 s, start: 0.2 s, crater: "
                         "0.4 s, burnback: 0.1 s, postflow: 1 s}}\n\nprogram:"))),
    Harmless("all of it in a subprogram", "hinge_stitched", in_subprogram("{run: hinge}")),
    Harmless("wire inched back and out again", "hinge_stitched",
             swap("  - {tack:", "  - {inch: -3 mm, speed: 20 mm/s}\n"
                  "  - {inch: 3 mm, speed: 20 mm/s}\n  - {tack:")),
    Harmless("shorter stitches", "hinge_stitched",
             swap("on: 30 mm, off: 60 mm", "on: 20 mm, off: 80 mm")),
    Harmless("a tack at either end", "hinge_stitched",
             swap("  - {linear: retract", "  - {tack: weld end, time: 1 s}\n  - {linear: retract")),
    Harmless("a longer crater time", "gate_hinge", swap("crater: 0.6 s", "crater: 2 s")),
]  # fmt: skip
