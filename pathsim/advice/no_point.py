"""What to say of findings that no point in the air cures: by their kind, never by their words."""

from __future__ import annotations

from pathsim.advice.kinds import NEAR
from pathsim.check import CheckResult
from pathsim.findings import Finding
from pathsim.findings.kinds import FindingKind
from pathsim.units import millimetres

#: Nothing that could be taught in the air has to do with these; what does instead.
INSTEAD: dict[FindingKind, str] = {
    FindingKind.NOT_NARROWED: "Check the number once more with a larger margin, or measure there.",
    FindingKind.TOUCH_SEARCH: "Teach the search's start and end again; advice leaves searches.",
    FindingKind.SEARCH: "Teach the search's point where wire and body touch as drawn.",
    FindingKind.STATION_USE: "Change the station, or the moves into it and out of it.",
    FindingKind.STATION: "Change the station, or the moves into it and out of it.",
    FindingKind.BEAD_REACH: "Move what it reaches, or end the pass before it.",
    FindingKind.WEAVE_ROOM: "Change the weave, the torch angle or the fixture.",
    FindingKind.NOT_CHECKED: "Give what is named a shape, or measure it on the first slow run.",
    FindingKind.APPROXIMATE_SHAPES: "Measure the real castings once against the simple solids.",
    FindingKind.SEAM_OFF: "Check base, joint signs, units and places; then the order of moves.",
    FindingKind.UNWELDED: "Check the part's place, or give it its role.",
    FindingKind.UNLIKELY_BODY: "Check the unit of its mesh, its size and its place.",
    FindingKind.UNLIKELY_UNIT: (
        "Settle its unit first: 'pathsim mesh FILE' gives its size in each unit; measure one edge. "
        "Correct 'unit' and check again. If the unit is right, correct the body's 'role'."
    ),
    FindingKind.UNLIKELY_TORCH: (
        "Settle the torch first: its pieces and their unit, its tool centre point, its wire."
    ),
    FindingKind.CABLE: "Check where the cable is tied, and its slack.",
    FindingKind.JOINT_SPEED: "Reduce the speed, or change the torch angle.",
    FindingKind.ARM_BENDS: "Change the frequency of the weave.",
    FindingKind.POSTURE_PICKED: "Teach the point with its joint values, or say its posture.",
    FindingKind.ARRIVES_OTHERWISE: "Teach the point again, in the posture in which it is come to.",
    FindingKind.POSE_DISAGREES: "Check the arm's description, its readings and the tool.",
    FindingKind.WEAVE: "Change the weave where it is described.",
    FindingKind.WEAVE_STROKES: "Change the frequency of the weave, or the travel speed.",
    FindingKind.WEAVE_ACCELERATION: "Change the amplitude or the frequency of the weave.",
    FindingKind.PROCESS: "Check speed, wire and current against your welding procedure.",
    FindingKind.REPEATED: "Check the order of the moves, and whether one stands twice.",
    FindingKind.PROGRAM_LINE: "Change the lengths on that line, or its lift.",
    FindingKind.WIND_UP: "Unwind the joint on the way home, or turn the other way.",
    FindingKind.UNUSUAL_PROCESS: "Check speed, wire and current against your welding procedure.",
    FindingKind.UNUSUAL_MARGIN: "Check the margins that the cell asks for, and their unit.",
    FindingKind.PLACE_UNCERTAIN: "Touch more places, farther apart: 'pathsim place'.",
    FindingKind.PARTS_LEFT_OUT: "Give it a body if it is in the cell, else name it as left out.",
    FindingKind.UNFINISHED: "Put in your own numbers, then strike the word out under 'to do'.",
    FindingKind.TORCH_ANGLES: "Check the torch angle against your welding procedure.",
    FindingKind.WELD_POSITION: "Turn the part, or check the position in your welding procedure.",
    FindingKind.ARM_RESERVE: "Place the part otherwise, or turn the torch about its wire.",
}
#: Kinds for which points are looked for, or that a person has to look at in the program itself.
OF_POINTS = (
    FindingKind.CONTACT,
    FindingKind.NEAR_HIT,
    FindingKind.ROUNDING,
    FindingKind.OUT_OF_REACH,
    FindingKind.JOINT_LEAP,
    FindingKind.JOINT_LIMIT,
    FindingKind.WRIST_ALIGNED,
    FindingKind.ELBOW_STRETCHED,
    FindingKind.WRIST_OVER_SHOULDER,
    FindingKind.NEAR_SINGULAR,
    FindingKind.TWO_WAYS,
    FindingKind.PROGRAM_HABIT,
    FindingKind.TRADE_PRACTICE,
    FindingKind.WAY_HOME,
    FindingKind.UNUSED,
)
_OTHER = "Check what the finding names."
_NEVER = "No taught point fixes this."
_NOT_SEARCHED = "No cure is searched for this kind of finding."


def no_point(result: CheckResult, finding: Finding) -> str:
    """Say that no point in the air cures a finding, or that none is searched, and what may."""
    if finding.kind in OF_POINTS:
        return _NOT_SEARCHED
    if finding.kind == FindingKind.WEAVE_ROOM and finding.move is not None:
        reduce = fitting_amplitude_in_words(result, finding.move)
        if reduce:
            return f"{_NEVER} {reduce}"
    return f"{_NEVER} {INSTEAD.get(finding.kind, _OTHER)}{_hits_told_with(finding)}"


def _hits_told_with(finding: Finding) -> str:
    """Say what becomes of the hits that a doubt stands for: they are no findings of their own."""
    hits = sum(one.kind in NEAR for one in finding.explains)
    return f" Its {hits} hits get advice of their own once that is settled." if hits else ""


def fitting_amplitude_in_words(result: CheckResult, move: int) -> str:
    """Say to which amplitude a weave has to come down, as its finding says; else nothing."""
    of_move = (f for f in result.findings if f.move == move and f.kind == FindingKind.WEAVE_ROOM)
    fits = [f.numbers["fits"] for f in of_move if "fits" in f.numbers]
    return f"Reduce the amplitude to {millimetres(fits[0])}." if fits else ""


def is_no_matter_of_points(finding: Finding) -> bool:
    """Tell whether a finding is of a kind that no change of air points may claim to cure."""
    return finding.kind not in OF_POINTS
