"""An empty window, or a picture without one: paper, lamps, and flat layers above the stage."""

from __future__ import annotations

from pathsim.scene.palette import PAPER
from pathsim.view.drawable import rgb
from pathsim.view.layer import Layer
from pathsim.view.plotter import Plotter


def canvas(
    size: tuple[int, int], *, off_screen: bool, title: str
) -> tuple[Plotter, tuple[Layer, ...]]:
    """Return a plotter and three layers above its stage, the lowest first."""
    plotter = Plotter(size, off_screen=off_screen, title=title, background=rgb(PAPER))
    # Few lamps: one at the eye, one high up so that table tops stay light.
    plotter.add_light(0.62)
    plotter.add_light(0.5, position=(0.4, -0.3, 6.0))
    # Marks on the stage lie under panel and strip, so that they end at the stage's edge.
    return plotter, tuple(Layer(each) for each in plotter.layers(3))
