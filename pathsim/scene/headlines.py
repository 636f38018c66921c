"""A finding in a few words, for lists and marks: what, where, how near and how near it may be."""

from __future__ import annotations

from pathsim.findings import Finding
from pathsim.findings.kinds import FindingKind as Kind
from pathsim.scene.gap import Gap
from pathsim.units import degrees, millimetres

#: Words of kinds that are about something named; ``{}`` stands for its name.
_OF_THING = {
    Kind.FLOATS: "nothing carries the {}",
    Kind.OVERLAP: "{} overlaps another body",
    Kind.STANDS_TWICE: "{} stands twice in one place",
    Kind.TOUCHES_TABLE: "{} touches what the turning table carries",
    Kind.UNLIKELY_BODY: "{}: stands unlikely far away",
    Kind.UNLIKELY_UNIT: "{}: unit is unlikely",
    Kind.UNWELDED: "no seam on the {}",
    Kind.PLACE_UNCERTAIN: "place of the {} not exactly known",
    Kind.APPROXIMATE_SHAPES: "{}: shape only roughly known",
}
_PLAIN = {
    Kind.CONTACT: "contact",
    Kind.NEAR_HIT: "below the margin",
    Kind.NOT_NARROWED: "clearance known only roughly",
    Kind.BEAD_REACH: "bead reaches what is no part",
    Kind.WEAVE_ROOM: "too little room for the weave",
    Kind.ROUNDING: "rounded corner not as written",
    Kind.TOUCH_SEARCH: "touch search not as taught",
    Kind.SEARCH: "touch search",
    Kind.STATION_USE: "station not as drawn",
    Kind.STATION: "at the station",
    Kind.NOT_CHECKED: "not fully checked",
    Kind.APPROXIMATE_SHAPES: "shapes only roughly known",
    Kind.UNLIKELY_BODY: "size or place is unlikely",
    Kind.UNLIKELY_UNIT: "unit is unlikely",
    Kind.UNLIKELY_TORCH: "torch is unlikely",
    Kind.PARTS_LEFT_OUT: "parts of a file left out",
    Kind.CABLE: "cable checked only as described",
    Kind.SEAM_OFF: "seam off the part",
    Kind.UNWELDED: "part without a seam",
    Kind.PLACE_UNCERTAIN: "place not exactly known",
    Kind.UNFINISHED: "cell not finished",
    Kind.OVERLAP: "bodies overlap",
    Kind.STANDS_TWICE: "a body stands twice",
    Kind.FLOATS: "a body that nothing carries",
    Kind.TABLE_EMPTY: "turning table carries nothing",
    Kind.TOUCHES_TABLE: "touches the turning table",
    Kind.DRAWN_INTO: "bodies drawn into each other",
    Kind.OUT_OF_REACH: "out of reach",
    Kind.JOINT_LEAP: "joint leaps on a straight move",
    Kind.JOINT_LIMIT: "joint at its limit",
    Kind.JOINT_SPEED: "joint too fast",
    Kind.WRIST_ALIGNED: "wrist in line",
    Kind.ELBOW_STRETCHED: "elbow stretched",
    Kind.WRIST_OVER_SHOULDER: "wrist over the shoulder",
    Kind.NEAR_SINGULAR: "joints race near here",
    Kind.TWO_WAYS: "the arm can go on in two ways",
    Kind.ARM_BENDS: "arm cannot follow the weave",
    Kind.POSTURE_PICKED: "posture picked by the check",
    Kind.ARRIVES_OTHERWISE: "arrives in another posture",
    Kind.POSE_DISAGREES: "pose and joint values disagree",
    Kind.PROGRAM_HABIT: "no retract or approach point",
    Kind.TRADE_PRACTICE: "not as mostly done in the trade",
    Kind.PROGRAM_LINE: "a line of several moves",
    Kind.WAY_HOME: "does not end where it starts",
    Kind.WIND_UP: "a joint winds up",
    Kind.UNUSED: "something written is not used",
    Kind.REPEATED: "the same moves again",
    Kind.UNUSUAL_PROCESS: "process numbers are unusual",
    Kind.UNUSUAL_MARGIN: "margin is unusual",
    Kind.WEAVE: "weave in numbers",
    Kind.WEAVE_STROKES: "weave strokes far apart",
    Kind.WEAVE_ACCELERATION: "weave asks too much of a joint",
    Kind.PROCESS: "seam and process in numbers",
    Kind.TORCH_ANGLES: "torch angles",
    Kind.WELD_POSITION: "weld position",
    Kind.ARM_RESERVE: "what the arm has left",
}


def headline(finding: Finding, gap: Gap | None) -> str:
    """Return a finding in a few words, ``gap``: of its moment."""
    words = _words(finding, gap)
    return words[:1].upper() + words[1:]


def _words(finding: Finding, gap: Gap | None) -> str:
    numbers = finding.numbers  # what a finding does not tell is left out: no sheet fails for it
    if finding.kind == Kind.CONTACT and finding.piece and finding.body:
        return f"{finding.piece} touches {finding.body}"
    if finding.kind == Kind.NEAR_HIT and gap is not None:
        return f"{gap.pair}: {gap.with_margin}"
    if finding.kind == Kind.WRIST_ALIGNED and "angle" in numbers:
        return f"wrist in line to {degrees(numbers['angle'])}"
    if finding.kind == Kind.JOINT_LIMIT and "joint" in numbers:
        return f"joint {numbers['joint']:.0f} at its limit"
    if finding.kind == Kind.JOINT_SPEED and "joint" in numbers:
        return f"joint {numbers['joint']:.0f} too fast"
    if finding.kind == Kind.SEAM_OFF and finding.body and "off" in numbers:
        return f"seam {millimetres(numbers['off'])} off the {finding.body}"
    if finding.kind == Kind.DRAWN_INTO and finding.piece and finding.body:
        return f"{finding.piece} drawn into {finding.body}"
    thing = finding.body or finding.piece
    if thing and finding.kind in _OF_THING:
        return _OF_THING[finding.kind].format(thing)
    return _PLAIN.get(finding.kind, str(finding.kind))
