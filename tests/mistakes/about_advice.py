"""Causes and cures as the check says them: order, retracts, heights, weaves, the torch's turn."""

from pathsim.findings import Level
from tests.mistakes.case import Harmless, Mistake, all_of, swap

RETRACT = "  - {linear: retract, speed: 120 mm/s}\n"
WEAVE = "hinge fillet: {pattern: zigzag, amplitude: 2 mm"
APPROACH = "approach,-7.781,1.843,28.565,5.619,60.599,-15.562"

MISTAKES = [
    Mistake(
        "the way home leaves the weld sideways, and straight would hit as well",
        "gate_hinge",
        swap(RETRACT, ""),
        Level.STOP,
        ("neck touches the left clamp", "leaves 'weld end' sideways: 68 mm along and 26 mm up",
         "165 mm high, its top 105 mm above 'weld end'",
         "A straight move would touch too: nozzle and left clamp"),
        both_engines=True,
    ),
    Mistake(
        "the program goes back to the weld start after the weld",
        "gate_hinge",
        swap("linear: retract", "linear: weld start"),
        Level.STOP,
        ("wire touches the gate post", "of move 5, weld start > home. It does so at 'weld start'",
         "A straight move would touch too"),
    ),
    Mistake(
        "a clamp moved into the way down to the approach point",
        "gate_hinge",
        swap("mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 115 720 mm",
             "mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 20 800 mm"),
        Level.STOP,
        ("touches the left clamp", "of move 1, home > approach", "The left clamp is 165 mm high"),
    ),
    Mistake(
        "the weave is wider than the channel leaves room for",
        "deep_channel",
        swap("amplitude: 4.5 mm", "amplitude: 3 mm"),
        Level.WATCH,
        ("goes 3.0 mm to each side", "Reduce the amplitude to 1.8 mm."),
        both_engines=True,
    ),
    Mistake(
        "the weave is too wide for the stops beside the collar",
        "turned_collar",
        swap("amplitude: 1.5 mm", "amplitude: 5 mm"),
        Level.WATCH,
        ("goes 5.0 mm to each side", "Reduce the amplitude to"),
    ),
    Mistake(
        "the torch stands in line with joint 4 on the way down",
        "gate_hinge",
        all_of(
            swap(APPROACH, "approach,-7.781,1.843,28.565,0.500,2.000,-10.500", "points.csv"),
        ),
        Level.WATCH,
        ("Joints 4, 5 and 6 line up to", "the torch"),
    ),
]  # fmt: skip
HARMLESS = [
    Harmless(
        "a retract that is not used, where one more point leads home",
        "gate_hinge",
        swap("weld start,-7.454", "spare,0.881,1.145,29.280,5.752,59.841,-7.000\nweld start,-7.454",
             "points.csv"),
    ),
    Harmless(
        "a second pass: back to the approach point after the weld",
        "gate_hinge",
        swap("  - {joint: home, speed: 40 %}",
             "  - {joint: approach, speed: 40 %}\n  - {linear: weld start, speed: 60 mm/s}\n"
             "  - {seam: weld end, speed: 5 mm/s, weave: hinge fillet}\n"
             "  - {linear: retract, speed: 120 mm/s}\n  - {joint: home, speed: 40 %}"),
    ),
    Harmless("the amplitude that is proposed for the channel", "deep_channel",
             swap("amplitude: 4.5 mm", "amplitude: 1.8 mm")),
    Harmless("the torch turned by the angle that is proposed", "wrist_in_line",
             swap("approach,2.516,-15.593,47.089,-19.999,5.884,-158.584",
                  "approach,4.8207,-15.2770,46.8370,-54.0082,9.9961,-119.2211", "points.csv")),
    Harmless("a weave a little wider, that still has its room", "gate_hinge",
             swap(WEAVE, "hinge fillet: {pattern: zigzag, amplitude: 2.8 mm")),
    Harmless("the left clamp turned aside, near the way home", "gate_hinge",
             swap("mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 115 720 mm",
                  "mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 830 112 720 mm")),
]  # fmt: skip
