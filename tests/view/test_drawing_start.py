"""The drawing library starts without what no picture needs, and takes nothing from others."""

import subprocess
import sys

import pytest

pytest.importorskip("pyvista")

START = "import sys\nfrom pathsim.view.drawing_start import load_drawing\n"


def run(text):
    done = subprocess.run(
        [sys.executable, "-c", START + text], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout.split()


def test_plotting_of_charts_stays_away():
    text = (
        "load_drawing()\nimport pyvista\npyvista.Plotter\n"
        "print(*{'matplotlib.pyplot', 'matplotlib.figure', 'mypy'} & set(sys.modules))"
    )
    assert run(text) == []


def test_who_asks_for_it_gets_it():
    """The library's own colours and charts, and another's import."""
    text = (
        "load_drawing()\nimport pyvista as pv\nfrom pyvista.plotting import colors\n"
        "assert colors.get_matplotlib_theme_cycler() is not None\n"
        "import matplotlib.pyplot as plt\n"
        "from matplotlib.backends.backend_agg import FigureCanvasAgg\n"
        "figure, _ = plt.subplots()\n"
        "assert isinstance(FigureCanvasAgg(figure), FigureCanvasAgg)\n"
        "pv.ChartMPL(figure)\n"
        "import importlib.util\nprint(importlib.util.find_spec('mypy') is not None)"
    )
    assert len(run(text)) == 1


def test_what_others_loaded_before_stays_as_it_is():
    text = (
        "import matplotlib.pyplot as plt\nload_drawing()\n"
        "assert sys.modules['matplotlib.pyplot'] is plt\n"
        "load_drawing()\nprint('pyvista.plotting' in sys.modules)"
    )
    assert run(text) == ["True"]
