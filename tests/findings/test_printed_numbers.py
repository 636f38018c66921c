"""Every process number that is printed of the sample cells and of variations, against the files.

``recomputed.py`` reads the files by itself and uses nothing of the package. What is compared are
the printed sentences: each number has to be the recomputed one, rounded as it is printed.
"""

import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.findings import Evidence, describe_seams
from pathsim.findings.kinds import FindingKind
from pathsim.findings.tip_speed import TipSpeeds
from pathsim.motion import plan_program
from tests.findings.recomputed import Recomputed, one

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELLS = sorted(path.parent.name for path in SAMPLES.glob("*/cell.yaml"))
NUMBER = r"(\d+(?:\.\d+)?)"

PROCESS = "process: {wire feed: 7.6 m/min, voltage: 24 V, current: 210 A}\n\nprogram:"
PULSED = (
    "process: {wire feed: 9 m/min, crater feed: 4 m/min, power: 5.3 kW, deposition: 95 %}\n\n"
    "program:"
)
OTHER = "process: {voltage: 19 V, current: 120 A, efficiency: 60 %}\n\nprogram:"
ZIGZAG = "pattern: zigzag, amplitude: 2 mm, frequency: 2.2 Hz, dwell: 0.1 s, dwell counts: added"
SINE = "pattern: sine, amplitude: 1.5 mm, frequency: 2 Hz"
GIRDER = "pattern: zigzag, amplitude: 2 mm, frequency: 2 Hz"
#: Each a sample cell and what is put in the place of a text of its file.
VARIATIONS = [
    ("gate_hinge", {"program:": PROCESS}),
    ("gate_hinge", {"program:": PULSED}),
    ("gate_hinge", {"program:": OTHER, "speed: 5 mm/s": "speed: 30 cm/min"}),
    ("gate_hinge", {"program:": PROCESS, "crater: 0.6 s": "crater: 1.2 s"}),
    ("gate_hinge", {ZIGZAG: "pattern: figure-of-eight, amplitude: 2 mm, frequency: 2 Hz"}),
    ("gate_hinge", {ZIGZAG: "pattern: circle, amplitude: 1.2 mm, frequency: 3 Hz"}),
    ("gate_hinge", {ZIGZAG: "pattern: crescent, amplitude: 1.8 mm, frequency: 1.7 Hz"}),
    ("gate_hinge", {ZIGZAG: "pattern: sine, amplitude: 1 mm, frequency: 4 Hz, dwell: 0.05 s, dwell "
                    "counts: inside"}),
    ("gate_hinge", {"program:": PROCESS, "dwell counts: added": "dwell counts: added, "
                    "travel in dwell: stands still"}),
    ("gate_hinge", {"speed: 5 mm/s": "speed: 12 in/min",
                    "frequency: 2.2 Hz": "frequency: 90 /min"}),
    ("gate_hinge", {"dwell: 0.1 s": "dwell left: 0.2 s, dwell right: 0.05 s"}),
    ("collar_seam", {"program:": PROCESS}),
    ("collar_seam", {SINE: "pattern: circle, amplitude: 1.5 mm, frequency: 2 Hz"}),
    ("turned_collar", {"program:": PULSED}),
    ("turned_collar", {SINE: "pattern: figure-of-eight, amplitude: 1 mm, frequency: 1.5 Hz"}),
    ("hanging_rail", {"program:": PROCESS}),
    ("hanging_rail", {GIRDER: "pattern: sine, amplitude: 2.5 mm, frequency: 1.2 Hz, dwell: 0.08 s, "
                      "dwell counts: added, travel in dwell: stands still", "program:": PROCESS}),
    ("deep_channel", {"program:": PULSED}),
    ("wrist_in_line", {"program:": PROCESS, "speed: 6 mm/s": "speed: 9 mm/s"}),
    ("offset_wrist", {"program:": PULSED}),
    ("three_passes", {"lift: 3 mm": "lift: 40 mm", "up: 4 mm, weave: fill":
                      "left: 1 mm, up: 4 mm, lean right: 8 deg, lean ahead: 5 deg, reversed: true",
                      "wire feed: 190 mm/s": "wire feed: 8 m/min"}),
    ("three_passes", {"up: 7 mm, weave: cap, speed: 5 mm/s": "right: 2 mm, up: 6 mm, speed: 9 mm/s",
                      "amplitude: 1.5 mm": "amplitude: 2.2 mm", "crater: 0.5 s": "crater: 1 s"}),
    ("skewed_web", {"speed: 7 mm/s": "speed: 25 cm/min", "210 A": "180 A"}),
]  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """The sample cells in a folder of their own, to be written into."""
    place = tmp_path_factory.mktemp("shop") / "sample_cells"
    shutil.copytree(SAMPLES, place)
    return place


