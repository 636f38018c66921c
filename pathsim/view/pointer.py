"""What the mouse points at on the stage: a body, a place, a moment of the path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from vtkmodules.vtkRenderingCore import vtkCellPicker

from pathsim.scene.message import message_at
from pathsim.transforms import Array
from pathsim.units import millimetres
from pathsim.view.picture import Picture

#: The path is meant when the mouse is so near to it, times the size of type.
_NEAR_PATH = 0.6


@dataclass(frozen=True, eq=False)
class Pointed:
    """A place in the world, of a body or of the path; ``lines``: what is said of it."""

    place: Array
    body: str
    lines: tuple[str, ...]


class Pointer:
    """Finds what a pixel of a picture's stage shows."""

    def __init__(self, picture: Picture) -> None:
        self._picture = picture
        self._picker = vtkCellPicker()
        self._picker.SetTolerance(0.0005)

    def at(self, x: float, y: float) -> Pointed | None:
        """Return what is shown at a pixel; None for the paper behind everything."""
        picture = self._picture
        if not picture.place.stage.holds(x, y):
            return None
        on_path = self._path(x, y)
        if on_path is not None:
            return on_path
        self._picker.Pick(x, y, 0, picture.plotter.renderer)
        name = picture.stage.name_of(self._picker.GetActor())
        if name is None:
            return None
        place = np.array(self._picker.GetPickPosition())
        return Pointed(place, name, (name, _coordinates(place)))

    def _path(self, x: float, y: float) -> Pointed | None:
        """Return the moment of the path that is drawn next to a pixel."""
        picture = self._picture
        best, near = None, _NEAR_PATH * picture.place.font
        to_screen = picture.projection()
        for path in picture.scene.paths:
            pixels = to_screen(path.points)
            far = np.hypot(pixels[:, 0] - x, pixels[:, 1] - y)
            k = int(np.argmin(far))
            if far[k] < near:
                near, best = float(far[k]), (float(path.t[k]), path.points[k])
        if best is None:
            return None
        time, place = best
        said = message_at(picture.scene, time)
        return Pointed(place, "", (said.where, said.how, _coordinates(place)))


def _coordinates(place: Array) -> str:
    x, y, z = (float(v) * 1e3 for v in place)
    return f"x {x:.0f}  y {y:.0f}  z {z:.0f} mm"


def measured(places: tuple[Array, ...]) -> str:
    """Say a measurement: how many places are missing, or the distance of the two."""
    if len(places) < 2:
        return f"measure: click the {'first' if not places else 'second'} place"
    way = places[1] - places[0]
    parts = "  ".join(f"{n} {abs(v) * 1e3:.1f}" for n, v in zip("xyz", way, strict=True))
    return f"{millimetres(float(np.linalg.norm(way)))}   ({parts} mm)"
