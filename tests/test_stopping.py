"""Stopped at any moment, by any signal, a command leaves the old files or the new, never a mixture.

Each run is a process of its own that sends itself the signal at one of its file operations, for
each of them in turn: just before it makes, renames or deletes something.
"""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pytest

from pathsim import load_cell
from pathsim.atomic_write import UNFINISHED, write_whole
from pathsim.cli.main import main
from pathsim.errors import CannotCheck
from pathsim.files import together
from pathsim.stopping import Stopped, signals_held, stopped_by_signals
from tests.cli.noted_readings import ASK, note_readings

SAMPLES = Path(__file__).parents[1] / "sample_cells"
#: Events of the interpreter that come before files change.
_CHANGES = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "os.truncate",
            "tempfile.mkstemp", "tempfile.mkdtemp", "shutil.copytree"}  # fmt: skip
#: Of the one set of readings; the search for it takes seconds.
_VERDICT = []
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="runs are forked")


@pytest.fixture
def cells(tmp_path):
    for name in ("shop", "shop_arm", "gate_hinge", "gate_hinge_no_retract"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path


def everything(folder):
    """Contents of all finished files below a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not any(UNFINISHED in part for part in path.parts)
    }


def unfinished(folder):
    return [path.name for path in folder.rglob("*") if UNFINISHED in path.name]


def killed_at(number, sent, arguments, *, fine=False):
    """Run a command in a process that gets a signal before its file operation ``number``.

    ``fine``: before step ``number`` of all that it does once a file is begun, so that it is also
    stopped between the opening of a file and its last byte.

    Returns how it ended: minus the signal or the exit code; and whether the signal was sent.
    """
    here = str(Path(arguments[1]).parent)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            os.dup2(nowhere.fileno(), 2)
        count = 0

        def step(*_details):
            nonlocal count
            count += 1
            if count == number:
                os.write(writing, b"x")
                os.kill(os.getpid(), sent)

        def heard(event, details):
            # Not what is kept for the next run, as the folder of compiled kernels.
            if isinstance(details[0] if details else None, str) and not details[0].startswith(here):
                return
            opened = event == "open" and isinstance(details[1], str) and "w" in details[1]
            if fine and event == "tempfile.mkstemp":
                sys.setprofile(step)
            elif not fine and (event in _CHANGES or opened):
                step()

        sys.addaudithook(heard)
        code = 99
        with contextlib.suppress(BaseException):
            code = main(arguments)
        os._exit(code)
    os.close(writing)
    was_sent = os.read(reading, 1) == b"x"
    os.close(reading)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), was_sent


def wrong_tool_and_display(cells):
    """A torch and a display that are both described wrongly: readings change two files at once."""
    cell, seen = cells / "gate_hinge", cells / "seen.csv"
    note_readings(cell, lambda q: np.array([*q[:4], -q[4], q[5]]), seen)
    torch = cells / "shop_arm" / "torch.yaml"
    torch.write_text(torch.read_text().replace("107.68 0 344.96 mm", "100 2 340 mm"))
    return ["arm", str(cell), "--readings", str(seen), *ASK, "--write"]


@pytest.fixture
def quick_verdict(monkeypatch):
    """Readings that are explained once, since here only the writing is looked at."""
    from pathsim.cli import arm as arm_command

    explain = arm_command.explain

    def explain_once(*arguments, **options):
        if not _VERDICT:
            _VERDICT.append(explain(*arguments, **options))
        return _VERDICT[0]

    monkeypatch.setattr(arm_command, "explain", explain_once)


@pytest.fixture
def quick_advice(monkeypatch):
    """Advice that is known beforehand, since here only its writing is looked at."""
    from pathsim.advice import Change
    from pathsim.cli import advise as advice_command
    from pathsim.cli import take_cure

    def write_one(folder, new, bench, _advice, console):
        change = Change(bench.cell, points={"retract": bench.cell.points["retract"].q + 1e-4})
        monkeypatch.setattr(take_cure, "that_go_together", lambda *_: ([None], change, []))
        return whole(folder, new, bench, (), console)

    whole = advice_command._write
    monkeypatch.setattr(advice_command, "advise", lambda *_: ())
    monkeypatch.setattr(advice_command, "_write", write_one)


@pytest.mark.usefixtures("quick_verdict")
@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGKILL])
def test_arm_write_is_whole_wherever_it_is_stopped(cells, sent):
    ask = wrong_tool_and_display(cells)
    before = everything(cells)
    kept = {path: path.stat().st_mode for path in cells.rglob("*")}
    assert main(ask) == 0
    after = everything(cells)
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"shop_arm/arm.yaml", "shop_arm/torch.yaml"}
    seen = set()
    for number in range(1, 100):
        for name, raw in before.items():
            (cells / name).write_bytes(raw)
        code, was_sent = killed_at(number, sent, ask)
        if not was_sent:
            assert code == 0 and everything(cells) == after
            break
        assert code == (-sent if sent == signal.SIGKILL else 128 + sent)
        now = everything(cells)
        if sent != signal.SIGKILL:
            assert not unfinished(cells)
        if (cells / together.RECORD).exists():
            # In the midst: no cell that these files belong to is read until it is put back.
            for cell in ("gate_hinge", "gate_hinge_no_retract"):
                with pytest.raises(CannotCheck, match=r"arm.yaml, shop_arm/torch.yaml was cut off"):
                    load_cell(cells / cell)
            assert main(["arm", str(cells / "gate_hinge")]) == 0
            now = everything(cells)
            assert now == before
        assert now in (before, after)
        seen.add("after" if now == after else "before")
        for name in unfinished(cells):
            next(cells.rglob(name)).unlink()
    else:
        pytest.fail("it never came to its end")
    # Signals that can be caught wait for the end of what was begun; else it is put back.
    assert seen == ({"before"} if sent == signal.SIGKILL else {"after"})
    assert {path: path.stat().st_mode for path in kept} == kept


@pytest.mark.usefixtures("quick_advice")
@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGKILL])
def test_advise_write_is_whole_wherever_it_is_stopped(cells, sent):
    old, new = cells / "gate_hinge", cells / "with more"
    ask = ["advise", str(old), "--write", str(new)]
    before = everything(cells)
    assert main(ask) == 0
    after = everything(cells)
    assert len(after) > len(before)
    shutil.rmtree(new)
    for number in range(1, 100):
        code, was_sent = killed_at(number, sent, ask)
        if not was_sent:
            assert code == 0 and everything(cells) == after
            break
        assert code == (-sent if sent == signal.SIGKILL else 128 + sent)
        assert everything(cells) in (before, after)
        assert sent == signal.SIGKILL or not unfinished(cells)
        for name in unfinished(cells):
            assert name.startswith(".with more.unfinished-")
            shutil.rmtree(cells / name)
        shutil.rmtree(new, ignore_errors=True)
    else:
        pytest.fail("it never came to its end")
    assert number > 8


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGKILL])
def test_a_file_is_whole_wherever_it_is_stopped(cells, sent):
    target = cells / "motion.csv"
    ask = ["motion", str(cells / "gate_hinge"), "-o", str(target)]
    assert main(ask) == 0
    whole = target.read_bytes()
    old = whole[:100]
    for number in range(1, 30):
        target.write_bytes(old)
        _, was_sent = killed_at(number, sent, ask)
        assert target.read_bytes() in (old, whole)
        left = unfinished(cells)
        assert len(left) <= (sent == signal.SIGKILL)
        for name in left:
            (cells / name).unlink()
        if not was_sent:
            assert target.read_bytes() == whole
            return
    pytest.fail("it never came to its end")


def test_a_file_is_whole_at_every_step_of_its_writing(cells):
    """Killed at once between any two calls: of opening, writing, closing and renaming."""
    target = cells / "motion.csv"
    ask = ["motion", str(cells / "gate_hinge"), "-o", str(target)]
    assert main(ask) == 0
    whole = target.read_bytes()
    old, seen = whole[:100], set()
    for number in range(1, 600, 3):
        target.write_bytes(old)
        _, was_sent = killed_at(number, signal.SIGKILL, ask, fine=True)
        assert target.read_bytes() in (old, whole)
        seen.add(target.read_bytes() == whole)
        for name in unfinished(cells):
            (cells / name).unlink()
        if not was_sent or len(seen) == 2:
            break
    assert seen == {False, True} and number > 20


@pytest.mark.parametrize("then", [lambda: 0, lambda: [] + None], ids=["goes on", "breaks"])
def test_a_signal_that_a_library_swallows_stops_the_program_all_the_same(monkeypatch, capsys, then):
    """Some catch everything while they load, and go on half loaded."""

    def swallowing(*_, **__):
        with contextlib.suppress(BaseException):  # this is what they do
            signal.raise_signal(signal.SIGINT)
        return then()

    monkeypatch.setattr("pathsim.cli.main.commands", lambda: swallowing)
    monkeypatch.setattr("pathsim.cli.plain.check_and_print", swallowing)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may have it ignored
    try:
        for options in ([], ["--brief"]):
            assert main(["check", "anything", *options]) == 130
            out, said = capsys.readouterr()
            assert said == "Stopped. No file was left half written.\n" and not out
    finally:
        signal.signal(signal.SIGINT, before)


def test_a_program_that_can_not_stop_by_itself_is_ended():
    """Interrupted in a library that then waits for a lock that nobody gives back."""
    code = """
        import contextlib, signal, threading
        from pathsim import stopping
        stopping.PATIENCE = 0.3
        with stopping.stopped_by_signals():
            with contextlib.suppress(BaseException):
                signal.raise_signal(signal.SIGTERM)
            threading.Event().wait()
    """
    run = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], timeout=60, check=False)
    assert run.returncode == 128 + signal.SIGTERM


def test_a_program_that_stopped_in_time_goes_on_behind_it(monkeypatch):
    monkeypatch.setattr("pathsim.stopping.PATIENCE", 0.05)
    with pytest.raises(Stopped), stopped_by_signals():
        signal.raise_signal(signal.SIGTERM)
    time.sleep(0.2)  # else the test run would have ended here


def test_a_long_command_is_stopped_from_outside_at_any_time(cells):
    """By the clock, as a person or a system does it, with the program as it is installed."""
    target = cells / "r.json"
    ask = [sys.executable, "-m", "pathsim", "check", str(cells / "gate_hinge"), "--json",
           str(target)]  # fmt: skip
    for wait, sent in ((0.7, signal.SIGTERM), (1.1, signal.SIGINT), (1.5, signal.SIGHUP)):
        run = subprocess.Popen(ask, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        time.sleep(wait)
        run.send_signal(sent)
        _, said = run.communicate(timeout=60)
        # Early in its start a process only knows the system's own way to stop.
        assert run.returncode in (0, 128 + sent, -sent), said
        if run.returncode == 128 + sent:
            assert said == "Stopped. No file was left half written.\n"
        assert not unfinished(cells)


@pytest.mark.usefixtures("quick_verdict")
def test_an_edit_after_a_cut_off_is_not_lost(cells, capsys):
    ask = wrong_tool_and_display(cells)
    for number in range(1, 60):
        killed_at(number, signal.SIGKILL, ask)
        if (cells / together.RECORD).exists():
            break
    for name in ("arm.yaml", "torch.yaml"):
        with (cells / "shop_arm" / name).open("a") as stream:
            stream.write("# edited by hand\n")
    edited = everything(cells)
    assert main(["arm", str(cells / "gate_hinge")]) == 2
    said = capsys.readouterr().err
    assert "was edited after a change was cut off" in said and "old contents" in said
    assert everything(cells).items() >= edited.items()


def test_held_signals_come_at_the_end():
    done = []
    with pytest.raises(Stopped) as stopped, stopped_by_signals():
        with signals_held():
            signal.raise_signal(signal.SIGTERM)
            done.append("the rest")
        done.append("too late")
    assert done == ["the rest"] and stopped.value.exit_code == 143


def test_what_was_ignored_stays_ignored():
    """As ``nohup`` has it."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with stopped_by_signals():
            signal.raise_signal(signal.SIGHUP)
    finally:
        signal.signal(signal.SIGHUP, before)


def test_a_full_disk_leaves_the_old_file(tmp_path, monkeypatch):
    target = tmp_path / "x.json"
    target.write_text("old")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotCheck, match="No space left"):
        write_whole(target, "new")
    assert target.read_text() == "old" and [p.name for p in tmp_path.iterdir()] == ["x.json"]


def test_several_files_are_all_old_when_one_cannot_be_written(tmp_path, monkeypatch):
    for name in ("a", "b"):
        (tmp_path / name).write_bytes(b"old")
    whole = together.write_whole

    def write(path, contents):
        if path.name == "b":
            raise CannotCheck("the disk is full")
        whole(path, contents)

    monkeypatch.setattr(together, "write_whole", write)
    with pytest.raises(CannotCheck, match="full"):
        together.change_together(tmp_path, {tmp_path / n: b"new" for n in ("a", "b")})
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"a": b"old", "b": b"old"}