def spoken(folder):
    """A cell's trajectory, what is said of its seams, and the same recomputed."""
    cell = pathsim.load_cell(folder)
    trajectory = plan_program(cell)
    return trajectory, describe_seams(Evidence(cell, trajectory, ())), Recomputed(folder)


def agree(text, pattern, expected):
    """The numbers that a sentence prints by a pattern, each rounded as it is printed."""
    found = re.search(pattern.replace("#", NUMBER), text)
    assert found, (pattern, text)
    for printed, value in zip(found.groups(), expected, strict=True):
        digits = len(printed.partition(".")[2])
        assert abs(float(printed) - value) <= 0.5001 * 10**-digits + 2e-4 * abs(value), (
            pattern, printed, value,
        )  # fmt: skip
    return len(expected)


def numbers_agree(trajectory, said, again):
    """Compare all that is printed; return how many numbers that are."""
    count = 0
    for number, (start, end, kind, entry) in enumerate(again.moves(), start=1):
        if kind != "seam":
            continue
        texts = {f.kind: f.text for f in said if f.move == number}
        track = trajectory.tracks[number - 1]
        speed, crater = one(entry["speed"]), one(entry.get("crater", "0 s"))
        length, middle, travel = again.seam(start, end, entry)
        weave = again.weave(entry, speed) if "weave" in entry else None
        seconds = again.travel_seconds(length, speed, weave)
        mean = length / seconds
        text = texts[FindingKind.PROCESS]
        count += agree(text, r"# mm of seam at # mm/s \(# in/min\)",
                       [length, mean, mean * 60 / 25.4])  # fmt: skip
        count += agree(text, "# s of arc with the", [seconds + crater])
        assert track.duration == pytest.approx(seconds + crater, rel=1e-4)
        count += agree(text, "stick-out # mm", [one(again.cell["torch"]["wire"])])
        if weave:
            count += weave_agrees(texts[FindingKind.WEAVE], weave, again)
        e = -middle[:3, 2]
        across, first, second = again.faces(middle[:3, 3], e, travel)
        groove = None
        if "passes" in entry:
            groove = again.groove(middle[:3, 3], travel)
            count += passes_agree(text, again, entry, mean / speed, weave)
        count += process_agrees(text, again, seconds, crater, mean, (first, second), groove)
        up = again.up_on_part(entry.get("via", end))
        faces = across, first, second, up, groove is not None
        count += angles_agree(said, number, texts, e, travel, faces)
    return count


def weave_agrees(text, weave, again):
    wire = one(again.torch["wire diameter"])
    count = agree(text, r"actual # Hz, pitch # mm \(# wire",
                  [weave["hz"], weave["pitch"], weave["pitch"] / wire])  # fmt: skip
    count += agree(text, "# mm to each side, wire tip at up to # mm/s",
                   [weave["amplitude"], weave["speed"]])  # fmt: skip
    if weave["pattern"] == "zigzag":
        assert "with sharp reversals" in text
        return count
    # differences of differences hold to a few parts in a thousand only
    (printed,) = re.search(rf"with up to {NUMBER} mm/s2", text).groups()
    assert float(printed) == pytest.approx(weave["hard"], rel=3e-3, abs=0.51)
    return count + 1


