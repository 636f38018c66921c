"""What draws: one window, or one picture without a window, with the stage's actors.

VTK's own parts and no more: a plotting library built upon it would take longer to start than a
picture takes to draw.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.util import numpy_support
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkRenderWindowInteractor,
    vtkWindowToImageFilter,
)

from pathsim.view.probe import drawn

_numpy: Any = numpy_support  # it tells no types
assert vtkmodules.vtkRenderingOpenGL2  # noqa: S101 - its import registers what draws
#: The window wishes to be drawn so often while something moves, 1/s.
_UPDATES = 30.0
_MULTISAMPLES = 4  # of a picture; a window's edges are smoothed once it stands still

Share = tuple[float, float, float]


class Plotter:
    """A stage and its window. ``size``: px; ``background``: red, green, blue from 0 to 1."""

    def __init__(
        self, size: tuple[int, int], *, off_screen: bool, title: str, background: Share
    ) -> None:
        self.render_window = window = vtkRenderWindow()
        window.SetMultiSamples(_MULTISAMPLES if off_screen else 0)
        window.SetWindowName(title)
        window.SetOffScreenRendering(off_screen)
        window.SetSize(*size)
        self.renderer = vtkRenderer()
        self.renderer.AutomaticLightCreationOff()
        self.renderer.SetBackground(*background)
        window.AddRenderer(self.renderer)
        self._lights: list[Any] = []
        self._interactor: Any = None

    @property
    def camera(self) -> Any:
        """The stage's camera."""
        return self.renderer.GetActiveCamera()

    @property
    def size(self) -> tuple[int, int]:
        """Size now, px; can be set."""
        width, height = self.render_window.GetSize()
        return int(width), int(height)

    @size.setter
    def size(self, size: tuple[int, int]) -> None:
        self.render_window.SetSize(*size)

    def add_light(self, intensity: float, position: Share | None = None) -> None:
        """Add a lamp at a place, shining at the origin; None: one at the eye."""
        light = vtkLight()
        if position is None:
            light.SetLightTypeToHeadlight()
        else:
            light.SetPosition(*position)
            light.SetFocalPoint(0.0, 0.0, 0.0)
        light.SetIntensity(intensity)
        self.renderer.AddLight(light)
        self._lights.append(light)

    def layers(self, count: int) -> list[Any]:
        """Return renderers over the stage, the lowest first, that no mouse reaches."""
        self.render_window.SetNumberOfLayers(count + 1)
        renderers = [vtkRenderer() for _ in range(count)]
        for level, renderer in enumerate(renderers, start=1):
            renderer.SetLayer(level)
            renderer.InteractiveOff()
            self.render_window.AddRenderer(renderer)
        return renderers

    def add(
        self, data: Any, color: Share, *, opacity: float = 1.0, width: float = 1.0,
        light: tuple[float, float] | None = None, culled: str = "",
    ) -> Any:  # fmt: skip
        """Add triangles or lines of one colour; return their actor.

        ``light``: shares of ambient and of diffuse light; None: the plain colour, without light.
        ``culled``: "back" or "front", the side of triangles that is not drawn. ``width``: px.
        """
        mapper = vtkPolyDataMapper()
        mapper.SetInputData(data)
        mapper.ScalarVisibilityOff()
        actor = vtkActor()
        actor.SetMapper(mapper)
        look = actor.GetProperty()
        look.SetColor(*color)
        look.SetOpacity(opacity)
        look.SetLineWidth(width)
        look.SetLighting(light is not None)
        if light is not None:
            look.SetInterpolationToPhong()
            look.SetAmbient(light[0])
            look.SetDiffuse(light[1])
        look.SetSpecular(0.0)
        look.SetBackfaceCulling(culled == "back")
        look.SetFrontfaceCulling(culled == "front")
        self.renderer.AddActor(actor)
        return actor

    def remove(self, actor: Any) -> None:
        """Remove an actor."""
        self.renderer.RemoveActor(actor)

    def open(self) -> Any:
        """Open the window and draw it; return what its events come from."""
        # Imported here: pictures without a window need none of it.
        import vtkmodules.vtkRenderingUI
        from vtkmodules.vtkInteractionStyle import vtkInteractorStyleTrackballCamera

        assert vtkmodules.vtkRenderingUI  # noqa: S101 - its import registers what listens
        interactor = vtkRenderWindowInteractor()
        interactor.SetDesiredUpdateRate(_UPDATES)
        interactor.LightFollowCameraOff()
        interactor.SetRenderWindow(self.render_window)
        interactor.SetInteractorStyle(vtkInteractorStyleTrackballCamera())
        interactor.Initialize()
        self._interactor = interactor
        self.render()
        return interactor

    def render(self) -> None:
        """Draw."""
        self.render_window.Render()

    def image(self) -> np.ndarray:
        """Draw and return the picture as ``(height, width, 3)`` bytes."""
        self.render()
        read = vtkWindowToImageFilter()
        read.SetInput(self.render_window)
        read.SetInputBufferTypeToRGB()
        # The front buffer: there samples are added up as light; else lines look heavier.
        read.ReadFrontBufferOn()
        read.ShouldRerenderOff()
        read.Update()
        found = read.GetOutput()
        width, height, _ = found.GetDimensions()
        drawn()
        pixels = _numpy.vtk_to_numpy(found.GetPointData().GetScalars()).reshape(height, width, -1)
        return np.array(pixels[::-1])

    def close(self) -> None:
        """Give everything back."""
        self.renderer.RemoveAllViewProps()
        if self._interactor is not None:
            self._interactor.TerminateApp()
            self._interactor = None
        self.render_window.Finalize()
