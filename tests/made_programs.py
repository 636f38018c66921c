"""Cells with programs made by seeded chance from all that a program can have, as files.

Each begins as a sample cell. Bodies are put near its seam, points are taught, and lines of the
program are changed, so that elements meet which no sample has side by side.
"""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import numpy as np
import yaml

from pathsim.files import load_cell
from pathsim.motion import plan_program

SAMPLES = Path(__file__).parents[1] / "sample_cells"
SHARED = (
    "shop",
    "shop_arm",
    "gate_hinge",
    "collar_seam",
    "turned_collar",
    "offset_wrist_arm",
    "bench_arm",
    "long_arm",
)
BASES = ("gate_hinge", "search_beside_rib", "three_passes", "tilted_pipe", "turned_collar",
         "hanging_rail", "skewed_web", "collar_seam", "hinge_stitched")  # fmt: skip
PATTERNS = ("zigzag", "sine", "circle", "figure-of-eight", "crescent")


def made_cell(seed: int, folder: Path, base: str | None = None) -> Path:
    """Write cell ``seed`` below ``folder`` and return its folder."""
    chance = np.random.default_rng(seed)
    base = base or str(chance.choice(BASES))
    for name in {*SHARED, base}:
        shutil.copytree(SAMPLES / name, folder / name, dirs_exist_ok=True)
    cell = yaml.load((folder / base / "cell.yaml").read_text(encoding="utf-8"), _Loader)  # noqa: S506
    maker = _Maker(chance, cell, folder / base)
    maker.make()
    text = yaml.safe_dump(cell, sort_keys=False, allow_unicode=True, width=1000)
    (folder / base / "cell.yaml").write_text(text, encoding="utf-8")
    return folder / base


class _Loader(yaml.SafeLoader):
    """``on`` and ``off`` are words."""


_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in known if tag != "tag:yaml.org,2002:bool"]
    for first, known in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
_Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(true|false)$"), list("tf"))