def passes_agree(text, again, entry, share, weave):
    """The area with the passes before it, and the bead as it is drawn."""
    wire, feed = one(again.torch["wire diameter"]), one(again.cell["process"]["wire feed"])
    areas = [math.pi / 4 * wire**2 * feed / speed for speed in entry["passes"]]
    count = 0
    if len(areas) > 1:
        count += agree(text, "; # mm2 with the passes before it", [sum(areas)])
    amplitude = 0.0 if weave is None else weave["amplitude"]
    assert share == pytest.approx(1.0)  # no dwell in which the travel stands
    size = again.bead(areas[-1], amplitude)
    return count + agree(text, "is drawn # mm wide and # mm high over the", size)


def process_agrees(text, again, seconds, crater, mean, faces, groove=None):
    found = again.process(one(again.torch["wire diameter"]), seconds, crater, mean)
    if found is None:
        assert "kJ/mm" not in text and "of wire" not in text
        return 0
    count = 0
    if "wire" in found:
        between = math.pi - math.acos(np.clip(faces[0] @ faces[1], -1, 1))
        area = found["area"]
        count += agree(text, "# m of wire", [found["wire"]])
        count += agree(text, "a bead of # mm2", [area])
    if "wire" in found and groove is not None:
        so_far = re.search(rf"{NUMBER} mm2 with the passes", text)
        area = float(so_far.group(1)) if so_far else area
        count += agree(text, "fills # % of the groove's # mm2", [100 * area / groove, groove])
    elif "wire" in found:
        leg = math.sqrt(2 * area / math.sin(between))
        count += agree(text, "of equal legs # mm at most, throat # mm",
                       [leg, leg * math.cos(between / 2)])  # fmt: skip
        width2 = 2 - 2 * math.cos(between)
        convex = math.sqrt(area / (math.sin(between) / 2 + width2 / 15))
        short = math.sqrt(2 * area / 1.5 / math.sin(between))
        count += agree(text, r"\(# mm under a face # % convex; legs # mm and # mm at 1 to #\)",
                       [convex, 10, short, 1.5 * short, 1.5])  # fmt: skip
    if "heat" in found:
        count += agree(text, r"arc energy # kJ/mm", [found["energy"]])
        count += agree(text, r"heat input # kJ/mm", [found["heat"]])
    return count


def angles_agree(said, number, texts, e, travel, faces):
    """Work, travel and position in the middle of the seam, from the mesh's nearest faces."""
    across, first, second, up, is_groove = faces
    (angles,) = [f for f in said if f.move == number and f.kind is FindingKind.TORCH_ANGLES]
    if is_groove:  # counted from the line square to level plates
        first = second = up
    from_either = [math.acos(np.clip(across @ n, -1, 1)) for n in (first, second)]
    assert min(abs(angles.numbers["work"] - a) for a in from_either) < 0.01
    lean = math.asin(np.clip(e @ travel, -1, 1))
    assert angles.numbers["travel"] == pytest.approx(lean, abs=0.01)
    count = agree(texts[FindingKind.TORCH_ANGLES], "travel angle # deg",
                  [abs(np.degrees(lean))])  # fmt: skip
    (position,) = [f for f in said if f.move == number and f.kind is FindingKind.WELD_POSITION]
    face = (first + second) / np.linalg.norm(first + second)
    slope = math.asin(travel @ up)
    rotation = math.asin(np.clip(face @ up / math.cos(slope), -1, 1))
    for name, value in (("slope", slope), ("rotation", rotation)):
        assert position.numbers[f"{name} least"] - 0.01 < value
        assert value < position.numbers[f"{name} most"] + 0.01
    return count + 3


@pytest.mark.parametrize("name", CELLS)
def test_sample_cells(name, shop):
    assert numbers_agree(*spoken(shop / name)) >= 8


