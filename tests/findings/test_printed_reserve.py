"""What is printed of the arm's reserve, against the arm's file and own kinematics.

The joint values of a seam are taken from the trajectory and proved first: ``recomputed.py`` puts
the wire's end of each knot on the line or circle that the points teach, with the torch as taught.
What is printed of them is worked out from them and the limits in the files.
"""

import math
import re
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.findings import Evidence
from pathsim.findings.reserve_notes import reserve_notes
from pathsim.motion import plan_program
from tests.findings.recomputed import Recomputed, frame, one, placed, turn

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELLS = sorted(path.parent.name for path in SAMPLES.glob("*/cell.yaml"))


class Arm:
    """The arm of a cell from its files: axes in the order in which postures have them, deg, mm."""

    def __init__(self, again):
        self.again = again
        entry = again.arm
        self.limits = [self._range(joint["limits"]) for joint in entry["joints"]]
        self.rail = entry.get("rail")
        if self.rail:
            self.limits.insert(0, self._range(self.rail["limits"]))
        self.table = []
        if "turning table" in again.cell:
            table = again.cell["turning table"]
            self.table = [*([table["tilt"]] if "tilt" in table else []), table]
            self.limits += [self._range(axis["limits"]) for axis in self.table]

    @staticmethod
    def _range(text):
        low, high, unit = text.split()
        assert unit in ("deg", "mm")
        return float(low), float(high)

    def shown(self, q):
        """Postures in deg and mm, from rad and m."""
        units = [1000.0 if self.rail and k == 0 else math.degrees(1.0) for k in range(q.shape[1])]
        return q * units

    def joints(self, shown):
        first = 1 if self.rail else 0
        return shown[first : first + 6]

    def flange(self, shown):
        """Flange in the arm's base, or on its rail, of model joints."""
        readings = self.again.arm.pop("readings", None)
        try:
            return self.again.flange(self.joints(shown))
        finally:
            if readings is not None:
                self.again.arm["readings"] = readings

    def tool_on_part(self, shown):
        along = frame()
        if self.rail:
            along = frame(np.eye(3)["xyz".index(self.rail["along"])] * shown[0])
        T = self.again.base @ along @ self.flange(shown) @ self.again.tcp
        carried = np.eye(4)
        for axis, value in zip(self.table, shown[len(shown) - len(self.table) :], strict=True):
            place = placed(axis)
            carried = carried @ place @ frame(R=turn([0, 0, 1], value)) @ np.linalg.inv(place)
        return np.linalg.inv(carried) @ T

    def stretch(self, shown):
        """Share of a straight arm; None where the last three axes do not meet."""
        q, T = self.joints(shown), self.flange(shown)
        if "dimensions" in self.again.arm:
            d = {key: one(value) for key, value in self.again.arm["dimensions"].items()}
            if d.get("wrist offset"):
                return None
            shoulder, out, flange = d["shoulder height"], d["shoulder offset"], d["flange"]
            upper, fore = d["upper arm"], math.hypot(d["forearm"], d["elbow offset"])
        else:
            rows = [{key: one(row[key]) for key in ("a", "d")} for row in self.again.arm["joints"]]
            shoulder, out, flange = rows[0]["d"], rows[0]["a"], rows[5]["d"]
            upper, fore = rows[1]["a"], math.hypot(rows[2]["a"], rows[3]["d"])
        place = turn([0, 0, 1], q[0]) @ [out, 0, shoulder]
        wrist = T[:3, 3] - flange * T[:3, 2]
        return np.linalg.norm(wrist - place) / (upper + fore)


def line_of(again, start, end, entry, count=4001):
    """Places ``(n, 3)`` along a seam's line on the part."""
    A, B = again.on_part(start)[:3, 3], again.on_part(end)[:3, 3]
    share = np.linspace(0, 1, count)[:, None]
    if "via" not in entry:
        return A + share * (B - A)
    V = again.on_part(entry["via"])[:3, 3]
    n = np.cross(V - A, B - A)
    n /= np.linalg.norm(n)
    centre = np.linalg.solve(
        np.array([V - A, B - A, n]), [(V @ V - A @ A) / 2, (B @ B - A @ A) / 2, n @ A]
    )
    sweep = again.seam(start, end, entry)[0] / np.linalg.norm(A - centre)
    return np.array([centre + turn(n, math.degrees(s * sweep)) @ (A - centre) for s in share[:, 0]])


