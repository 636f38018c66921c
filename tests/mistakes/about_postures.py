"""Postures and whole turns: what a pose leaves open, and where a straight move has two ways on."""

from pathlib import Path

from scipy.spatial.transform import Rotation

from pathsim import load_cell
from pathsim.findings import Level
from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

_POINTS = "points.csv"
_HOME = "45.000,180.000,ahead high plus,0,180\napproach"
_APPROACH = "45.000,180.000,ahead high plus,0,180\nweld start"
_START = "45.000,180.000,ahead high plus,0,180\nweld end"
_END = "45.000,180.000,ahead high plus,0,180\nretract"


def rail(row: str, said: str) -> Change:
    """Change what the row of hanging_rail before the named next one says beside its pose."""
    return swap(row, row.replace("ahead high plus,0,180", said), _POINTS)


def last_rail(said: str) -> Change:
    """Change what the last row of hanging_rail, 'retract', says beside its pose."""

    def change(folder: Path) -> None:
        path = folder / _POINTS
        head, old, tail = path.read_text().rpartition("ahead high plus,0,180")
        assert old
        path.write_text(head + said + tail)

    return change


def as_pose(name: str, beside: str = ",,", *, keeps_joints: bool = False) -> Change:
    """Teach a point of a cell of joint values as the pose that these bring.

    ``beside``: its posture, and about j4 and j6 deg.
    """

    def change(folder: Path) -> None:
        cell = load_cell(folder)
        T = cell.arm.pose(cell.points[name].q) @ cell.torch.T_flange_tcp
        turn = Rotation.from_matrix(T[:3, :3]).as_euler("xyz", degrees=True)
        numbers = ",".join(f"{v:.6f}" for v in (*(1e3 * T[:3, 3]), *turn))
        path = folder / _POINTS
        lines = path.read_text().splitlines()
        if "x mm" not in lines[0]:
            more = ",x mm,y mm,z mm,r1 deg,r2 deg,r3 deg,posture,about j4 deg,about j6 deg"
            lines = [lines[0] + more, *(line + "," * 9 for line in lines[1:])]
            swap("{file: points.csv}", "{file: points.csv, rotation: fixed x-y-z, frame: base}")(
                folder
            )
        at = next(k for k, line in enumerate(lines) if line.startswith(name + ","))
        joints = lines[at].split(",")[1:7] if keeps_joints else [""] * 6
        lines[at] = f"{name},{','.join(joints)},{numbers},{beside}"
        path.write_text("\n".join(lines) + "\n")

    return change


