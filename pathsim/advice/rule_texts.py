"""The rule behind each kind of finding, in words for a trainee; nothing about this cell."""

from __future__ import annotations

from pathsim.findings.kinds import FindingKind

#: Said of a kind that has no rule here.
UNKNOWN = ("More than this is not known about it here; ask who wrote the description.",)

RULES: dict[FindingKind, tuple[str, ...]] = {
    FindingKind.CONTACT: ("The whole move is checked; no contact can hide between samples.",),
    FindingKind.NEAR_HIT: (
        "The margin is there because a real clamp never stands exactly where it was drawn.",
    ),
    FindingKind.TOUCH_SEARCH: (
        "A search stops where it meets something, whatever that is; in the shop the points behind "
        "it are shifted by what it found.",
        "Here they are checked as taught: teach the search's point where the two touch as drawn.",
    ),
    FindingKind.SEARCH: (
        "All of the search and its overtravel is checked, as if nothing were felt: scale, paint or "
        "a cut wire do that.",
    ),
    FindingKind.STATION_USE: (
        "At a station one piece of the torch may touch one body; everything else is measured.",
    ),
    FindingKind.STATION: (
        "How deep the torch goes in and how long it stays is as the program says.",
    ),
    FindingKind.WRIST_ALIGNED: (
        "A small twist of the torch about its own wire often takes the wrist out of line, and "
        "changes nothing at the weld; where it does not help, another torch angle or place does.",
    ),
    FindingKind.ELBOW_STRETCHED: (
        "A stretched arm cannot reach farther that way; on a straight move its joints spin to "
        "fold again.",
        "Moving the part nearer, or the point, changes that; a twist about the wire hardly does.",
    ),
    FindingKind.WRIST_OVER_SHOULDER: (
        "Passing there on a straight move, joint 1 has to swing half round in a moment.",
    ),
    FindingKind.NEAR_SINGULAR: (
        "In such a posture the arm loses one direction in which it can move; a straight move "
        "through it makes joints spin.",
    ),
    FindingKind.TWO_WAYS: (
        "Two postures meet where joints line up: an arm may keep its own, one joint swinging half "
        "a turn in a moment, or go through into the other.",
        "Which of them a real arm takes depends on its last hundredth of a degree, so neither is "
        "promised; the other one moves elbow, neck and hoses elsewhere.",
    ),
    FindingKind.OUT_OF_REACH: (
        "A straight move needs joint values at every place of its line, not only at its two ends.",
        "Where there are none, the real arm stops with a fault.",
    ),
    FindingKind.JOINT_LEAP: (
        "A straight move stays in one posture: going over into the other one would be a leap.",
    ),
    FindingKind.POSTURE_PICKED: (
        "A pose says where the torch is, not how the arm stands: several sets of joint values "
        "meet it, some a whole turn of joint 4 or 6 apart.",
        "What was measured holds for the joint values taken, not for the others.",
    ),
    FindingKind.POSE_DISAGREES: (
        "Joint values and a pose of one point say the same thing twice, so they have to agree.",
        "Until they do, every clearance here may be that of another arm than yours.",
    ),
    FindingKind.JOINT_LIMIT: (
        "The limit is the one in the arm's description; the real arm stops at its own.",
    ),
    FindingKind.JOINT_SPEED: (
        "At the speed asked for, a joint would have to turn faster than it can.",
        "The real arm slows down there, or stops with a fault; on a seam that changes the bead.",
    ),
    FindingKind.ARRIVES_OTHERWISE: (
        "A straight move ends at the taught place, but in the posture in which it set out.",
    ),
    FindingKind.NOT_CHECKED: (
        "What has no shape cannot be measured. Nothing is said about it, and least of all that it "
        "is clear.",
    ),
    FindingKind.NOT_NARROWED: (
        "The search was given up before the number was as exact as others; what it says holds.",
    ),
    FindingKind.SEAM_OFF: (
        "A seam lies where metal is. Where it does not, the model is not the cell: a clearance "
        "in it says nothing about yours.",
        "The wire's end is looked at without its weave, all along the seam; how far off the "
        "surface and the joint it may be is 'off part', 3 mm unless the seam says otherwise.",
    ),
    FindingKind.UNLIKELY_BODY: (
        "What stands so far away meets nothing: with a wrong place it would read as clear.",
    ),
    FindingKind.UNLIKELY_UNIT: (
        "A mesh does not say its unit: the cell file does, and a wrong one makes it 10, 25.4 or "
        "1000 times too large or too small.",
        "A body that is too small reads as clear where the real one is hit.",
        "What is usual for its role, and what stands beside it, tell; measure one side of it.",
    ),
    FindingKind.UNLIKELY_TORCH: (
        "The wire comes out of the middle of the nozzle, along it, by the stick-out less how far "
        "the contact tip stands back.",
        "Where tool centre point, stick-out and meshes do not fit together, every clearance is "
        "that of another torch.",
    ),
    FindingKind.OVERLAP: (
        "Two real bodies cannot fill one place: one of them stands elsewhere, or has another size.",
        "How deep they lie in each other is sampled on their surfaces, not proved.",
    ),
    FindingKind.STANDS_TWICE: (
        "A body that is named twice is measured twice; where one of the two was to stand, nothing "
        "is measured.",
    ),
    FindingKind.FLOATS: (
        "What touches nothing falls down: either it stands elsewhere, or what holds it is not in "
        "the cell.",
    ),
    FindingKind.TABLE_EMPTY: (
        "Only bodies that are said to stand on the table turn with it; all others stand still.",
    ),
    FindingKind.TOUCHES_TABLE: (
        "What touches a body on the turning table is in its way as soon as the table turns.",
    ),
    FindingKind.DRAWN_INTO: (
        "Two parts that are fastened to each other meet round their joint, not far from it.",
    ),
    FindingKind.APPROXIMATE_SHAPES: (
        "Clearances are those of the simple solids. Measure the real castings against them once.",
    ),
    FindingKind.CABLE: (
        "A cable moves by itself as well: its slack says how far, and everything within it counts "
        "as cable.",
        "A span that is free between two links takes another shape in every posture; look at it on "
        "the first slow run.",
    ),
    FindingKind.ROUNDING: (
        "An arm that rounds a point does not pass through it; how it does so differs between arms, "
        "so a whole family of ways was measured.",
    ),
    FindingKind.PROGRAM_HABIT: (
        "It is a habit of sound programs (common practice), not a collision.",
    ),
    FindingKind.TRADE_PRACTICE: (
        "Speeds, legs and times as weld programmers mostly set them (common practice), no verdict.",
    ),
    FindingKind.PROGRAM_LINE: (
        "A line such as a stitch is laid out as plain moves, and each of them is checked.",
        "What the lengths leave over is said, so that nobody takes it for welded.",
    ),
    FindingKind.WAY_HOME: (
        "A program runs again and again: from its last point the arm goes to its first one.",
        "That way is no move of the program, so it was neither laid nor measured.",
    ),
    FindingKind.WIND_UP: (
        "Hose and cable along the forearm and the flange are wound up by joints 4 and 6; their "
        "maker says by how much they may be.",
        "The same posture of the torch is often reached with a whole turn less.",
    ),
    FindingKind.UNUSED: (
        "A point is taught for a reason: most often its move was lost when the program was typed.",
    ),
    FindingKind.PARTS_LEFT_OUT: (
        "A body made of one part of a file holds that part alone. What else the file has is "
        "measured only where another body, piece or link is made of it.",
    ),
    FindingKind.PLACE_UNCERTAIN: (
        "A clearance is measured to where a body is drawn; it stands somewhere within what its "
        "touches leave open. So the margin is wider by that.",
    ),
    FindingKind.UNFINISHED: (
        "The check holds for the cell as it is described; examples are nobody's real cell.",
    ),
    FindingKind.UNWELDED: (
        "The wire may touch parts and nothing else; so a part is what the program welds.",
        "A part that is out of its place is measured where it was put, not where it is.",
    ),
    FindingKind.REPEATED: ("It does no harm by itself; most often a line was copied.",),
    FindingKind.UNUSUAL_PROCESS: (
        "The ranges are common practice for one pass of arc welding, not a verdict: most often a "
        "unit is wrong.",
    ),
    FindingKind.UNUSUAL_MARGIN: (
        "The margin stands for all that is not where it was drawn: fit-up, clamping, the arm's own "
        "accuracy.",
    ),
    FindingKind.WEAVE: ("A weave is as good as what the joints can follow.",),
    FindingKind.WEAVE_STROKES: (
        "The strokes are counted as they are laid, ends and dwells included.",
    ),
    FindingKind.WEAVE_ROOM: (
        "The room beside the wire was looked at in many places along the seam; it is not proved "
        "between them.",
    ),
    FindingKind.BEAD_REACH: (
        "A bead is drawn larger than it comes out, so that it holds what any joint makes of it. "
        "Here only what is on the torch's side of the wire's end counts: a backing bar or a table "
        "under the root is out of it.",
    ),
    FindingKind.WEAVE_ACCELERATION: (
        "At each end of a stroke the joints brake and speed up again: the faster and wider the "
        "weave, the harder.",
    ),
    FindingKind.ARM_BENDS: (
        "A weave near the arm's own frequency makes it swing: the tip goes farther than asked for.",
    ),
    FindingKind.TORCH_ANGLES: (
        "The work angle is told in the plane square to the seam, from the parts' faces there; "
        "the travel angle needs no parts.",
    ),
    FindingKind.WELD_POSITION: (
        "The position is told by the slope of the seam and by where the weld's face looks, in the "
        "room (ISO 6947).",
    ),
    FindingKind.ARM_RESERVE: (
        "How far the arm is from a wrist in line, from its limits and its reach, and how far hoses "
        "are wound.",
    ),
    FindingKind.PROCESS: (
        "Bead and heat follow from wire, speed and the process that the cell names.",
    ),
}