def printed(text, pattern):
    found = re.search(pattern, text)
    return None if found is None else float(found[1])


def reserve_agrees(text, arm, shown):
    """Compare each number of a sentence; return how many those are."""
    count = 0

    def agrees(pattern, value):
        nonlocal count
        said = printed(text, pattern)
        assert said is not None and abs(said - value) <= 0.501, (pattern, said, value, text)
        count += 1

    q = np.array([arm.joints(row) for row in shown])
    stretch = [arm.stretch(row) for row in shown[:: max(len(shown) // 400, 1)]]
    if None in stretch:
        assert "off a wrist in line" not in text and "straight arm" not in text
    else:
        off_line = np.minimum(np.abs(q[:, 4]), 180.0 - np.abs(q[:, 4]))  # folded back too
        agrees(r"joint 5 at least (\d+) deg off", off_line.min())
        agrees(r"reach used (\d+) %", 100 * max(stretch))
    agrees(r"joint 4 turns (\d+) deg", np.ptp(q[:, 3]))
    agrees(r"joint 6 turns (\d+) deg", np.ptp(q[:, 5]))
    left = [min((column - low).min(), (high - column).min())
            for column, (low, high) in zip(shown.T, arm.limits, strict=True)]  # fmt: skip
    said = re.search(r"least travel left (\d+) (deg|mm), (.+?)[;.]", text)
    turning = left[1:] if arm.rail else left
    names = [f"joint {k}" for k in range(1, 7)]
    names += ["tilt", "table"][-len(arm.table) :] if arm.table else []
    assert abs(float(said[1]) - min(turning)) <= 0.501 and said[2] == "deg"
    assert names[int(np.argmin(turning))] in said[3]
    return count + 1


@pytest.mark.parametrize("name", CELLS)
def test_what_is_printed_of_the_reserve(name):
    cell = pathsim.load_cell(SAMPLES / name)
    trajectory = plan_program(cell)
    notes = list(reserve_notes(Evidence(cell, trajectory, ())))
    again = Recomputed(SAMPLES / name)
    arm = Arm(again)
    count = reserve_agrees(notes[0].text, arm, arm.shown(trajectory.q))
    of_seams = {note.move: note.text for note in notes[1:]}
    seams = 0
    for number, (start, end, kind, entry) in enumerate(again.moves(), start=1):
        if kind != "seam":
            continue
        track = trajectory.tracks[number - 1]
        shown = arm.shown(track.q)
        tools = np.array([arm.tool_on_part(row) for row in shown[:: max(len(shown) // 300, 1)]])
        line = line_of(again, start, end, entry)
        off = np.linalg.norm(tools[:, None, :3, 3] - line[None, ::10], axis=2).min(axis=1)
        weave = again.cell["weaves"][entry["weave"]] if "weave" in entry else None
        allowed = 0.0 if weave is None else one(weave["amplitude"]) + 0.02
        assert off.max() <= allowed + 0.3  # the line is looked at every 0.3 mm
        ends = np.array([arm.tool_on_part(shown[k])[:3, 3] for k in (0, -1)])
        assert np.abs(ends[0] - line[0]).max() < 0.05
        assert np.linalg.norm(ends[1] - line[-1]) <= allowed + 0.05  # it ends wherever the weave is
        if "via" not in entry:
            lean = np.linalg.norm(tools[:, :3, 2] - again.on_part(start)[:3, 2], axis=1)
            assert lean.max() < 2e-3
        count += reserve_agrees(of_seams[number], arm, shown)
        seams += 1
    assert seams == sum(track.move.arc_on and not track.move.tack for track in trajectory.tracks)
    assert count >= 3 * (seams + 1)