@pytest.mark.parametrize("k", range(len(VARIATIONS)))
def test_variations(k, shop):
    name, changes = VARIATIONS[k]
    original = (SAMPLES / name / "cell.yaml").read_text()
    text = original
    for said, instead in changes.items():
        # a sheet may name a program too: the program's own key stands at the line's start
        line = "\n" if said == "program:" else ""
        old, new = line + said, line + instead
        assert old in text
        text = text.replace(old, new)
    try:
        (shop / name / "cell.yaml").write_text(text)
        count = numbers_agree(*spoken(shop / name))
    finally:
        (shop / name / "cell.yaml").write_text(original)
    assert count >= (15 if "wire feed" in text and "weave:" in text else 8)


def drawn(seed):
    """A sample cell and its file with speeds, weaves and process drawn by a seed."""
    rng = np.random.default_rng(seed)
    name = CELLS[seed % len(CELLS)]
    text = (SAMPLES / name / "cell.yaml").read_text()

    def scaled(key, unit, low, high, of=""):
        def new(found):
            value = round(float(found[2]) * rng.uniform(low, high), 1)
            return f"{found[1]}{value:g}{found[3]}"

        pattern = rf"(?m)^({of}.*{key}: )(\d+(?:\.\d+)?)( {unit})"
        return re.sub(pattern, new, text)

    for line in (r" *- \{seam:", " *- multipass:", r" *- \{stitch:"):
        text = scaled("speed", "mm/s", 0.7, 1.4, line)
    text = scaled("amplitude", "mm", 0.6, 1.2)
    text = scaled("frequency", "Hz", 0.6, 1.2)
    feed, volts, amperes = rng.uniform(4, 11), rng.uniform(17, 30), rng.uniform(110, 290)
    process = (
        f"process: {{wire feed: {feed:.1f} m/min, voltage: {volts:.1f} V, "
        f"current: {amperes:.0f} A, efficiency: {rng.integers(70, 90)} %}}\n"
    )
    if re.search(r"(?m)^process:.*\n", text):
        return name, re.sub(r"(?m)^process:.*\n", process, text)
    return name, text.replace("\nprogram:", f"\n{process}\nprogram:", 1)


@pytest.mark.parametrize("seed", range(2 * len(CELLS)))
def test_variations_drawn_by_their_seed(seed, shop):
    """Each sample cell twice, with numbers that nobody chose."""
    name, text = drawn(seed)
    original = (SAMPLES / name / "cell.yaml").read_text()
    assert text != original
    try:
        (shop / name / "cell.yaml").write_text(text)
        count = numbers_agree(*spoken(shop / name))
    finally:
        (shop / name / "cell.yaml").write_text(original)
    assert count >= 15


@pytest.mark.parametrize("name", [name for name in CELLS if name != "hanging_rail"])
def test_seconds_and_tip_speeds_of_the_moves(name):
    """The rail's points are poses: its joint moves would need an inverse as well."""
    cell = pathsim.load_cell(SAMPLES / name)
    trajectory, again = plan_program(cell), Recomputed(SAMPLES / name)
    speeds = TipSpeeds.of(cell, trajectory)
    moves = list(zip(again.moves(), trajectory.tracks, speeds.moves, strict=True))
    for override in (1.0, 0.5, 0.12):
        for (start, end, kind, entry), track, tip in moves:
            speed = one(entry["speed"])
            if kind == "joint":
                seconds, top = again.joint_move(start, end, speed / 100, override)
            elif kind == "linear":
                seconds, top = again.linear_move(start, end, speed, override)
            else:
                continue
            if override == 1.0:
                assert track.duration == pytest.approx(seconds, rel=2e-3, abs=2e-3)
            if override == again.override:
                assert track.slow_duration == pytest.approx(seconds, rel=2e-3, abs=2e-3)
            # told as a most: where a way is too short for its speed that may be a little more
            assert 1e3 * tip.most(override) >= top * 0.99 - 0.05
            assert 1e3 * tip.most(override) <= top * 1.12 + 0.5
