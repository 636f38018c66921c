"""Plots against the arrays they are made of; no display; a clear message without matplotlib."""

import subprocess
import sys

import numpy as np
import pytest
from matplotlib.figure import Figure

import pathsim
from pathsim.caution import CAUTION
from tests.builders import cell, joint
from tests.test_public_api import SAMPLES


@pytest.fixture(scope="module")
def result():
    return pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))


def labelled(axes):
    handles, names = axes.get_legend_handles_labels()
    return dict(zip(names, handles, strict=True))


def test_clearance_is_drawn_as_it_is_guaranteed(result):
    axes = pathsim.plot.plot_clearance(result)
    profile, drawn = result.profile(), labelled(axes)
    values, edges, _ = drawn["guaranteed"].get_data()
    assert np.array_equal(values, profile.guaranteed * 1e3, equal_nan=True)
    assert np.array_equal(edges, profile.t)
    margin = drawn["margin"].get_data()[0]
    assert set(margin[np.isfinite(margin)]) == {10.0, 1.5}
    seen = drawn["seen"].get_ydata()
    assert np.isnan(seen[~np.isfinite(profile.seen)]).all()
    known = np.isfinite(profile.seen)
    assert np.allclose(seen[known], profile.seen[known] * 1e3)
    touching = drawn["touches"].get_xdata()
    assert len(touching) == (profile.guaranteed == 0).sum() > 0
    assert all(result.trajectory.track_at(t).number == 4 for t in touching)
    assert axes.get_ylabel() == "clearance, mm"


def test_joints_are_drawn_as_shares_of_their_ranges(result):
    axes = pathsim.plot.plot_joints(result)
    limits, drawn = result.cell.axes, labelled(axes)
    assert tuple(drawn) == limits.names
    q = result.trajectory.q
    for column, name in enumerate(limits.names):
        low, high = limits.lower[column], limits.upper[column]
        share = drawn[name].get_ydata()
        assert np.allclose(low + (share + 1) / 2 * (high - low), q[:, column])


def test_an_axis_without_limits_is_drawn_in_half_turns():
    endless = np.tile([-np.inf, np.inf], (6, 1))
    arm = pathsim.Arm.from_dh(
        [(0.1, -1.5, 0.4), (0.5, 0.1, 0), (0.1, -1.5, 0), (0, 1.5, 0.6), (0, -1.5, 0), (0, 0, 0.1)],
        "standard", limits=endless, speed=np.full(6, 3.0), acceleration=np.full(6, 8.0),
    )  # fmt: skip
    made = cell({"home": np.zeros(6), "on": np.full(6, 0.5)}, [joint("on"), joint("home")], arm=arm)
    drawn = labelled(pathsim.plot.plot_joints(pathsim.check(made)))
    assert np.isclose(drawn["joint 1, half turns"].get_ydata().max(), 0.5 / np.pi)


def test_the_caller_s_axes_are_drawn_on_and_the_caution_stands_there(result):
    mine = Figure().add_subplot()
    for plot in (pathsim.plot.plot_clearance, pathsim.plot.plot_joints):
        assert plot(result, mine) is mine
        assert CAUTION in mine.get_xlabel().replace("\n", " ")
        mine.clear()


def test_a_plot_opens_no_window():
    code = (
        "import sys, pathsim\n"
        f"result = pathsim.check(pathsim.load_cell({str(SAMPLES / 'wrist_in_line')!r}))\n"
        "pathsim.plot.plot_joints(result).figure.canvas.draw()\n"
        "print('matplotlib.figure' in sys.modules, 'matplotlib.pyplot' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "False"]


def test_importing_pathsim_brings_no_drawing_library_and_missing_it_is_said():
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "import pathsim\n"
        f"result = pathsim.check(pathsim.load_cell({str(SAMPLES / 'wrist_in_line')!r}))\n"
        "try: pathsim.plot.plot_joints(result)\n"
        "except pathsim.CannotCheck as error: print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == (
        "plots need matplotlib, which is not installed: pip install 'pathsim[plot]'\n"
    )
