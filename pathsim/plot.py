"""Plots of a result, by matplotlib: ``pip install 'pathsim[plot]'``.

Nothing is shown or saved here: an axes comes back, and the caller decides. No display is needed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.errors import CannotCheck

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_clearance", "plot_joints"]


def plot_clearance(result: CheckResult, ax: Axes | None = None) -> Axes:
    """Plot guaranteed clearance (mm) of the nearest pair over the program's time (s).

    A level over each stretch of time is guaranteed at every moment of it; the dots are distances
    seen at single moments, nothing where beyond the cap; the dashed line is the margin asked for.
    Gaps were not checked. ``ax``: where to draw, a new figure when not given. Returns it. Raises
    CannotCheck without matplotlib.
    """
    axes = _axes(ax)
    profile = result.profile()
    between = profile.guaranteed * 1e3
    axes.stairs(between, profile.t, baseline=None, color="black", label="guaranteed")
    margin = np.where(np.isnan(profile.guaranteed), np.nan, profile.margin) * 1e3
    axes.stairs(margin, profile.t, baseline=None, color="gray", ls="--", label="margin")
    seen = np.where(np.isfinite(profile.seen), profile.seen, np.nan) * 1e3
    axes.plot(profile.t, seen, ".", color="gray", ms=2, label="seen")
    touching = np.flatnonzero(profile.guaranteed == 0)
    for k in touching:
        axes.axvspan(profile.t[k], profile.t[k + 1], color="magenta", alpha=0.3, lw=0)
    if len(touching):  # a short touch is a hair's breadth in a long program: a mark that is seen
        middle = (profile.t[touching] + profile.t[touching + 1]) / 2
        axes.plot(middle, np.zeros(len(middle)), "X", color="magenta", ms=9, clip_on=False,
                  zorder=5, label="touches")  # fmt: skip
    _starts(axes, result)
    axes.set_ylim(0, profile.cap * 1e3)
    axes.set_ylabel("clearance, mm")
    _legend(axes)
    return axes


def plot_joints(result: CheckResult, ax: Axes | None = None) -> Axes:
    """Plot all axes over the program's time (s), each as a share of its range from -1 to 1.

    0 is the middle of an axis's range and 1 its upper limit; an axis without limits is drawn in
    half turns, a sliding one in m. ``ax`` as in ``plot_clearance``. Raises CannotCheck without
    matplotlib.
    """
    axes = _axes(ax)
    moving, t = result.cell.axes, result.trajectory.t
    for column, name in enumerate(moving.names):
        low, high = float(moving.lower[column]), float(moving.upper[column])
        middle, half, unit = (low + high) / 2, (high - low) / 2, ""
        if not np.isfinite([low, high]).all():
            slides = bool(moving.prismatic[column])
            middle, half, unit = (0.0, 1.0, ", m") if slides else (0.0, np.pi, ", half turns")
        values = (result.trajectory.q[:, column] - middle) / half
        axes.plot(t, values, label=name + unit)
    _starts(axes, result)
    axes.axhline(1, color="gray", ls="--")
    axes.axhline(-1, color="gray", ls="--")
    axes.set_ylabel("share of the axis's range")
    _legend(axes)
    return axes


def _starts(axes: Axes, result: CheckResult) -> None:
    """Mark where moves start, and say what it is, with the caution below."""
    for track in result.trajectory.tracks:
        axes.axvline(float(track.t[0]), color="lightgray", lw=0.8, zorder=0)
    axes.set_xlabel("time, s\n" + CAUTION.replace(". ", ".\n"), fontsize="small")
    axes.set_title(result.cell.name)


def _legend(axes: Axes) -> None:
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False)  # over no line


def _axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError as error:
        raise CannotCheck(
            "plots need matplotlib, which is not installed: pip install 'pathsim[plot]'"
        ) from error
    # A figure of its own, so that nothing of the caller's is switched and no display is asked for.
    figure: Any = Figure(figsize=(9, 4.5), layout="constrained")
    FigureCanvasAgg(figure)
    made: Axes = figure.add_subplot()
    return made
