"""STEP: metres from any unit, off by no more than is said, and whatever is broken is said."""

import importlib.metadata
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pathsim.errors import MeshError
from pathsim.mesh_files import open_edges, read_mesh, read_parts, step_file
from tests.mesh_files.step_text import several, step

pytest.importorskip("cascadio", reason="the extra 'step' is not installed")
NO_FACE = "ADVANCED_FACE('',(),#1,.T.);"
FACE = r"ADVANCED_FACE\(.*?\);"


def read(name, raw, unit=""):
    return read_mesh(Path(name), unit, raw)


@pytest.mark.parametrize(("unit", "metres"), [("mm", 1e-3), ("m", 1.0), ("in", 0.0254)])
def test_step_is_in_metres_whatever_its_unit(unit, metres):
    mesh = read("x.step", step("block", (3, 2, 1), unit))
    np.testing.assert_allclose(mesh.bounds, [[0, 0, 0], np.array([3, 2, 1]) * metres], rtol=1e-6)
    assert open_edges(mesh.vertices, mesh.faces) == 0


def test_a_round_bar_of_step_is_off_by_no_more_than_is_said():
    raw = step("bar", (50.0, 300.0), name="left pin")
    mesh = read("x.stp", raw)
    corners = mesh.vertices[mesh.faces]
    # The farthest in of a facet of the side is the middle of a chord.
    middles = (corners + np.roll(corners, 1, axis=1)).reshape(-1, 3) / 2
    outside = middles[(middles[:, 2] > 1e-6) & (middles[:, 2] < 0.3 - 1e-6)]
    radius = np.hypot(outside[:, 0], outside[:, 1])
    assert 0.05 - step_file.OFF <= radius.min() < 0.05 < 0.05 + 1e-7
    assert radius.max() <= 0.05 + step_file.OFF
    [part] = read_parts(Path("x.stp"), "", raw)
    assert (part.name, len(part.faces)) == ("left pin", len(mesh.faces))


def test_one_part_of_an_assembly_of_step_is_that_part_alone():
    raw = several([("block", (30, 20, 10), "base plate"), ("bar", (5.0, 80.0), "pin"),
                   ("block", (3, 3, 3), "pin")])  # fmt: skip
    names = [part.name for part in read_parts(Path("x.step"), "", raw)]
    assert len(set(names)) == 3 and {"base plate", "pin"} < set(names)
    mesh = read_mesh(Path("x.step"), "", raw, parts=["base plate"])
    np.testing.assert_allclose(mesh.bounds, [[0, 0, 0], [0.03, 0.02, 0.01]], atol=1e-9)
    pins = [name for name in names if name != "base plate"]
    both = read_mesh(Path("x.step"), "", raw, parts=pins)
    whole = read_mesh(Path("x.step"), "", raw)
    assert len(both.faces) + len(mesh.faces) == len(whole.faces)
    with pytest.raises(MeshError, match=r"no part 'Pin'; it has .*'base plate'"):
        read_mesh(Path("x.step"), "", raw, parts=["Pin"])


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda text: text[:2000], "end is missing"),
        (lambda text: text[:1500] + "\nEND-ISO-10303-21;\n", "cut off|no solid"),
        (lambda text: "solid x\n" + text[40:], "like a STEP"),
        (lambda text: re.sub(r"#\d+=ADVANCED_FACE.*\n", "", text, count=1), "cut off"),
        (lambda text: text.replace(re.search(FACE, text)[0], NO_FACE), "face of a solid"),
        (lambda text: re.sub(r"#\d+=SHAPE_DEFINITION_REP.*\n", "", text), "no solid"),
    ],
)  # fmt: skip
def test_a_broken_step_is_one_clear_message(spoil, says):
    text = step("block", (3, 2, 1)).decode()
    with pytest.raises(MeshError, match=says):
        read("x.step", spoil(text).encode())


def test_a_step_file_is_cut_once_and_a_damaged_copy_is_never_believed(tmp_path, monkeypatch):
    monkeypatch.setenv("PATHSIM_CACHE", str(tmp_path))
    raw = step("block", (3, 2, 1))
    first = read("x.step", raw)
    [kept] = (tmp_path / "step").glob("*.glb")
    calls = []
    monkeypatch.setattr(step_file, "_converted", lambda raw: calls.append(raw) or b"")
    assert read("x.step", raw).digest == first.digest and not calls
    damaged = bytearray(kept.read_bytes())
    damaged[-1] ^= 1
    kept.write_bytes(bytes(damaged))
    with pytest.raises(MeshError):
        read("x.step", raw)
    assert len(calls) == 1


def test_a_reader_that_takes_too_long_is_ended(monkeypatch):
    def slow(command, **options):
        raise subprocess.TimeoutExpired(command, options["timeout"])

    monkeypatch.setenv("PATHSIM_CACHE", "")
    monkeypatch.setattr(step_file.subprocess, "run", slow)
    with pytest.raises(MeshError, match="more than 300 s"):
        read("x.step", step("block", (3, 2, 1)))


def test_without_the_extra_it_says_what_to_install(monkeypatch):
    def missing(name):
        raise importlib.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(importlib.metadata, "version", missing)
    with pytest.raises(MeshError, match=r"pathsim\[step\]"):
        read("x.step", step("block", (3, 2, 1)))
