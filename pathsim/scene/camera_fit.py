"""Where to look from, and the nearest place from which a picture holds given points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.transforms import Array

#: A little air round what must be seen.
_AIR = 1.06


@dataclass(frozen=True, eq=False)
class Camera:
    """Where to look from; vertical opening angle in rad."""

    name: str
    eye: Array
    focus: Array
    up: Array
    angle: float
    held: Array | None = None

    def fitted_to(self, aspect: float) -> Camera:
        """Return the camera that just holds ``held`` in a picture of ``aspect``, width to height.

        A camera without ``held (n, 3)`` is made for a place and stays as it is.
        """
        if self.held is None:
            return self
        back = self.eye - self.focus
        return fitted(self.name, self.held, back, self.up, aspect, self.angle)


def fitted(
    name: str, points: Array, direction: Array, up: Array, aspect: float, angle: float
) -> Camera:
    """Nearest camera from ``direction`` that holds all ``points (n, 3)``; ``angle`` rad upright.

    In the plane across a side, a point at ``(u, z)`` is inside while ``|u - c| <= t (d - z)``: the
    least ``d`` and its ``c`` are those of the two outermost points.
    """
    back = np.asarray(direction, float) / np.linalg.norm(direction)
    right = np.cross(up, back)
    right = right / np.linalg.norm(right)
    upright = np.cross(back, right)
    z = points @ back
    half = float(np.tan(angle / 2)) / _AIR
    focus, distance = np.zeros(3), -np.inf
    for axis, t in ((right, half * aspect), (upright, half)):
        u = points @ axis
        high, low = float((u + t * z).max()), float((u - t * z).min())
        focus = focus + (high + low) / 2 * axis
        distance = max(distance, (high - low) / (2 * t))
    middle = float(z.mean())
    focus = focus + middle * back
    return Camera(name, focus + (distance - middle) * back, focus, up, angle, points)
