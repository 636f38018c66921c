"""Which engine answers, what it says about it, and how kernels get ready."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pathsim.clearance import choose, engine_for
from pathsim.clearance.choose import ENGINE, Kept, ready_mark, start_preparing
from pathsim.files import load_cell
from pathsim.kernels import cache_folder, sources

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture
def cell():
    return load_cell(SAMPLES / "wrist_in_line")


def test_the_fast_one_once_its_kernels_are_ready(cell):
    kept = Kept()
    engine = engine_for(cell, kept)
    assert engine.name == "fast" and engine.note == ""
    assert engine_for(cell, kept).memory is engine.memory


def test_the_reference_one_on_a_fresh_installation_and_it_says_so(cell, tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    started = []
    monkeypatch.setattr(choose, "start_preparing", started.append)
    engine = engine_for(cell)
    assert engine.name == "reference"
    assert "made ready" in engine.note and "same tolerance" in engine.note
    assert len(started) == 1 and started[0].is_dir()


def test_two_processes_do_not_compile_at_once(tmp_path, monkeypatch):
    runs = []
    monkeypatch.setattr(subprocess, "Popen", lambda *a, **_: runs.append(a))
    assert start_preparing(tmp_path)
    assert not start_preparing(tmp_path)
    old = (tmp_path / "preparing").stat().st_mtime - 10_000
    os.utime(tmp_path / "preparing", (old, old))  # that one must have died
    assert start_preparing(tmp_path)
    assert len(runs) == 2


def test_without_a_compiler_or_a_place_to_keep_kernels(cell, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, "")
    assert "cannot be kept" in engine_for(cell).note
    monkeypatch.setattr(choose, "sources_hash", lambda: None)
    assert "numba" in engine_for(cell).note


def test_the_reference_one_on_request(cell, monkeypatch):
    monkeypatch.setenv(ENGINE, "reference")
    assert engine_for(cell).name == "reference"


def test_any_edit_of_a_kernel_gives_another_folder(tmp_path, monkeypatch):
    before = sources.sources_hash()
    place = tmp_path / "arm"
    place.mkdir()
    (place / "a_kernel.py").write_text("# other")
    monkeypatch.setattr(sources, "__file__", str(tmp_path / "kernels" / "sources.py"))
    sources.sources_hash.cache_clear()
    try:
        first = sources.sources_hash()
        (place / "a_kernel.py").write_text("# another")
        sources.sources_hash.cache_clear()
        assert len({before, first, sources.sources_hash()}) == 3
    finally:
        sources.sources_hash.cache_clear()


def test_preparing_compiles_all_that_a_check_needs():
    """In a process of its own, with what the tests' own preparation kept: nothing is compiled."""
    code = (
        "from pathsim.files import load_cell\n"
        "from pathsim.check import check\n"
        "from pathsim.clearance.fast import build, inside, motion, search, spans, split\n"
        f"for name in ('gate_hinge_no_retract', 'turned_collar'):\n"
        f"    result = check(load_cell({str(SAMPLES)!r} + '/' + name))\n"
        "    assert result.engine == 'fast', result.engine_note\n"
        "kernels = (search.closest_of_all, spans.spans_below, motion.lay_out, split.split,\n"
        "           build.boxes, build.bricks, inside.any_in_boxes)\n"
        "assert all(k.signatures for k in kernels)\n"
        "missed = {k.__name__: sum(k.stats.cache_misses.values()) for k in kernels}\n"
        "assert not any(missed.values()), missed\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-2000:]


def test_the_mark_names_the_computer(tmp_path):
    assert ready_mark(tmp_path).parent == tmp_path
