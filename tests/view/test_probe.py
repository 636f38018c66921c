"""No screen, no library: a clear message, never a crash."""

import subprocess
import sys
from pathlib import Path

import pytest

from pathsim.cli.main import main
from pathsim.kernels.cache_folder import VARIABLE
from pathsim.view import CannotShow, drawn_before, probe

SAMPLE = str(Path(__file__).parents[2] / "sample_cells" / "wrist_in_line")


def test_without_the_drawing_library_the_message_says_what_to_install(monkeypatch, capsys):
    monkeypatch.setattr(probe.importlib.util, "find_spec", lambda _name: None)
    assert main(["view", SAMPLE]) == 2
    assert "pip install 'pathsim[view]'" in capsys.readouterr().err
    assert main(["still", SAMPLE, "-o", "x.png"]) == 2
    assert "'pathsim check' works without it" in capsys.readouterr().err


def test_check_works_where_the_library_cannot_be_imported(tmp_path):
    for name in ("pyvista", "vtkmodules"):
        (tmp_path / f"{name}.py").write_text("raise ImportError('not here')")
    code = "import sys; sys.path.insert(0, sys.argv[1]); from pathsim.cli.main import main; "
    code += "sys.exit(main(['check', sys.argv[2]]))"
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path), SAMPLE], capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert "line up" in done.stdout


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="screens are told by DISPLAY")
def test_without_a_screen_a_window_is_refused(monkeypatch):
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    with pytest.raises(CannotShow, match="there is no screen"):
        probe.require_window()


def test_a_crash_while_drawing_is_a_message(monkeypatch):
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    monkeypatch.setattr(probe, "_TRY", "import os; os.kill(os.getpid(), 11)  # {off}")
    nothing_known(monkeypatch)
    with pytest.raises(CannotShow, match="cannot be drawn here"):
        probe.require_off_screen()


def nothing_known(monkeypatch):
    """Let nothing have been tried in this process, nor be kept of others."""
    monkeypatch.setenv(VARIABLE, "")
    monkeypatch.setattr(probe, "_kept", [])
    monkeypatch.setattr(probe, "_ready", [])
    monkeypatch.setattr(probe, "_begun", [])


def test_an_attempt_that_was_begun_is_not_made_again(monkeypatch):
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    nothing_known(monkeypatch)
    monkeypatch.setenv(probe._CHOICE, "as it is set")  # one choice, and nothing to set
    monkeypatch.setattr(probe, "_TRY", "import sys; sys.exit(0)  # {off}")
    made = []
    whole = probe._attempt
    monkeypatch.setattr(probe, "_attempt", lambda *a, **k: made.append(whole(*a, **k)) or made[-1])
    probe.begin_off_screen()
    probe.begin_off_screen()
    probe.require_off_screen()
    probe.require_off_screen()
    assert len(made) == 1


def test_one_that_was_begun_and_failed_is_told_and_the_others_are_tried(monkeypatch):
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    nothing_known(monkeypatch)
    monkeypatch.delenv(probe._CHOICE, raising=False)
    monkeypatch.setattr(probe.sys, "platform", "linux")
    script = f"import os, sys; sys.exit(os.environ.get('{probe._CHOICE}') is None)  # {{off}}"
    monkeypatch.setattr(probe, "_TRY", script)
    monkeypatch.setenv("DISPLAY", ":nowhere")
    probe.begin_off_screen()
    assert probe._begun[0][0] == {}
    with monkeypatch.context() as kept:
        kept.setenv(probe._CHOICE, "")  # so that what it sets is put back
        kept.delenv(probe._CHOICE)
        probe.require_off_screen()
        assert probe._ready[0][0] == {probe._CHOICE: probe._OFF_SCREEN_WINDOWS[0]}


def test_an_attempt_that_hangs_is_ended(monkeypatch):
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    nothing_known(monkeypatch)
    monkeypatch.setenv(probe._CHOICE, "as it is set")
    monkeypatch.setattr(probe, "_SECONDS", 0.5)
    monkeypatch.setattr(probe, "_TRY", "import time; time.sleep(60)  # {off}")
    probe.begin_off_screen()
    ((_, process),) = probe._begun
    with pytest.raises(CannotShow, match="cannot be drawn here"):
        probe.require_off_screen()
    assert process.poll() is not None


@pytest.fixture
def kept_here(monkeypatch, tmp_path):
    """Keep what was drawn in a folder of its own, with a library that can be changed."""
    if not sys.platform.startswith("linux"):
        pytest.skip("nothing is kept: it cannot be told which libraries were loaded")
    pytest.importorskip("pyvista", reason="the optional drawing library is not installed")
    nothing_known(monkeypatch)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    monkeypatch.setenv(probe._CHOICE, "as it is set")
    monkeypatch.setattr(probe, "_TRY", "import sys; sys.exit(0)  # {off}")
    library = tmp_path / "lib.so"
    library.write_text("drawing")
    monkeypatch.setattr(drawn_before, "_loaded", lambda: [str(library)])
    made = []
    whole = probe._attempt
    monkeypatch.setattr(probe, "_attempt", lambda *a, **k: made.append(whole(*a, **k)) or made[-1])

    def another_process():
        for known in (probe._ready, probe._begun, probe._kept):
            known.clear()
        probe.begin_off_screen()
        probe.require_off_screen()
        return len(made)

    return another_process, library


def test_who_drew_before_does_not_try_again(kept_here):
    another_process, _ = kept_here
    assert another_process() == 1
    probe.drawn()
    assert another_process() == 1
    probe.drawn()
    assert another_process() == 1


def test_a_crash_while_drawing_lets_the_next_process_try(kept_here):
    another_process, _ = kept_here
    another_process()
    probe.drawn()
    assert another_process() == 1  # and then it crashed: it never says that it drew
    assert another_process() == 2


@pytest.mark.parametrize("change", ["another", "gone"])
def test_another_library_is_tried_anew(kept_here, change):
    another_process, library = kept_here
    another_process()
    probe.drawn()
    if change == "gone":
        library.unlink()
    else:
        library.write_text("another drawing")
    assert another_process() == 2


def test_another_setting_is_tried_anew(kept_here, monkeypatch):
    another_process, _ = kept_here
    another_process()
    probe.drawn()
    monkeypatch.setenv("LIBGL_ALWAYS_SOFTWARE", "1")
    assert another_process() == 2


def test_after_a_new_start_of_the_computer_it_is_tried_anew(kept_here, monkeypatch):
    another_process, _ = kept_here
    another_process()
    probe.drawn()
    monkeypatch.setattr(drawn_before, "_started", lambda: "another start")
    assert another_process() == 2


def test_what_is_kept_and_cannot_be_read_is_tried_anew(kept_here, tmp_path):
    another_process, _ = kept_here
    another_process()
    probe.drawn()
    (kept,) = (tmp_path / "kept" / "drawing").iterdir()
    kept.write_text('{"choice": 3}')
    assert another_process() == 2


def test_importing_the_view_imports_no_drawing_library():
    code = "import pathsim.view, pathsim.cli.main, sys; assert 'pyvista' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
