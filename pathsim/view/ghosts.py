"""Ghosts: the arm at a finding's moment, and the program with a proposal over the one as it is."""

from __future__ import annotations

from typing import Any

from pathsim.scene.ghost import CureGhost
from pathsim.scene.palette import ACCENT, INK, PAPER, Colour
from pathsim.scene.records import FindingMark, Scene
from pathsim.transforms import Array
from pathsim.view.drawable import (
    before_others,
    chain,
    dashed,
    is_drawn,
    polydata,
    rgb,
    sharp_edges,
)
from pathsim.view.plotter import Plotter

_FILL = 0.16
_LINKS = 2  # the last links, from the wrist on
#: A ghost so near its own moment would only blur the arm, s.
_NEAR = 0.15
#: Width of a proposal's path and of the paper round it, px, and its dashes, m.
_WIDTH, _CASING, _DASH = 4.0, 9.0, 0.02


class Ghosts:
    """Actors of ghosts in a plotter."""

    def __init__(self, plotter: Plotter, scene: Scene) -> None:
        self._plotter, self._scene = plotter, scene
        self._mark: FindingMark | None = None
        self._of_mark: list[Any] = []
        self._cure: CureGhost | None = None
        self._of_cure: list[Any] = []

    def show_finding(self, mark: FindingMark | None) -> None:
        """Show wrist and torch at a finding's moment."""
        if (mark and mark.number) == (self._mark and self._mark.number):
            return
        self._remove(self._of_mark)
        self._mark = mark
        if mark is not None and mark.time is not None:
            self._of_mark = self._posture(self._scene.poses_at(mark.time), ACCENT)

    def show_cure(self, cure: CureGhost | None) -> None:
        """Show the ways, points and postures of a proposal; None: nothing."""
        if cure is self._cure:
            return
        self._remove(self._of_cure)
        self._cure = cure
        if cure is None:
            return
        for way in cure.ways:
            lines = dashed(way, _DASH)
            if lines is not None:
                casing, line = (
                    self._line(chain(way), PAPER, _CASING),
                    self._line(lines, INK, _WIDTH),
                )
                for actor, order in ((casing, 1.0), (line, -4.0)):
                    before_others(actor, order)
                self._of_cure += [casing, line]
        for poses in cure.poses:
            self._of_cure += self._posture(poses, INK)
        for body in cure.bodies:
            self._of_cure += self._outline(polydata(body), INK)

    def at(self, time: float) -> None:
        """Hide a finding's ghost near its own moment."""
        mark = self._mark
        is_seen = mark is not None and mark.time is not None and abs(mark.time - time) > _NEAR
        for actor in self._of_mark:
            actor.SetVisibility(is_seen)

    def clear(self) -> None:
        """Remove all of them."""
        self._remove(self._of_mark)
        self._remove(self._of_cure)
        self._mark = self._cure = None

    def _remove(self, actors: list[Any]) -> None:
        for actor in actors:
            self._plotter.remove(actor)
        actors.clear()

    def _line(self, lines: Any, colour: Colour, width: float) -> Any:
        return self._plotter.add(lines, rgb(colour), width=width)

    def _posture(self, poses: Array, colour: Colour) -> list[Any]:
        """Sharp edges and a light fill of wrist and torch at ``poses (links, 4, 4)``."""
        found = []
        for mesh in self._scene.meshes:
            if mesh.link is None or mesh.link < len(poses) - _LINKS:
                continue
            found += self._outline(polydata(mesh, poses[mesh.link]), colour)
        return found

    def _outline(self, data: Any, colour: Colour) -> list[Any]:
        """Sharp edges and a light fill of a mesh."""
        found = [self._plotter.add(data, rgb(colour), opacity=_FILL)]
        edges = sharp_edges(data)
        if is_drawn(edges):  # made once: an outline would be searched for in each frame
            found.append(self._line(edges, colour, 1.5))
        return found