MISTAKES = [
    Mistake(
        "a pose with its posture, but nobody says the turn of joint 6",
        "hanging_rail",
        rail(_HOME, "ahead high plus,0,"),
        Level.WATCH,
        ("'home' is a pose", "j6 180.0 deg", "1 other set fits", "180 under 'about j6 deg'"),
        both_engines=True,
    ),
    Mistake(
        "a pose without a posture and without turns",
        "hanging_rail",
        rail(_APPROACH, ",,"),
        Level.WATCH,
        ("'approach' is a pose", "other sets fit", "'ahead high plus' under 'posture'"),
    ),
    Mistake(
        "several points with their turns left out are one finding",
        "hanging_rail",
        all_of(rail(_HOME, "ahead high plus,,"), rail(_APPROACH, "ahead high plus,,")),
        Level.WATCH,
        ("2 points are poses", "'home'", "'approach'", "nearest the middle"),
    ),
    Mistake(
        "a seam's start with joint 6 said to be a whole turn away",
        "hanging_rail",
        rail(_START, "ahead high plus,0,-180"),
        Level.WATCH,
        ("joint 6 360.0 deg away", "'weld start'", "a whole turn"),
        both_engines=True,
    ),
    Mistake(
        "the retract asks for the other side of joint 5 after a straight move",
        "hanging_rail",
        last_rail("ahead high minus,0,180"),
        Level.WATCH,
        ("in the posture ahead high plus", "'retract' asks for ahead high minus"),
    ),
    Mistake(
        "a joint move to a posture that the limits do not allow",
        "hanging_rail",
        rail(_APPROACH, "behind low plus,0,180"),
        Level.STOP,
        (
            "'approach' cannot be reached in the posture asked for",
            "behind low plus",
            "j6 about 180",
        ),
    ),
    Mistake(
        "a points file with the old words",
        "hanging_rail",
        rail(_HOME, "front up plus,0,180"),
        None,
        ("points.csv", "'front' is now 'ahead'"),
    ),
    Mistake(
        "a points file with the old column",
        "hanging_rail",
        swap("r3 deg,posture", "r3 deg,branch", _POINTS),
        None,
        ("came 'branch'", "now called 'posture'", "high or low"),
    ),
    Mistake(
        "a rough value for the rail, which a pose has to give exactly",
        "hanging_rail",
        swap("about j4 deg", "about rail mm", _POINTS),
        None,
        ("came 'about rail mm'", "about j6 deg"),
    ),
    Mistake(
        "a rough value that is no number",
        "hanging_rail",
        rail(_HOME, "ahead high plus,0,half a turn"),
        None,
        ("home, about j6", "half a turn"),
    ),
    Mistake(
        "a turn beside joint values that are a turn away",
        "gate_hinge",
        as_pose("approach", "ahead high plus,5,344", keeps_joints=True),
        None,
        ("approach, about j6", "344 deg", "-15.6 deg"),
    ),
    Mistake(
        "a posture that the joint values beside it do not have",
        "gate_hinge",
        as_pose("approach", "ahead low plus,,", keeps_joints=True),
        None,
        ("approach, posture", "'low'", "stand ahead high plus"),
    ),
    Mistake(
        "an approach as the display's pose alone",
        "gate_hinge",
        as_pose("approach"),
        Level.WATCH,
        ("'approach' is a pose", "j1 -7.8", "j6 -15.6 deg", "other sets fit"),
        both_engines=True,
    ),
    Mistake(
        "a pose alone for an arm whose postures are searched for",
        "offset_wrist",
        as_pose("approach"),
        Level.WATCH,
        ("'approach' is a pose", "j6 14.6 deg", "searched for", "may be missed"),
    ),
    Mistake(
        "a straight way back that ends with the wrist in line",
        "wrist_in_line",
        swap(
            "retract,2.327,-5.557,47.639,-159.804,5.390",
            "retract,2.327,-5.557,47.639,-159.804,0.05",
            _POINTS,
        ),
        Level.WATCH,
        ("line up to 0.05 deg", "move 4", "may keep its posture", "not guaranteed", "of move 5"),
        both_engines=True,
    ),
    Mistake(
        "a seam that starts with the wrist in line",
        "wrist_in_line",
        swap(
            "weld start,2.516,-7.388,54.487,-168.657,10.269",
            "weld start,2.516,-7.388,54.487,-168.657,0.02",
            _POINTS,
        ),
        Level.STOP,
        ("joints 4 and 6 line up", "move 3", "go through into the other one"),
    ),
]
HARMLESS = [
    Harmless(
        "the turn of joint 6 is said to within a quarter of a turn, from below",
        "hanging_rail",
        rail(_HOME, "ahead high plus,0,95"),
    ),
    Harmless(
        "the turn of joint 6 is said to within a quarter of a turn, from above",
        "hanging_rail",
        rail(_APPROACH, "ahead high plus,0,265"),
    ),
    Harmless(
        "joint 4 has no turn to spare, so only joint 6 is said",
        "hanging_rail",
        rail(_HOME, "ahead high plus,,180"),
    ),
    Harmless(
        "posture words in another order and case",
        "hanging_rail",
        rail(_APPROACH, "PLUS High ahead,0,180"),
    ),
    Harmless(
        "points of straight moves need no posture: it is that of the move",
        "hanging_rail",
        all_of(rail(_START, ",,"), rail(_END, "high,,"), last_rail(",,")),
    ),
    Harmless(
        "the part of the posture that the limits leave open is said",
        "hanging_rail",
        rail(_HOME, "plus,0,180"),
    ),
    Harmless(
        "joint values beside a pose settle it",
        "gate_hinge",
        as_pose("approach", keeps_joints=True),
    ),
    Harmless(
        "joint values with posture and rough values that agree",
        "gate_hinge",
        as_pose("approach", "ahead high plus,90,-100", keeps_joints=True),
    ),
    Harmless(
        "an approach as a pose with posture and turns",
        "gate_hinge",
        as_pose("approach", "ahead high plus,5,-15"),
    ),
    Harmless(
        "a retract as a pose, come to on a straight move",
        "gate_hinge",
        as_pose("retract"),
    ),
    Harmless(
        "home with the wrist in line, come to by joint moves",
        "gate_hinge",
        swap(
            "home,60.000,-20.000,25.000,0.000,90.000",
            "home,60.000,-20.000,25.000,0.000,0.000",
            _POINTS,
        ),
    ),
    Harmless(
        "a joint move right through the wrist in line",
        "gate_hinge",
        swap(
            "home,60.000,-20.000,25.000,0.000,90.000",
            "home,60.000,-20.000,25.000,0.000,-20.000",
            _POINTS,
        ),
    ),
    Harmless(
        "a weld end as a pose on a searched arm, come to along the seam",
        "offset_wrist",
        as_pose("weld end"),
    ),
    Harmless(
        "poses of all straight moves, joint values where a joint move ends",
        "gate_hinge",
        all_of(as_pose("weld start"), as_pose("weld end"), as_pose("retract", "high,,")),
    ),
    Harmless(
        "a points file of poses without rough values for joint 4",
        "hanging_rail",
        all_of(swap("about j4 deg,", "note,", _POINTS)),
    ),
    Harmless(
        "the turn of joint 6 with a decimal, as a display shows it",
        "hanging_rail",
        rail(_HOME, "ahead high plus,0,100.5"),
    ),
]