class _Maker:
    def __init__(self, chance, cell, folder):
        self.chance, self.cell, self.folder = chance, cell, folder
        self.points = folder / "points.csv"
        self.count = 0
        self.middle = self._middle()

    def make(self):
        self.cell.setdefault("weaves", {})["made"] = self._weave()
        for _ in range(self.chance.integers(0, 4)):
            self._body()
        changes = [self._seam_otherwise, self._on_the_way, self._pauses, self._rounding,
                   self._in_a_run, self._station, self._process, self._search]  # fmt: skip
        for k in self.chance.permutation(len(changes))[: self.chance.integers(2, 6)]:
            changes[k]()

    def _middle(self):
        cell = load_cell(self.folder)
        track = next(track for track in plan_program(cell).tracks if track.move.arc_on)
        return cell.tool_poses(track.q)[:, :3, 3].mean(axis=0) * 1e3

    def _number(self, least, most, step=1.0):
        return round(float(self.chance.uniform(least, most)) / step) * step

    def _maybe(self, share=0.5):
        return bool(self.chance.random() < share)

    def _weave(self):
        weave = {"pattern": str(self.chance.choice(PATTERNS)),
                 "amplitude": f"{self._number(0.5, 4, 0.1):.1f} mm",
                 "frequency": f"{self._number(0.8, 3, 0.1):.1f} Hz"}  # fmt: skip
        if self._maybe(0.4):
            counts = str(self.chance.choice(["inside", "added"]))
            weave |= {"dwell": "0.1 s", "dwell counts": counts}
        return weave

    def _body(self):
        self.count += 1
        shapes = {
            "box": {"length": "40 mm", "width": "30 mm",
                    "height": f"{self._number(20, 120):.0f} mm"},
            "tube": {"width": "40 mm", "height": "40 mm", "wall": "3 mm", "length": "120 mm",
                     "along": str(self.chance.choice(list("xyz")))},
            "toggle clamp": {"reach": "80 mm", "height": "150 mm", "width": "36 mm",
                             "base": "60 mm", "arm": "40 mm"},
            "cylinder": {"diameter": "30 mm", "length": f"{self._number(20, 140):.0f} mm"},
            "c-clamp": {"opening": "40 mm", "throat": "50 mm", "frame": "20 mm", "width": "15 mm",
                        "screw": "60 mm", "handle": "80 mm"},
        }  # fmt: skip
        shape = str(self.chance.choice(list(shapes)))
        at = self.middle + self.chance.uniform([-160, -160, -60], [160, 160, 160])
        body = {"name": f"made {self.count}", "role": str(self.chance.choice(
            ["part", "clamp", "fixture", "other"])), shape: shapes[shape],
            "at": " ".join(f"{v:.0f}" for v in at) + " mm",
            "turned": f"0 0 {self._number(-180, 180):.0f} deg"}  # fmt: skip
        if "turning table" in self.cell and self._maybe():
            frames = ["turning table"]
            if "tilt" in self.cell["turning table"]:
                frames.append("tilt frame")
            body["on"] = str(self.chance.choice(frames))
        if self._maybe(0.3):
            body["known to"] = f"{self._number(0.2, 3, 0.1):.1f} mm"
        self.cell["bodies"].append(body)
        return body["name"]

    def _taught(self, near):
        """Teach a point some degrees from another, and return its name."""
        self.count += 1
        name = f"made {self.count}"
        with self.points.open(encoding="utf-8") as file:
            lines = [line for line in file if not line.startswith("#")]
        rows = list(csv.reader(lines))
        head = rows[0]
        row = next(row for row in rows[1:] if row[0] == near)
        new = list(row)
        new[0] = name
        for k, column in enumerate(head):
            if column.strip() in [f"j{n} deg" for n in range(1, 7)] and row[k].strip():
                new[k] = f"{float(row[k]) + self.chance.uniform(-8, 8):.2f}"
        with self.points.open("a", encoding="utf-8") as file:
            file.write(",".join(new) + "\n")
        return name

    @property
    def lines(self):
        return self.cell["program"]

    def _arc_lines(self):
        return [k for k, line in enumerate(self.lines)
                if any(key in line for key in ("seam", "stitch", "multipass"))]  # fmt: skip

    def _seam_otherwise(self):
        if not self._arc_lines():
            return
        k = int(self.chance.choice(self._arc_lines()))
        line = self.lines[k]
        kind = next(key for key in ("seam", "stitch", "multipass") if key in line)
        end = line[kind]
        kept = {key: line[key] for key in ("via", "speed", "crater") if key in line}
        if self._maybe(0.6):
            kept["weave"] = "made"
        lift = f"{self._number(2, 80):.0f} mm"
        new = str(self.chance.choice(["seam", "stitch", "multipass"]))
        if new == "seam":
            made = {"seam": end, **kept}
            if "turning table" in self.cell and self._maybe():
                made["position"] = str(self.chance.choice(["PA", "PB", "as at start"]))
        elif new == "stitch":
            made = {"stitch": end, **kept, "on": f"{self._number(10, 50):.0f} mm",
                    "off": f"{self._number(10, 60):.0f} mm", "between": "100 mm/s"}  # fmt: skip
            if self._maybe():
                made["lift"] = lift
        else:
            passes = [self._pass(n) for n in range(self.chance.integers(1, 4))]
            made = {"multipass": end, **kept, "between": "100 mm/s", "lift": lift,
                    "passes": passes}  # fmt: skip
        self.lines[k] = made
        if self._maybe(0.3):
            kinds = ("linear", "joint", "search")
            before = [v for key, v in self.lines[k - 1].items() if key in kinds]
            if before:
                self.lines.insert(k, {"tack": before[0], "time": "0.8 s"})

    def _pass(self, n):
        one = {"pass": f"pass {n + 1}"}
        if self._maybe():
            one[str(self.chance.choice(["left", "right"]))] = f"{self._number(1, 6):.0f} mm"
        if self._maybe():
            one["up"] = f"{self._number(1, 8):.0f} mm"
        if self._maybe(0.3):
            one[str(self.chance.choice(["lean left", "lean right", "lean back"]))] = "10 deg"
        if self._maybe(0.4):
            one["reversed"] = True
        if self._maybe(0.3):
            one["leg"] = f"{self._number(3, 8):.0f} mm"
        return one

    def _on_the_way(self):
        """Another point on the way of an air move."""
        air = [k for k, line in enumerate(self.lines) if "joint" in line or "linear" in line]
        k = int(self.chance.choice(air))
        near = self.lines[k].get("joint") or self.lines[k].get("linear")
        name = self._taught(near)
        new = ({"joint": name, "speed": "40 %"} if self._maybe(0.6)
               else {"linear": name, "speed": "200 mm/s"})  # fmt: skip
        self.lines.insert(k, new)

    def _pauses(self):
        k = int(self.chance.integers(2, len(self.lines) + 1))
        pause = [{"wait": "1.5 s"}, {"wait for": "operator", "at least": "2 s"},
                 {"inch": "-3 mm", "speed": "20 mm/s"}][self.chance.integers(0, 3)]  # fmt: skip
        self.lines.insert(k, pause)

    def _rounding(self):
        air = [k for k, line in enumerate(self.lines[:-1]) if "joint" in line or "linear" in line]
        air = [k for k in air if "joint" in self.lines[k + 1] or "linear" in self.lines[k + 1]]
        if not air:
            return
        k = int(self.chance.choice(air))
        self.lines[k]["rounding"] = f"{self._number(2, 40):.0f} mm"

    def _in_a_run(self):
        """From the first approach to the first retract once more, somewhere else."""
        own = [k for k, line in enumerate(self.lines) if "start" in line or "run" in line]
        first, last = 1, len(self.lines) - 1
        if len(own) > 1 or last - first < 2:
            return
        self.cell["subprograms"] = {"made": self.lines[first:last]}
        run = {"run": "made"}
        if self._maybe(0.8):
            run["shift"] = " ".join(f"{self._number(-30, 30):.0f}" for _ in range(3)) + " mm"
        if self._maybe(0.5):
            run |= {"times": int(self.chance.integers(2, 4)),
                    "step": f"0 {self._number(-30, 30):.0f} 0 mm"}  # fmt: skip
        if self._maybe(0.3) and "shift" in run:
            run["turned"] = f"0 0 {self._number(-20, 20):.0f} deg"
        self.lines[first:last] = [run]

    def _station(self):
        """A round bar that stands where a made point's tip is."""
        name = self._taught(self.lines[0]["start"])
        before = self._taught(name)
        cell = load_cell(self.folder)
        q = cell.points[name].q
        if q is None:
            return
        place = cell.T_world_base @ cell.arm.pose(q[: cell.arm.dof]) @ cell.torch.T_flange_tcp
        at = place[:3, 3] * 1e3 - [0, 0, 60]
        self.cell["bodies"].append(
            {"name": "made cleaner", "role": "other",
             "cylinder": {"diameter": "40 mm", "length": "70 mm"},
             "at": " ".join(f"{v:.1f}" for v in at) + " mm"})  # fmt: skip
        self.cell["stations"] = {"made cleaner": {"kind": "cleaner", "depth": "30 mm"}}
        self.lines.extend([{"joint": before, "speed": "30 %"},
                       {"linear": name, "speed": "50 mm/s", "station": "made cleaner"},
                       {"wait": "2 s"},
                       {"linear": before, "speed": "50 mm/s", "station": "made cleaner"},
                       {"joint": self.lines[0]["start"], "speed": "40 %"}])  # fmt: skip

    def _process(self):
        self.cell["process"] = {"wire feed": f"{self._number(80, 220):.0f} mm/s",
                                "voltage": "26 V", "current": "240 A"}  # fmt: skip
        self.cell["schedules"] = {"made": {"preflow": "0.5 s", "start": "0.3 s", "crater": "0.4 s"}}

    def _search(self):
        """The straight way down to a seam becomes a search for some body."""
        ways = [k for k in self._arc_lines() if k > 0 and "linear" in self.lines[k - 1]]
        if not ways:
            return
        k = int(self.chance.choice(ways)) - 1
        body = str(self.chance.choice([b["name"] for b in self.cell["bodies"]]))
        self.lines[k] = {"search": self.lines[k]["linear"], "body": body, "speed": "20 mm/s",
                         "overtravel": "3 mm"}  # fmt: skip
