"""No screen, no library: a clear message, never a crash."""

import subprocess
import sys
from pathlib import Path

import pytest

from pathsim.cli.main import main
from pathsim.view import CannotShow, probe

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
    with pytest.raises(CannotShow, match="cannot be drawn here"):
        probe.require_off_screen()


def test_importing_the_view_imports_no_drawing_library():
    code = "import pathsim.view, pathsim.cli.main, sys; assert 'pyvista' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
