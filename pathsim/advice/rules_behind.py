"""The rule behind each kind of finding, in words for a trainee; nothing about this cell."""

from __future__ import annotations

#: Said of a kind that has no rule here.
UNKNOWN = ("More than this is not known about it here; ask who wrote the description.",)

RULES: dict[str, tuple[str, ...]] = {
    "contact": (
        "The whole move was looked at, not only moments of it: a touch between two looks would "
        "have been found.",
    ),
    "near-hit": (
        "The margin is there because a real clamp never stands exactly where it was drawn.",
    ),
    "wrist aligned": (
        "A small twist of the torch about its own wire often takes the wrist out of line, and "
        "changes nothing at the weld; where it does not help, another torch angle or place does.",
    ),
    "elbow stretched": (
        "A stretched arm cannot reach farther that way; on a straight move its joints spin to "
        "fold again.",
        "Moving the part nearer, or the point, changes that; a twist about the wire hardly does.",
    ),
    "wrist over shoulder": (
        "Passing there on a straight move, joint 1 has to swing half round in a moment.",
    ),
    "near singular": (
        "In such a posture the arm loses one direction in which it can move; a straight move "
        "through it makes joints spin.",
    ),
    "out of reach": (
        "A straight move needs joint values at every place of its line, not only at its two ends.",
        "Where there are none, the real arm stops with a fault.",
    ),
    "joint leap": (
        "A straight move stays in one posture: going over into the other one would be a leap.",
    ),
    "posture picked": (
        "A pose says where the torch is, and not how the arm stands: several postures reach it.",
        "What was measured holds for the posture taken, not for the others.",
    ),
    "pose disagrees": (
        "Joint values and a pose of one point say the same thing twice, so they have to agree.",
        "Until they do, every clearance here may be that of another arm than yours.",
    ),
    "joint limit": (
        "The limit is the one in the arm's description; the real arm stops at its own.",
    ),
    "joint speed": (
        "At the speed asked for, a joint would have to turn faster than it can.",
        "The real arm slows down there, or stops with a fault; on a seam that changes the bead.",
    ),
    "arrives otherwise": (
        "A straight move ends at the taught place, but in the posture in which it set out.",
    ),
    "not checked": (
        "What has no shape cannot be measured. Nothing is said about it, and least of all that it "
        "is clear.",
    ),
    "not narrowed": (
        "The search was given up before the number was as exact as others; what it says holds.",
    ),
    "unlikely body": ("A mesh in the wrong unit is a thousand times too large or too small.",),
    "approximate shapes": (
        "Clearances are those of the simple solids. Measure the real castings against them once.",
    ),
    "cable": (
        "A cable moves by itself as well: its slack says how far, and everything within it counts "
        "as cable.",
        "A span that is free between two links takes another shape in every posture; look at it on "
        "the first slow run.",
    ),
    "rounding": (
        "An arm that rounds a point does not pass through it; how it does so differs between arms, "
        "so a whole family of ways was measured.",
    ),
    "program habit": ("It is a habit of sound programs (common practice), not a collision.",),
    "weave": ("A weave is as good as what the joints can follow.",),
    "weave strokes": ("The strokes are counted as they are laid, ends and dwells included.",),
    "weave room": (
        "The room beside the wire was looked at in many places along the seam; it is not proved "
        "between them.",
    ),
    "weave acceleration": (
        "At each end of a stroke the joints brake and speed up again: the faster and wider the "
        "weave, the harder.",
    ),
    "arm bends": (
        "A weave near the arm's own frequency makes it swing: the tip goes farther than asked for.",
    ),
    "torch angles": (
        "Work and travel angle are told from the meshes of the parts beside the seam.",
    ),
    "process": ("Bead and heat follow from wire, speed and the process that the cell names.",),
}
