"""A cell's seams and times worked out again from its files alone, by nothing of the package.

Own kinematics (Denavit-Hartenberg rows, or turns about the axes of the dimension drawing), own
circles through three points, trapezoids, closed forms of weaves; faces of the parts by trimesh.
Lengths in mm, angles in deg, times in s.
"""

from __future__ import annotations

import csv
import math
import re

import numpy as np
import trimesh
import yaml

KINDS = ("start", "joint", "linear", "seam", "tack", "stitch", "multipass", "search")
#: Shapes without a file, and what of them goes along x, y and z.
BLOCKS = {"plate": ("length", "width", "thickness"), "wall": ("length", "thickness", "height")}


def numbers(text):
    """All numbers of a text with their unit's factor to mm, deg, s."""
    factor = {"m": 1000.0, "m/min": 1000 / 60, "in/min": 25.4 / 60, "cm/min": 10 / 60,
              "/min": 1 / 60}  # fmt: skip
    words = str(text).split()
    unit = words[-1] if not re.fullmatch(r"[-+\d.e]+", words[-1]) else ""
    return [float(w) * factor.get(unit, 1.0) for w in words if re.fullmatch(r"[-+\d.e]+", w)]


def one(text):
    return numbers(text)[0]


def turn(axis, degrees):
    x, y, z = np.asarray(axis, float)
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([
        [c + x * x * (1 - c), x * y * (1 - c) - z * s, x * z * (1 - c) + y * s],
        [y * x * (1 - c) + z * s, c + y * y * (1 - c), y * z * (1 - c) - x * s],
        [z * x * (1 - c) - y * s, z * y * (1 - c) + x * s, c + z * z * (1 - c)],
    ])  # fmt: skip


def frame(at=(0, 0, 0), R=None):
    T = np.eye(4)
    T[:3, 3] = at
    if R is not None:
        T[:3, :3] = R
    return T


def fixed_xyz(a, b, c):
    return turn([0, 0, 1], c) @ turn([0, 1, 0], b) @ turn([1, 0, 0], a)


def placed(entry):
    R = fixed_xyz(*numbers(entry["turned"])) if "turned" in entry else None
    return frame(numbers(entry.get("at", "0 0 0 mm")), R)


