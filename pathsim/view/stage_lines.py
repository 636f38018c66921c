"""Lines on the stage: the path in its bands, straight lines of joint moves, rings."""

from __future__ import annotations

from typing import Any

import numpy as np

from pathsim.scene.palette import BANDS, INK, QUIET, Colour
from pathsim.scene.records import PathLine, Scene
from pathsim.view.drawable import before_others, chain, dashes, pairs, rgb, segments
from pathsim.view.plotter import Plotter

_CASING = 2.0  # px of ink round the path
_STROKE = 2.0  # px of a weave's stroke seen from near by
_UNCHECKED = (120, 120, 120)


class StageLines:
    """Actors of a scene's lines, whose weight can be changed."""

    def __init__(self, plotter: Plotter, scene: Scene) -> None:
        self._plotter, self._scene = plotter, scene
        #: Lines of woven seams with their width from afar: near by they are drawn thin, so that
        #: the strokes show at their true width.
        self._woven: list[tuple[Any, float]] = []
        #: All lines with their usual width, and how much heavier they are drawn.
        self._all: list[tuple[Any, float]] = []
        self._scale = 1.0
        self._is_thin = False
        for path in scene.paths:
            self._add_path(path)
        self._add_straight_lines()
        for ring in scene.rings:
            self._line(chain(ring.points), INK, 1.5, 0.0)

    def thin_weaves(self, *, on: bool) -> None:
        """Draw woven seams thin, so that the strokes show, or as wide as the others."""
        self._is_thin = on
        for actor, width in self._woven:
            shown = min(width, _STROKE) if on else width
            actor.GetProperty().SetLineWidth(shown * self._scale)

    def weigh(self, scale: float) -> None:
        """Draw lines ``scale`` times as wide as usual: as large as the type beside them."""
        self._scale = scale
        for actor, width in self._all:
            actor.GetProperty().SetLineWidth(width * scale)
        self.thin_weaves(on=self._is_thin)

    def remove(self) -> None:
        """Remove all of them."""
        for actor, _ in self._all:
            self._plotter.remove(actor)

    def _add_path(self, path: PathLine) -> None:
        """Path in bands of colour and width over a casing of ink; unknown stretches in dots."""
        for number, band in enumerate(BANDS):
            lines = segments(path, path.band == number)
            if lines is None:
                continue
            for width, colour, order in (
                (band.width + _CASING, INK, 1.0),
                (band.width, band.colour, -1.0),
            ):
                actor = self._line(lines, colour, width, order)
                if self._is_woven(path):
                    self._woven.append((actor, width))
        for points in dashes(path, path.band < 0):
            self._line(chain(points), _UNCHECKED, 3.0, 0.0)

    def _is_woven(self, path: PathLine) -> bool:
        return self._scene.result.trajectory.tracks[path.move - 1].move.weave is not None

    def _line(self, lines: Any, colour: Colour, width: float, order: float) -> Any:
        actor = self._plotter.add(lines, rgb(colour), width=width)
        self._all.append((actor, width))
        before_others(actor, order)
        return actor

    def _add_straight_lines(self) -> None:
        """Draw the line that people expect of a joint move, dashed."""
        for detour in self._scene.detours:
            way = detour.end - detour.start
            count = max(int(np.linalg.norm(way) / 0.012), 2)
            s = np.arange(count)[:, None] / count
            a, b = detour.start + s * way, detour.start + (s + 0.55 / count) * way
            points = np.stack([a, b], axis=1).reshape(-1, 3)
            self._line(pairs(points), QUIET, 1.5, 0.0)
