"""Which engine answers, what it says about it, and how kernels get ready."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from pathsim.clearance import engine_choice as choose
from pathsim.clearance import engine_for
from pathsim.clearance.engine_choice import ENGINE, SharedCache, ready_mark, start_preparing
from pathsim.files import load_cell
from pathsim.kernels import cache_folder, ready, sources
from pathsim.kernels.ready import State

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture
def cell():
    return load_cell(SAMPLES / "wrist_in_line")


def test_the_fast_one_once_its_kernels_are_ready(cell):
    kept = SharedCache()
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

    def popen(*arguments, **_):
        runs.append(arguments)
        return SimpleNamespace(pid=os.getpid())

    monkeypatch.setattr(subprocess, "Popen", popen)
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
        "from pathsim.clearance.swept import course_kernel, intervals, search\n"
        "from pathsim.geometry import bvh, bvh_split, containment_kernel\n"
        f"for name in ('gate_hinge_no_retract', 'turned_collar'):\n"
        f"    result = check(load_cell({str(SAMPLES)!r} + '/' + name))\n"
        "    assert result.engine == 'fast', result.engine_note\n"
        "kernels = (search.search_all, intervals.intervals_below, course_kernel.lay_out,\n"
        "           bvh_split.split, bvh.boxes, bvh.spheres_and_obbs,\n"
        "           containment_kernel.any_in_boxes)\n"
        "assert all(k.signatures for k in kernels)\n"
        "missed = {k.__name__: sum(k.stats.cache_misses.values()) for k in kernels}\n"
        "assert not any(missed.values()), missed\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-2000:]


def test_the_mark_names_the_computer(tmp_path):
    assert ready_mark(tmp_path).parent == tmp_path


@pytest.fixture
def own_cache(tmp_path, monkeypatch):
    """A copy of the compiled kernels, to be damaged."""
    whole = cache_folder.kernels_folder(sources.sources_hash())
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path / "cache"))
    folder = tmp_path / "cache" / whole.name
    shutil.copytree(whole, folder)
    assert ready.kept_state(folder) is State.READY
    return folder


def empty(_raw):
    return b""


def cut_short(raw):
    return raw[: len(raw) // 2]


def one_bit(raw):
    at = len(raw) * 3 // 4
    return raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :]


def garbage(raw):
    return bytes(range(256)) * (len(raw) // 256 + 1)


@pytest.mark.parametrize("harm", [empty, cut_short, one_bit, garbage, None])
@pytest.mark.parametrize("kind", ["*.nbi", "*.nbc", "ready-*"])
def test_damaged_kernels_are_never_run(own_cache, cell, monkeypatch, kind, harm):
    """The reference engine answers at once and says so; the fast one is made anew."""
    for path in sorted(own_cache.rglob(kind))[::3]:
        if harm is None:
            path.unlink()
        else:
            path.write_bytes(harm(path.read_bytes()))
    ready._looked.clear()  # a process looks once
    ready._found.clear()
    started = []
    monkeypatch.setattr(choose, "start_preparing", started.append)
    engine = engine_for(cell)
    gone = kind == "ready-*" and harm is None  # then nothing says that it was ever made
    assert engine.name == "reference" and started == [own_cache]
    assert engine.note == (choose.PREPARING if gone else choose.DAMAGED)
    assert not ready_mark(own_cache).exists() and not ready.are_ready()


def test_a_damaged_kernel_is_compiled_anew_where_it_is_met(tmp_path):
    """Were it damaged after it was looked at: no crash, no wrong code, and mended for the next."""
    program = (
        "import sys\n"
        "from pathsim.kernels.vectors import dot\n"
        "assert dot((1.0, 2.0, 3.0), (4.0, 5.0, 6.0)) == 32.0\n"
        "sys.exit(sum(dot.stats.cache_misses.values()))\n"
    )
    env = {**os.environ, cache_folder.VARIABLE: str(tmp_path)}

    def compiled():
        return subprocess.run([sys.executable, "-c", program], env=env, check=False).returncode

    assert [compiled(), compiled()] == [1, 0]
    for ending, harm in (("i", empty), ("i", cut_short), ("c", one_bit), ("c", garbage)):
        (path,) = tmp_path.rglob(f"*.dot-*.nb{ending}")
        path.write_bytes(harm(path.read_bytes()))
        assert compiled() == 1, (ending, harm.__name__)
    assert compiled() == 0


@pytest.mark.slow
def test_a_damaged_cache_is_made_anew_by_itself(own_cache):
    """As a person meets it: the check answers, and after a while the fast engine is back."""
    for path in own_cache.rglob("*.nb?"):
        if ".boxes-" in path.name:
            path.write_bytes(cut_short(path.read_bytes()))
    ask = [sys.executable, "-m", "pathsim", "check", str(SAMPLES / "wrist_in_line")]
    run = subprocess.run(ask, capture_output=True, text=True, check=False)
    said = " ".join(run.stdout.split())
    assert run.returncode == 1 and "was damaged" in said and run.stderr == ""
    for _ in range(600):
        if ready_mark(own_cache).exists() and not (own_cache / "preparing").exists():
            break
        time.sleep(0.5)
    assert ready.kept_state(own_cache) is State.READY
    run = subprocess.run(ask, capture_output=True, text=True, check=False)
    assert run.returncode == 1 and "engine" not in run.stdout


def test_what_cannot_be_kept_is_said_and_not_tried_at_once(cell, tmp_path, monkeypatch):
    """A full disk: the process that compiles says so, and checks go on with the other engine."""
    from pathsim.clearance.swept import warm_up as prepare
    from pathsim.kernels import sealed

    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    folder = cache_folder.kernels_folder(sources.sources_hash())
    monkeypatch.setattr(prepare, "ask_small_questions", lambda: sealed.NOT_KEPT.append("x"))
    monkeypatch.setattr(prepare, "solve_a_small_arm", lambda: None)
    runs = []
    monkeypatch.setattr(choose, "start_preparing", runs.append)
    try:
        prepare.finish_preparing(prepare.prepare())
    finally:
        sealed.NOT_KEPT.clear()
    assert not ready_mark(folder).exists()
    assert engine_for(cell).note == choose.NOTHING_KEPT and not runs


def test_a_kernel_that_cannot_be_kept_runs_all_the_same(monkeypatch, tmp_path):
    from numba.core import caching

    from pathsim.kernels import jit, sealed

    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    def twice(x):
        return 2.0 * x

    compiled = jit.kernel(twice)
    monkeypatch.setattr(caching.IndexDataCacheFile, "save", full)
    try:
        assert compiled(1.5) == 3.0
        assert len(sealed.NOT_KEPT) == 1 and "twice" in sealed.NOT_KEPT[0]
    finally:
        sealed.NOT_KEPT.clear()


def test_a_dead_process_does_not_hold_the_others_up(tmp_path, monkeypatch):
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    (tmp_path / "preparing").write_text(str(gone.pid))
    monkeypatch.setattr(subprocess, "Popen", lambda *_, **__: SimpleNamespace(pid=os.getpid()))
    assert start_preparing(tmp_path)
    assert not start_preparing(tmp_path)


@pytest.mark.parametrize("where", ["a file", "below a file", "nobody's home"])
def test_without_a_place_the_reference_engine_answers(cell, tmp_path, monkeypatch, where):
    (tmp_path / "file").write_text("x")
    monkeypatch.chdir(tmp_path)
    if where == "nobody's home":
        monkeypatch.delenv(cache_folder.VARIABLE)
        monkeypatch.setattr(cache_folder.platformdirs, "user_cache_dir", lambda *_, **__: "~/.c")
    else:
        place = tmp_path / "file" / ("deeper" if where == "below a file" else "")
        monkeypatch.setenv(cache_folder.VARIABLE, str(place))
    assert engine_for(cell).note == choose.NOTHING_KEPT
    assert [p.name for p in tmp_path.iterdir()] == ["file"]
