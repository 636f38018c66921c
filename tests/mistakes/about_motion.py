"""Motion and contact: speeds in wrong units, and bodies that are wholly inside one another."""

import trimesh

from pathsim.findings import Level
from tests.mistakes.case import Harmless, Mistake, all_of, swap


def body(name, shape, at, cell="gate_hinge"):
    """Add a body: ``shape`` is a mesh in mm about its own origin, which stands at ``at`` mm."""

    def change(folder):
        assert folder.name == cell
        path = folder / f"{name}.stl"
        shape.export(path)
        x, y, z = at
        line = (
            f"  - {{name: {name}, role: other, mesh: {name}.stl, unit: mm, at: {x} {y} {z} mm}}\n"
        )
        text = (folder / "cell.yaml").read_text(encoding="utf-8")
        head, tail = text.split("points:", 1)
        (folder / "cell.yaml").write_text(f"{head.rstrip()}\n{line}\npoints:{tail}", "utf-8")

    return change


def cube(side):
    return trimesh.creation.box((side, side, side))


def tunnel(inside, wall, length):
    """Four walls round a way along x, open at both ends."""
    outer = trimesh.creation.annulus(inside / 2, inside / 2 + wall, length, sections=4)
    outer.apply_transform(trimesh.transformations.rotation_matrix(0.7853981633974483, [0, 0, 1]))
    outer.apply_transform(trimesh.transformations.rotation_matrix(1.5707963267948966, [0, 1, 0]))
    return outer


ARM = "../shop_arm/arm.yaml"
TORCH = "../shop_arm/torch.yaml"
#: Where the torch's body is halfway home, and where it ends; where link 2 is when the arm starts.
HALFWAY, AT_HOME, IN_LINK_2 = (595, 361, 1242), (298, 505, 1360), (20, 56, 1200)

MISTAKES = [
    Mistake(
        "a bolt drawn within the upper arm",
        "gate_hinge",
        body("bolt", cube(24), IN_LINK_2),
        Level.STOP,
        ("the bolt lies inside the link 2, from 0 %", "of move 1"),
        both_engines=True,
    ),
    Mistake(
        "a pin that the torch body swallows on its way home",
        "gate_hinge",
        body("pin", trimesh.creation.box((4, 4, 21)), HALFWAY),
        Level.STOP,
        ("the torch body touches the pin", "the pin is wholly inside the torch body"),
        both_engines=True,
    ),
    Mistake(
        "the way home ends within a block",
        "gate_hinge",
        body("block", cube(500), AT_HOME),
        Level.STOP,
        ("the nozzle touches the block from", "to 100 % of move 5", "the nozzle is wholly inside"),
        both_engines=True,
    ),
    Mistake(
        "the way out starts within a block",
        "gate_hinge",
        body("block", cube(500), AT_HOME),
        Level.STOP,
        ("the nozzle lies inside the block, from 0 %", "of move 1"),
        both_engines=True,
    ),
    Mistake(
        "a block that stands in the room of the whole way home",
        "gate_hinge",
        body("block", cube(420), HALFWAY),
        Level.STOP,
        ("the nozzle touches the block from", "the nozzle is wholly inside the block from"),
        both_engines=True,
    ),
    Mistake(
        "a joint speed in per mille",
        "gate_hinge",
        swap("{joint: approach, speed: 40 %}", "{joint: approach, speed: 4000 %}"),
        None,
        ("program[2].speed", "came '4000 %'", "at most 100 %"),
    ),
    Mistake(
        "a seam in m/s in place of mm/s",
        "gate_hinge",
        swap("speed: 5 mm/s", "speed: 5 m/s"),
        None,
        ("cell.yaml:27", "came '5 m/s'", "at most 1000 mm/s", "is the unit right"),
    ),
    Mistake(
        "a straight move in m/s in place of mm/s",
        "gate_hinge",
        swap("speed: 60 mm/s", "speed: 60 m/s"),
        None,
        ("cell.yaml:26", "came '60 m/s'", "at most 20 m/s", "is the unit right"),
    ),
    Mistake(
        "a joint so fast that the move is over at once",
        "gate_hinge",
        swap("speed: 600 deg/s", "speed: 1e11 deg/s", ARM),
        None,
        ("arm.yaml:11", "joints[6].speed", "at most 7200 deg/s", "is the unit right"),
    ),
    Mistake(
        "a joint's acceleration in the wrong unit",
        "gate_hinge",
        swap("acceleration: 1600 deg/s2", "acceleration: 1600 rad/s2", ARM),
        None,
        ("joints[6].acceleration", "at most 50000 deg/s2", "is the unit right"),
    ),
    Mistake(
        "the arm's tip speed in m/s",
        "gate_hinge",
        swap("tip: {speed: 1500 mm/s", "tip: {speed: 1500 m/s", ARM),
        None,
        ("tip.speed", "at most 20 m/s", "is the unit right"),
    ),
    Mistake(
        "a wire as thick as a rod",
        "gate_hinge",
        swap("wire diameter: 1.0 mm", "wire diameter: 1.0 in", TORCH),
        None,
        ("wire diameter", "at most 10 mm", "is the unit right"),
    ),
]
HARMLESS = [
    Harmless(
        "a bolt beside the way home, out of its margin",
        "gate_hinge",
        body(
            "post",
            trimesh.creation.box(
                (20, 20, 200),
            ),
            (660, 260, 800),
        ),
    ),
    Harmless(
        "joint moves at full speed",
        "gate_hinge",
        swap("{joint: approach, speed: 40 %}", "{joint: approach, speed: 100 %}"),
    ),
    Harmless("a seam a little faster", "gate_hinge", swap("speed: 5 mm/s", "speed: 5.5 mm/s")),
    Harmless("a seam in cm/min", "gate_hinge", swap("speed: 5 mm/s", "speed: 30 cm/min")),
    Harmless("a brisk retract", "gate_hinge", swap("speed: 120 mm/s", "speed: 1.2 m/s")),
    Harmless("a very fast wrist", "gate_hinge", swap("speed: 600 deg/s", "speed: 1400 deg/s", ARM)),
    Harmless("a fast tip", "gate_hinge", swap("tip: {speed: 1500 mm/s", "tip: {speed: 6 m/s", ARM)),
    Harmless(
        "a wait that nobody notices",
        "gate_hinge",
        swap(
            "  - {joint: home, speed: 40 %}", "  - {joint: home, speed: 40 %}\n  - {wait: 0.001 ms}"
        ),
    ),
    Harmless(
        "one point taught twice, a hair apart, with a move between the two",
        "gate_hinge",
        all_of(
            swap(
                "retract,0.881,",
                "retract b,0.8810000001,1.145,29.280,5.752,59.841,-7.000\nretract,0.881,",
                "points.csv",
            ),
            swap(
                "  - {joint: home, speed: 40 %}",
                "  - {linear: retract b, speed: 120 mm/s}\n  - {joint: home, speed: 40 %}",
            ),
        ),
    ),
    Harmless(
        "a cored wire of 1.6 mm in the torch",
        "gate_hinge",
        swap("wire diameter: 1.0 mm", "wire diameter: 1.6 mm", TORCH),
    ),
]
