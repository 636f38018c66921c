"""An empty window, or a picture without one: paper, lamps, and flat layers above the stage."""

from __future__ import annotations

from typing import Any, cast

import pyvista as pv
from vtkmodules.vtkRenderingCore import vtkRenderer

from pathsim.scene.palette import PAPER
from pathsim.view.drawable import rgb
from pathsim.view.drawing_start import load_drawing
from pathsim.view.layer import Layer


def canvas(size: tuple[int, int], *, off_screen: bool, title: str) -> tuple[Any, tuple[Layer, ...]]:
    """Return a plotter and three layers above its stage, the lowest first."""
    load_drawing()
    plotter = cast(
        "Any",
        pv.Plotter(off_screen=off_screen, window_size=list(size), title=title, lighting="none"),
    )
    plotter.set_background(rgb(PAPER))
    # Few lamps: one at the eye, one high up so that table tops stay light.
    plotter.add_light(pv.Light(light_type="headlight", intensity=0.62))
    plotter.add_light(pv.Light(position=(0.4, -0.3, 6.0), focal_point=(0, 0, 0), intensity=0.5))
    window = plotter.render_window
    window.SetMultiSamples(4 if off_screen else 0)
    # Marks on the stage lie under panel and strip, so that they end at the stage's edge.
    renderers = [vtkRenderer() for _ in range(3)]
    window.SetNumberOfLayers(4)
    for level, renderer in enumerate(renderers, start=1):
        renderer.SetLayer(level)
        renderer.InteractiveOff()
        window.AddRenderer(renderer)
    return plotter, tuple(Layer(each) for each in renderers)


def window_size(plotter: Any) -> tuple[int, int]:
    """Return the size of a plotter's window now."""
    width, height = plotter.render_window.GetSize()
    return int(width), int(height)