class Recomputed:
    """What a cell's folder says, and what follows from it."""

    def __init__(self, folder):
        self.folder = folder
        self.cell = yaml.safe_load((folder / "cell.yaml").read_text())
        path = folder / self.cell["arm"]["description"]
        self.arm = yaml.safe_load(path.read_text())
        self.torch = yaml.safe_load((folder / self.cell["torch"]["description"]).read_text())
        self.base = placed(self.cell["arm"])
        self.tcp = placed(self.torch["tool centre point"])
        with (folder / "points.csv").open() as file:
            self.points = {row["name"]: row for row in csv.DictReader(file)}
        self.override = one(self.cell.get("override", "50 %")) / 100
        self.made = {}
        self.has_joints = "j1 deg" in next(iter(self.points.values()))

    def joints(self, name):
        return np.array([float(self.points[name][f"j{k} deg"]) for k in range(1, 7)])

    def flange(self, shown):
        """Flange in the base, from what the display shows."""
        q = np.array(shown, float)
        for entry in self.arm.get("readings", {}).get("joints", []):
            k = entry["joint"] - 1
            other = entry.get("coupled to")
            q[k] = entry.get("sign", 1) * shown[k] + one(entry.get("zero", "0 deg"))
            q[k] += 0.0 if other is None else entry["coupling"] * shown[other - 1]
        if "dimensions" in self.arm:
            return self._by_drawing(q)
        T = np.eye(4)
        for row, value in zip(self.arm["joints"], q, strict=True):
            theta = value + one(row.get("theta0", "0 deg"))
            T = T @ frame(R=turn([0, 0, 1], theta)) @ frame([0, 0, one(row["d"])])
            T = T @ frame([one(row["a"]), 0, 0]) @ frame(R=turn([1, 0, 0], one(row["alpha"])))
        return T

    def _by_drawing(self, q):
        d = {key: one(value) for key, value in self.arm["dimensions"].items()}
        x, top = d["shoulder offset"], d["shoulder height"] + d["upper arm"] + d["elbow offset"]
        down = top - d.get("wrist offset", 0.0)
        wrist = x + d["forearm"]
        Y, F = [0, 1, 0], [1, 0, 0]
        axes = [([0, 0, 1], [0, 0, 0]), (Y, [x, 0, d["shoulder height"]]),
                (Y, [x, 0, d["shoulder height"] + d["upper arm"]]), (F, [x, 0, top]),
                (Y, [wrist, 0, down]), (F, [wrist, 0, down])]  # fmt: skip
        T = np.eye(4)
        for (axis, place), value in zip(axes, q, strict=True):
            T = T @ frame(place) @ frame(R=turn(axis, value)) @ frame([-v for v in place])
        return T @ frame([wrist + d["flange"], 0, down], [[0, 0, 1], [0, 1, 0], [-1, 0, 0]])

    def tool(self, name):
        """Tool in the world."""
        if name in self.made:
            return self.made[name]
        row = self.points[name]
        if self.has_joints:
            return self.base @ self.flange(self.joints(name)) @ self.tcp
        at = [float(row[f"{axis} mm"]) for axis in "xyz"]
        return frame(at, fixed_xyz(*(float(row[f"r{k} deg"]) for k in (1, 2, 3))))

    def table_turn(self, name):
        """Motion of what is on the turning table, as it stands at a point."""
        table, row = self.cell["turning table"], self.points[name]
        axes = [(table, "table deg")]
        if "tilt" in table:
            axes.insert(0, (table["tilt"], "tilt deg"))
        T = np.eye(4)
        for axis, column in axes:
            place = placed(axis)
            about_z = frame(R=turn([0, 0, 1], float(row[column])))
            T = T @ place @ about_z @ np.linalg.inv(place)
        return T

    def up_on_part(self, name):
        """The world's up as the part sees it where the table stands at a point."""
        if "turning table" not in self.cell:
            return np.array([0.0, 0, 1])
        return self.table_turn(name)[:3, :3].T @ [0, 0, 1]

    def on_part(self, name):
        """Tool as seen from the parts with the table at zero."""
        T = self.tool(name)
        if "turning table" in self.cell:
            T = np.linalg.inv(self.table_turn(name)) @ T
        return T

    def moves(self):
        """From, to, kind and entry of each move."""
        at, found = None, []
        for entry in self.cell["program"]:
            kind = next(k for k in KINDS if k in entry)
            if kind == "stitch":
                found += self._stitches(at, entry)
                at = found[-1][1]
                continue
            if kind == "multipass":
                found += self._passes(at, entry)
                at = found[-1][1]
                continue
            if kind != "start":
                found.append((at, entry[kind], kind, {"speed": "1 mm/s", **entry}))  # of a tack
            at = entry[kind]
        return found

    def _stitches(self, start, entry):
        """Moves of a stitch on a line whose ends have one torch angle, its lift straight back."""
        # To YAML 1.1, which this reader is of, the keys "on" and "off" are true and false.
        end, on, off = entry["stitch"], one(entry[True]), one(entry[False])
        A, B = self.tool(start), self.tool(end)
        way = B[:3, 3] - A[:3, 3]
        length = float(np.linalg.norm(way))

        def made(along, lift, words):
            T = A.copy()
            T[:3, 3] += along / length * way - lift * A[:3, 2]
            self.made[f"{end}, {words}"] = T
            return f"{end}, {words}"

        found, at, number = [], start, 1
        over = {"speed": entry["between"]}
        while (begin := (number - 1) * (on + off)) < length - on / 2:
            if number > 1:
                lift = one(entry["lift"])
                last = begin - off
                for place, up, words in (
                    (last, lift, f"stitch {number - 1} lifted"),
                    (begin, lift, f"stitch {number} above"),
                    (begin, 0.0, f"stitch {number} start"),
                ):
                    found.append((at, made(place, up, words), "linear", over))
                    at = found[-1][1]
            stop = min(begin + on, length)
            name = end if stop > length - 0.01 else made(stop, 0.0, f"stitch {number} end")
            found.append((at, name, "seam", entry))
            at, number = name, number + 1
        return found

    def _passes(self, start, entry):
        """Moves of a seam in passes on a line whose ends have one torch angle."""
        end, lift = entry["multipass"], one(entry["lift"])
        ends = [self.tool(start), self.tool(end)]
        along = ends[1][:3, 3] - ends[0][:3, 3]
        along = along / np.linalg.norm(along)
        up = -ends[0][:3, 2] + (ends[0][:3, 2] @ along) * along
        up /= np.linalg.norm(up)
        left = np.cross(up, along)
        found, at, over = [], (start, ends[0]), {"speed": entry["between"]}

        def made(T, words):
            self.made[f"{end}, {words}"] = T
            return f"{end}, {words}", T

        def both(one_pass, way, other, default="0 mm"):
            return one(one_pass.get(way, default)) - one(one_pass.get(other, default))

        for number, one_pass in enumerate(entry["passes"]):
            name, back = one_pass["pass"], -1 if one_pass.get("reversed") else 1
            shift = both(one_pass, "left", "right") * left + both(one_pass, "up", "down") * up
            R = turn(left, back * both(one_pass, "lean ahead", "lean back", "0 deg"))
            R = R @ turn(along, -both(one_pass, "lean left", "lean right", "0 deg"))
            own = [frame(T[:3, 3] + shift, R @ T[:3, :3]) for T in ends][::back]
            if np.abs(own[0] - at[1]).max() > 1e-6:
                before = entry["passes"][number - 1]["pass"] if number else "the start"
                high = frame([0, 0, -lift])
                for T, words in (
                    (at[1] @ high, f"{before} lifted"), (own[0] @ high, f"above {name}"),
                    (own[0], f"{name} start"),
                ):  # fmt: skip
                    there = made(T, words)
                    if np.abs(there[1] - at[1]).max() > 1e-6:
                        found.append((at[0], there[0], "linear", over))
                        at = there
            there = made(own[1], f"{name} end")
            line = {
                key: value for key, value in entry.items() if key not in ("multipass", "passes")
            }
            said = {**line, **one_pass, "passes": [*self._speeds(entry, number)]}
            found.append((at[0], there[0], "seam", said))
            at = there
        return found

    @staticmethod
    def _speeds(entry, number):
        """Speeds of a pass and of those before it, mm/s."""
        return [one(p.get("speed", entry["speed"])) for p in entry["passes"][: number + 1]]

    def groove(self, place, travel):
        """Area between two level plates, mm2: cut by trimesh at a place, and measured in levels."""
        up = np.array([0.0, 0.0, 1.0])
        side, plates = np.cross(travel, up), []
        for entry in self.cell["bodies"]:
            if entry["role"] == "part":
                mesh = self.shape(entry)
                mesh.apply_transform(placed(entry))
                cut = trimesh.intersections.mesh_plane(mesh, travel, place) - place
                plates.append(np.stack([cut @ side, cut @ up], axis=-1))
        before, behind = sorted(plates, key=lambda cut: cut[..., 0].mean())
        levels = np.linspace(before[..., 1].min(), before[..., 1].max(), 2001)

        def at(cut, level):
            a, b = cut[:, 0], cut[:, 1]
            met = (a[:, 1] - level) * (b[:, 1] - level) < 0
            a, b = a[met], b[met]
            return a[:, 0] + (b[:, 0] - a[:, 0]) * (level - a[:, 1]) / (b[:, 1] - a[:, 1])

        width = [at(behind, z).min() - at(before, z).max() for z in (levels[1:] + levels[:-1]) / 2]
        return float(np.sum(width) * (levels[1] - levels[0]))

    def bead(self, area, amplitude):
        """Width and height of a bead as it is drawn, mm: two discs of 1.30 sqrt(A) in all.

        And one without the weave's spread, 1.30 sqrt(A) round and 0.55 sqrt(A) up: the higher.
        """
        # pi r^2 + 4 a r = pi 1.3^2 A
        r = np.roots([math.pi, 4 * amplitude, -math.pi * 1.3**2 * area]).max()
        return 2 * (amplitude + r), 1.85 * np.sqrt(area)

    def seam(self, start, end, entry):
        """Length, and tool and direction of travel at the middle, on the part."""
        A, B = self.on_part(start), self.on_part(end)
        if "via" not in entry:
            way = B[:3, 3] - A[:3, 3]
            length = np.linalg.norm(way)
            M = frame((A[:3, 3] + B[:3, 3]) / 2, A[:3, :3])
            return length, M, way / length
        V = self.on_part(entry["via"])
        a, v, b = (T[:3, 3] for T in (A, V, B))
        n = np.cross(v - a, b - a)
        n /= np.linalg.norm(n)
        rows = np.array([v - a, b - a, n])
        centre = np.linalg.solve(rows, [(v @ v - a @ a) / 2, (b @ b - a @ a) / 2, n @ a])
        arm = a - centre
        side = np.cross(n, arm)

        def angle(p):
            return math.atan2((p - centre) @ side, (p - centre) @ arm) % (2 * math.pi)

        sweep = angle(b)
        assert 0 < angle(v) < sweep
        travel = np.cross(n, v - centre)
        # the samples teach the middle of their arcs: the torch is taught there
        return np.linalg.norm(arm) * sweep, V, travel / np.linalg.norm(travel)

    def weave(self, entry, speed):
        """Actual Hz, pitch, period's share of travel, largest tip speed and acceleration."""
        w = self.cell["weaves"][entry["weave"]]
        size, f = one(w["amplitude"]), one(w["frequency"])
        both = one(w.get("dwell", "0 s"))
        left, right = (one(w.get(f"dwell {side}", f"{both} s")) for side in ("left", "right"))
        dwell = left + right + 2 * one(w.get("dwell centre", "0 s"))
        inside = w.get("dwell counts", "added") == "inside"
        period = 1 / f if inside else 1 / f + dwell
        stroke = (period - dwell) / 2
        stands = w.get("travel in dwell", "goes on") == "stands still"
        travelling = period - dwell if stands else period
        # differences of the shape itself, in time
        t = np.linspace(0, 2 * stroke, 200001)
        phase = np.pi * t / stroke
        side, ahead = np.sin(phase), 0 * t
        pattern = w["pattern"]
        if pattern == "zigzag":
            side = 2 / np.pi * np.arcsin(np.sin(phase))
        elif pattern == "circle":
            ahead = np.cos(phase) - 1
        elif pattern == "figure-of-eight":
            ahead = np.sin(phase) * np.cos(phase)
        elif pattern == "crescent":
            ahead = -(np.sin(phase) ** 2) / 2
        place = np.column_stack([size * side, size * ahead + speed * t])
        velocity = np.diff(place, axis=0) / t[1]
        hard = np.linalg.norm(np.diff(velocity, axis=0) / t[1], axis=1).max()
        return {
            "hz": 1 / period, "pitch": speed * travelling, "period": period, "dwell": dwell,
            "stands": stands, "amplitude": size, "left": left, "right": right, "f": f,
            "speed": np.linalg.norm(velocity, axis=1).max(), "hard": hard, "pattern": pattern,
        }  # fmt: skip

    def travel_seconds(self, length, speed, weave):
        """Seconds of a seam's travel; dwells in which it stands still on top, half by half."""
        plain = length / speed
        if weave is None or not weave["stands"]:
            return plain
        moving = weave["period"] - weave["dwell"]
        cycles = math.floor(plain / moving + 1e-9)
        rest = plain - cycles * moving
        half = moving / 2
        centre = (weave["dwell"] - weave["left"] - weave["right"]) / 2
        more = weave["left"] + centre if rest >= half and weave["pattern"] != "circle" else 0.0
        return plain + cycles * weave["dwell"] + more

    def process(self, area_of, seconds, crater, speed):
        """Wire in m, bead in mm2, arc energy and heat input in kJ/mm; None without a process."""
        p = self.cell.get("process")
        if p is None:
            return None
        found = {}
        if "wire feed" in p:
            feed = one(p["wire feed"])
            in_crater = one(p.get("crater feed", p["wire feed"]))
            found["wire"] = (feed * seconds + in_crater * crater) / 1000
            share = one(p.get("deposition", "100 %")) / 100
            found["area"] = math.pi / 4 * area_of**2 * feed * share / speed
        power = one(p["power"]) * (1000 if "kW" in str(p["power"]) else 1) if "power" in p else None
        if power is None and "voltage" in p:
            power = one(p["voltage"]) * one(p["current"])
        if power is not None:
            found["energy"] = power / speed / 1000
            found["heat"] = found["energy"] * one(p.get("efficiency", "80 %")) / 100
        return found

    def faces(self, place, e, travel):
        """Two nearest faces of parts that look at the torch: unit normals square to the weld."""
        found = []
        for entry in self.cell["bodies"]:
            if entry["role"] != "part":
                continue
            mesh = self.shape(entry)
            mesh.apply_transform(placed(entry))
            group = self.cell.get("groups", {}).get(entry.get(True))  # PyYAML reads 'on' as true
            if group is not None:
                mesh.apply_transform(placed(group))
            triangles = mesh.triangles
            near = trimesh.triangles.closest_point(triangles, np.tile(place, (len(triangles), 1)))
            away = np.linalg.norm(near - place, axis=1)
            normals = mesh.face_normals - (mesh.face_normals @ travel)[:, None] * travel
            size = np.linalg.norm(normals, axis=1)
            there = np.flatnonzero((away < 12.0) & (size > 0.3))
            found += [(away[k], normals[k] / size[k]) for k in there]
        across = e - (e @ travel) * travel
        across /= np.linalg.norm(across)
        found = [n for _, n in sorted(found, key=lambda pair: pair[0]) if n @ across > -0.1]
        different = [n for n in found if n @ found[0] < 0.9]
        return across, found[0], different[0] if different else None

    def shape(self, entry):
        """A body's mesh in its own frame: of its file, or a block that stands on its origin."""
        for name, sides in BLOCKS.items():
            if name in entry:
                size = [one(entry[name][side]) for side in sides]
                return trimesh.creation.box(size, frame([0, 0, size[2] / 2]))
        mesh = trimesh.load(self.folder / entry["mesh"], force="mesh")
        mesh.apply_scale({"mm": 1.0, "m": 1000.0, "in": 25.4}[entry["unit"]])
        return mesh

    def joint_move(self, start, end, share, override):
        """Seconds and largest tip speed of a joint move at an override: a common trapezoid."""
        limits = [(one(j["speed"]), one(j["acceleration"])) for j in self.arm["joints"]]
        a, b = self.joints(start), self.joints(end)
        way = b - a
        if "readings" in self.arm:  # what moves are the model's joints
            for entry in self.arm["readings"]["joints"]:
                if "coupled to" in entry:
                    k, j = entry["joint"] - 1, entry["coupled to"] - 1
                    way[k] = entry.get("sign", 1) * (b - a)[k] + entry["coupling"] * (b - a)[j]
        ratios = [(v * share * override / abs(w), acc / abs(w))
                  for (v, acc), w in zip(limits, way, strict=True) if abs(w) > 1e-9]  # fmt: skip
        if "turning table" in self.cell:
            table = self.cell["turning table"]
            axes = [(table, "table deg"), (table.get("tilt", table), "tilt deg")]
            for axis, column in axes[: 2 if "tilt" in table else 1]:
                w = float(self.points[end][column]) - float(self.points[start][column])
                if abs(w) > 1e-9:
                    ratios.append((one(axis["speed"]) * share * override / abs(w),
                                   one(axis["acceleration"]) / abs(w)))  # fmt: skip
        v, acc = min(r[0] for r in ratios), min(r[1] for r in ratios)
        top = min(v, math.sqrt(acc))
        seconds = 1 / top + top / acc
        s = np.linspace(0, 1, 301)
        tips = np.array([(self.base @ self.flange(a + x * (b - a)) @ self.tcp)[:3, 3] for x in s])
        rate = np.minimum(top, np.sqrt(2 * acc * np.minimum(s, 1 - s)))
        middle = (rate[1:] + rate[:-1]) / 2
        return seconds, (np.linalg.norm(np.diff(tips, axis=0), axis=1) / s[1] * middle).max()

    def linear_move(self, start, end, speed, override):
        """Seconds and largest tip speed of a straight move at an override."""
        way = np.linalg.norm(self.tool(end)[:3, 3] - self.tool(start)[:3, 3])
        acc = one(self.arm["tip"]["acceleration"])
        top = min(min(speed, one(self.arm["tip"]["speed"])) * override, math.sqrt(acc * way))
        return way / top + top / acc, top
