"""Where a picture is seen from: places as pixels, sections, and cameras that hold more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pathsim.scene.camera_fit import Camera, fitted
from pathsim.scene.ghost import CureGhost
from pathsim.scene.records import FindingMark
from pathsim.transforms import Array
from pathsim.view.layout import Box
from pathsim.view.plotter import Plotter

#: The eye stays so far above the floor, m.
_ABOVE_FLOOR = 0.03


class Eye:
    """The camera of a plotter."""

    def __init__(self, plotter: Plotter) -> None:
        self._plotter = plotter

    def place(self) -> tuple[object, ...]:
        """Where the eye is now, to tell whether the mouse moved it."""
        camera = self._plotter.camera
        return (camera.GetPosition(), camera.GetFocalPoint(), camera.GetViewUp())

    def keep_above(self, floor: float) -> None:
        """Lift the eye where it went below the floor, m: nobody looks up through it."""
        camera = self._plotter.camera
        x, y, z = camera.GetPosition()
        if z < floor + _ABOVE_FLOOR:
            camera.SetPosition(x, y, floor + _ABOVE_FLOOR)
            self._plotter.renderer.ResetCameraClippingRange()

    def to_pixels(self, place: Array) -> tuple[float, float, float]:
        """Return a place in the world as pixels of the window, and its depth 0..1."""
        renderer = self._plotter.renderer
        renderer.SetWorldPoint(float(place[0]), float(place[1]), float(place[2]), 1.0)
        renderer.WorldToDisplay()
        x, y, depth = renderer.GetDisplayPoint()
        return float(x), float(y), float(depth)

    def projection(self, box: Box) -> Callable[[Array], Array]:
        """Return what takes places ``(n, 3)`` to pixels ``(n, 2)`` of a stage."""
        matrix = self._plotter.renderer.GetActiveCamera().GetCompositeProjectionTransformMatrix(
            box.width / max(box.height, 1.0), -1, 1
        )
        M = np.array([[matrix.GetElement(i, j) for j in range(4)] for i in range(4)])

        def to_pixels(points: Array) -> Array:
            seen = np.column_stack([points, np.ones(len(points))]) @ M.T
            flat = seen[:, :2] / np.where(seen[:, 3:] > 1e-9, seen[:, 3:], np.nan)
            shares = np.nan_to_num((flat + 1) / 2, nan=1e6)
            return np.asarray(shares * (box.width, box.height) + (box.left, box.bottom))

        return to_pixels

    def section(self, axis: int) -> tuple[Array | None, Array | None]:
        """Return normal and place of a cut through what is looked at; the far side stays.

        ``axis``: 1 to 3 for x, y, z of the world; 0 for none.
        """
        if not axis:
            return None, None
        camera = self._plotter.camera
        focus = np.array(camera.GetFocalPoint())
        normal = np.eye(3)[axis - 1]
        side = 1.0 if normal @ (focus - np.array(camera.GetPosition())) >= 0 else -1.0
        return side * normal, focus


def holding(mark: FindingMark, ghost: CureGhost) -> Camera:
    """Return the finding's camera, drawn back where it does not hold what a proposal changes."""
    camera = mark.camera
    assert camera is not None  # noqa: S101 - asked before
    back = camera.eye - camera.focus
    found = fitted("finding", ghost.held(mark.place), back, camera.up, 1.0, camera.angle)
    least = float(np.linalg.norm(back))
    far = found.eye - found.focus
    share = max(least / max(float(np.linalg.norm(far)), 1e-9), 1.0)
    return replace(found, eye=found.focus + share * far, held=None)
