"""``pathsim place``: a jig that stands elsewhere than drawn is found, written, and said to be."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim import load_cell
from pathsim.cli.main import main
from pathsim.transforms import inverse, pose
from tests.files.test_cell_folder import shop, spoil
from tests.files.test_groups import with_jig

__all__ = ["shop"]
DRAWN = np.array([[0, 0, 20], [60, 0, 20], [60, 40, 20], [0, 40, 20], [30, 20, 90]]) * 1e-3
T_TRUE = pose(Rotation.from_euler("z", 93.0, degrees=True).as_matrix(), [0.808, 0.094, 0.701])
#: In the jig's drawing: on faces of a block.
FACES = [([10, 10, 0], "0,0,1"), ([90, 10, 0], "0,0,1"), ([50, 60, 0], "0,0,1"),
         ([20, 0, 30], "0,1,0"), ([80, 0, 20], "0,1,0"), ([0, 40, 20], "1,0,0")]  # fmt: skip


def write_touches(shop, noise=0.1e-3, drawn=DRAWN, T=T_TRUE, seed=1):
    rng = np.random.default_rng(seed)
    lines = ["name,x mm,y mm,z mm,dx mm,dy mm,dz mm"]
    T_base = inverse(load_cell(shop / "gate_hinge").T_world_base) @ T
    for k, place in enumerate(drawn):
        tip = T_base[:3, :3] @ place + T_base[:3, 3] + rng.normal(0, noise, 3)
        numbers = [*(1e3 * tip), *(1e3 * place)]
        lines.append(f"corner {k + 1}," + ",".join(f"{v:.4f}" for v in numbers))
    (shop / "touches.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def place(shop, *more, what="jig", frame="base"):
    said = [] if frame is None else ["--frame", frame]
    return main(["place", str(shop / "gate_hinge"), what, str(shop / "touches.csv"), *said, *more])


def test_a_jig_is_found_written_and_its_margins_widened(shop, capsys):
    with_jig(shop)
    spoil(shop, "gate_hinge/cell.yaml", "  jig:", "  # bolted to the table\n  jig:")
    before = load_cell(shop / "gate_hinge").body("left clamp")
    write_touches(shop)
    assert place(shop, "--touch", "0.3 mm", "--write") == 0
    said = capsys.readouterr().out
    assert "known to" in said and "Written: cell.yaml" in said
    text = (shop / "gate_hinge/cell.yaml").read_text(encoding="utf-8")
    assert "# bolted to the table" in text
    assert "known within: {from: " in text
    body = load_cell(shop / "gate_hinge").body("left clamp")
    T_old = pose(Rotation.from_euler("z", 90.0, degrees=True).as_matrix(), [0.8, 0.1, 0.7])
    true = T_TRUE @ inverse(T_old) @ before.T_world_body
    corners = before.mesh.corners
    off = corners @ true[:3, :3].T + true[:3, 3]
    off -= corners @ body.T_world_body[:3, :3].T + body.T_world_body[:3, 3]
    assert np.linalg.norm(off, axis=1).max() < body.known_to < 2e-3
    assert main(["check", str(shop / "gate_hinge")]) in (0, 1)
    assert "place known to" in " ".join(capsys.readouterr().out.split())


def test_a_body_is_placed_by_faces(shop, capsys):
    T_base = inverse(load_cell(shop / "gate_hinge").T_world_base)
    T = pose(Rotation.from_euler("z", 4.0, degrees=True).as_matrix(), [0.842, 0.118, 0.721])
    lines = ["name,x mm,y mm,z mm,dx mm,dy mm,dz mm,on,nx,ny,nz"]
    for k, (drawn, normal) in enumerate(FACES):
        p = np.array(drawn) * 1e-3
        tip = T_base[:3, :3] @ (T[:3, :3] @ p + T[:3, 3]) + T_base[:3, 3]
        numbers = ",".join(f"{v:.5f}" for v in [*(1e3 * tip), *drawn])
        lines.append(f"t{k},{numbers},face,{normal}")
    (shop / "touches.csv").write_text("\n".join(lines), encoding="utf-8")
    assert place(shop, what="left clamp") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "at 842.000 118.000 721.000 mm, turned 0.0000 0.0000 4.0000 deg" in said
    assert "Just as many touches as needed" in said
    assert place(shop, "--write", what="left clamp") == 2
    assert "one touch more" in capsys.readouterr().err


def test_joint_readings_tell_the_tip_too(shop, capsys):
    cell = load_cell(shop / "gate_hinge")
    names = ["approach", "weld start", "weld end", "home", "retract"]
    lines = ["name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,dx mm,dy mm,dz mm"]
    body = cell.body("left clamp")
    for name in names:
        q = cell.points[name].q
        tip = inverse(body.T_world_body) @ np.append(cell.tips(q[None])[0], 1)
        numbers = [*np.degrees(cell.arm.readings.shown(q)), *(1e3 * tip[:3])]
        lines.append(f"{name}," + ",".join(f"{v:.6f}" for v in numbers))
    (shop / "touches.csv").write_text("\n".join(lines), encoding="utf-8")
    assert place(shop, what="left clamp") == 0
    assert "at 840.000 115.000 720.000 mm" in capsys.readouterr().out


def test_a_wrong_corner_is_named_and_nothing_is_written(shop, capsys):
    with_jig(shop)
    text = (shop / "gate_hinge/cell.yaml").read_bytes()
    write_touches(shop)
    lines = (shop / "touches.csv").read_text(encoding="utf-8").splitlines()
    cells = lines[3].split(",")
    cells[4] = "30"
    lines[3] = ",".join(cells)
    (shop / "touches.csv").write_text("\n".join(lines), encoding="utf-8")
    assert place(shop) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "'corner 3' is off most" in out
    assert place(shop, "--write") == 2
    assert "do not fit together" in capsys.readouterr().err
    assert (shop / "gate_hinge/cell.yaml").read_bytes() == text


@pytest.mark.parametrize(
    ("what", "more", "says"),
    [
        ("jgi", (), "Did you mean 'jig'"),
        ("left clamp", (), "place 'jig'"),
        ("jig", ("--touch", "1"), "mm, cm"),
        ("jig", ("--touch", "1 m"), "0 to 30 mm"),
        ("jig", ("--frame", "table"), "base or world"),
    ],
)
def test_what_cannot_be_asked(shop, capsys, what, more, says):
    with_jig(shop)
    write_touches(shop)
    assert place(shop, *more, what=what) == 2
    assert says in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name,x,y mm,z mm\na,1,2,3\n", "'x' has no unit"),
        ("name,dx mm,dy mm,dz mm\na,1,2,3\n", "nothing says where the tip was"),
        ("name,x mm,y mm,z mm,on\na,1,2,3,rim\n", "came 'rim'"),
        ("name,x mm,y mm,z mm,on\na,1,2,3,face\n", "has no direction"),
        ("name,x mm,y mm\na,1,2\n", "no column 'z'"),
        ("name,x mm,y mm,z mm\n", "hold no rows"),
        ("name,x mm,y mm,z mm\na,1,2,3\n", "columns dx mm"),
        ("name,x mm,y mm,z mm,dx mm,dy mm,dz mm\na,1,2,3,1,2,3\n", "leave open"),
    ],
)
def test_faults_of_the_touches(shop, capsys, text, says):
    with_jig(shop)
    (shop / "touches.csv").write_text(text, encoding="utf-8")
    assert place(shop) == 2
    assert says in " ".join(capsys.readouterr().err.split())


def test_the_tip_is_told_from_one_spot_in_several_postures(shop, capsys):
    cell = load_cell(shop / "gate_hinge")
    drawn, seen = cell.torch.T_flange_tcp, cell.torch.T_flange_tcp.copy()
    seen[:3, 3] += 0.004 * drawn[:3, 2]
    spot = cell.tool_poses(cell.points["approach"].q[None])[0]
    for tip, code, says in ((drawn, 0, "it agrees"), (seen, 1, "4.0 mm shorter along the wire")):
        lines = ["name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,touches"]
        for k, tilt in enumerate([(0, 0, 0), (25, 0, 10), (-25, 5, 0), (0, 25, -20), (0, -25, 30)]):
            T = spot.copy()
            T[:3, :3] = T[:3, :3] @ Rotation.from_euler("xyz", tilt, degrees=True).as_matrix()
            T_flange = inverse(cell.T_world_base) @ T @ inverse(tip)
            q = cell.arm.inverse(T_flange)[0]
            shown = np.degrees(cell.arm.readings.shown(q))
            lines.append(f"p{k}," + ",".join(f"{v:.7f}" for v in shown) + ",pin")
        (shop / "touches.csv").write_text("\n".join(lines), encoding="utf-8")
        assert place(shop, what="torch") == code
        assert says in " ".join(capsys.readouterr().out.split())
    assert place(shop, "--write", what="torch") == 2


def test_the_other_way_taught_points_are_said_with_what_to_key_in(shop, capsys):
    """A body was moved by 8, 5 and -1 mm; the points of the weld have to go with it."""
    cell = load_cell(shop / "gate_hinge")
    part = next(body.name for body in cell.bodies if body.role == "part")
    T = pose(np.eye(3), [0.008, 0.005, -0.001]) @ cell.body(part).T_world_body
    write_touches(shop, noise=0.0, T=T)
    assert place(shop, what=part) == 0
    assert "teach anew" not in capsys.readouterr().out
    assert place(shop, "--points", what=part) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "'weld start': 9.5 mm off; x +8.0, y +5.0, z -1.0 mm in the world." in said
    assert "Joints of 'weld start':" in said
    assert "Pose of 'weld end':" in said and "'home'" not in said


def test_two_lengths_of_wire_tell_its_axis_and_the_mesh_is_looked_at(shop, capsys):
    cell = load_cell(shop / "gate_hinge")
    drawn = cell.torch.T_flange_tcp
    spot = cell.tool_poses(cell.points["approach"].q[None])[0]
    tilts = [(0, 0, 0), (25, 0, 10), (-25, 5, 0), (0, 25, -20), (0, -25, 30)]
    for bend, code, says in ((0.0, 0, "it agrees"), (4.0, 1, "4.0 deg off the description")):
        tip = drawn.copy()
        tip[:3, :3] = tip[:3, :3] @ Rotation.from_euler("x", bend, degrees=True).as_matrix()
        lines = ["name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,touches"]
        for word, longer in (("short", 0.0), ("long", 0.012)):
            end = tip.copy()
            end[:3, 3] += longer * tip[:3, 2]
            for k, tilt in enumerate(tilts):
                T = spot.copy()
                T[:3, :3] = T[:3, :3] @ Rotation.from_euler("xyz", tilt, degrees=True).as_matrix()
                q = cell.arm.inverse(inverse(cell.T_world_base) @ T @ inverse(end))[0]
                shown = np.degrees(cell.arm.readings.shown(q))
                row = ",".join(f"{v:.7f}" for v in shown)
                lines.append(f"{word} {k},{row},{word}")
        (shop / "touches.csv").write_text("\n".join(lines), encoding="utf-8")
        assert place(shop, "--touch", "0.1 mm", what="torch") == code
        said = " ".join(capsys.readouterr().out.split())
        assert "The wire leaves along" in said and says in said
        assert "From the torch as drawn it is" in said


def test_what_touches_count_from_is_asked_for_or_taken_from_the_points(shop, capsys):
    """Base and world are 500 mm apart: a jig placed by the wrong one would be so far off."""
    with_jig(shop)
    write_touches(shop)
    assert place(shop, frame=None) == 2
    err = " ".join(capsys.readouterr().err.split())
    assert err.startswith("Could not place: what do the touches' x, y, z count from?")
    assert "'--frame base' or '--frame world'" in err
    spoil(shop, "gate_hinge/cell.yaml", "file: points.csv",
          "file: points.csv, rotation: fixed x-y-z, frame: base")  # fmt: skip
    assert place(shop, frame=None) == 0
    said = capsys.readouterr().out
    assert "Touches count from the base, as the cell's points do" in said
    assert place(shop) == 0
    assert said.split("\n", 1)[1] == capsys.readouterr().out
    spoil(shop, "gate_hinge/cell.yaml", "frame: base", "frame: world")
    assert place(shop, frame=None) == 0
    assert " 201.0" in capsys.readouterr().out  # in truth they are of the base, 500 mm higher
    spoil(shop, "gate_hinge/cell.yaml", "frame: world", "frame: jig")
    assert place(shop, frame=None) == 2
    assert "The cell's points count from 'jig'" in " ".join(capsys.readouterr().err.split())


def test_what_three_places_cannot_tell_is_said_and_four_can(shop, capsys):
    with_jig(shop)
    write_touches(shop, drawn=DRAWN[:3])
    assert place(shop) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "'corner 1', 'corner 2', 'corner 3' may be wrong square to the plane of the three" in said
    )
    assert "Touch one more place" in said
    write_touches(shop, drawn=DRAWN[:4])
    assert place(shop) == 0
    assert "Not proved" not in capsys.readouterr().out
    write_touches(shop)
    assert place(shop) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Not proved" not in said
    assert "a margin has to hold as good as always, not 95 times in 100, and in all of" in said
