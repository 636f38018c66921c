"""The 3D stage: meshes, path, ghost; made once, moved by reused matrices."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvista as pv
from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkCommonMath import vtkMatrix4x4

from pathsim.scene.camera_fit import Camera
from pathsim.scene.gap import Gap
from pathsim.scene.ghost import CureGhost
from pathsim.scene.palette import ACCENT, BANDS, GREYS, INK, QUIET, Colour
from pathsim.scene.records import FindingMark, PathLine, Scene, SceneMesh
from pathsim.transforms import Array
from pathsim.view.drawable import (
    CREASE,
    before_others,
    chain,
    dashes,
    is_solid,
    pairs,
    polydata,
    rgb,
    segments,
    sharp_edges,
)
from pathsim.view.ghosts import Ghosts

#: The outline of the arm: its mesh grown by so much, seen from inside, m.
_OUTLINE = {"arm": 0.0022, "torch": 0.0009, "cable": 0.0009}
_TRANSLUCENT = 0.22
#: Room that a cable's slack gives it.
_GLASS = 0.26
_CASING = 2.0  # px of ink round the path
_STROKE = 2.0  # px of a weave's stroke seen from near by
#: How much of the accent is in the colour of two things that touch, or are too near.
_TOUCHING, _TOO_NEAR = 0.5, 0.22
_UNCHECKED = (120, 120, 120)


_Key = tuple[object, ...]


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Actors of a mesh with how opaque they are as a rule, and those that have its own colour."""

    actors: list[tuple[Any, float]]
    coloured: list[Any]


def _key(mesh: SceneMesh) -> _Key:
    core = None if mesh.core is None else _key(mesh.core)
    shape = hashlib.blake2b(np.ascontiguousarray(mesh.vertices).tobytes(), digest_size=16)
    shape.update(np.ascontiguousarray(mesh.faces).tobytes())
    return (mesh.name, mesh.grey, mesh.link, shape.digest(), core)


class Stage:
    """Actors of one scene in one plotter."""

    def __init__(self, plotter: Any, scene: Scene, old: Stage | None = None) -> None:
        """Add actors to a plotter; meshes that ``old`` has too are taken over, its rest removed."""
        self._plotter = plotter
        self.scene = scene
        #: Meshes by all that decides how they are drawn.
        self._meshes: dict[_Key, _Drawn] = {}
        self.ghosts = Ghosts(plotter, scene)
        self._matrices = [vtkMatrix4x4() for _ in range(len(scene.poses_at(0.0)))]
        #: Actors of each thing, with how opaque they are as a rule.
        self._bodies: dict[str, list[tuple[Any, float]]] = {}
        #: Actors of which only the outside is drawn, where nothing is cut.
        self._solid: list[Any] = []
        #: Lines of woven seams with their width from afar: near by they are drawn thin, so that
        #: the strokes show at their true width.
        self._woven: list[tuple[Any, float]] = []
        #: All lines with their usual width, and how much heavier they are drawn.
        self._lines: list[tuple[Any, float]] = []
        #: Things that come to stand later, s, and whether a finding or a person lets them be seen.
        self._later = {mesh.name: mesh.since for mesh in scene.meshes if mesh.since > 0}
        self._is_seen: dict[str, bool] = {}
        self._time = 0.0
        self._scale = 1.0
        self._is_thin = False
        self._tinted: tuple[str, str, float] | None = None
        self._colours: dict[str, list[tuple[Any, Colour]]] = {}
        known = {} if old is None else old._meshes
        for mesh in scene.meshes:
            self._take_over(mesh, known)
        if old is not None:
            old._remove_rest()
        for path in scene.paths:
            self._add_path(path)
        self._add_straight_lines()
        self._add_rings()

    def pose(self, time: float) -> None:
        """Put the arm where it is at ``time``."""
        for matrix, T in zip(self._matrices, self.scene.poses_at(time), strict=True):
            matrix.DeepCopy(T.ravel())
        self._time = time
        for name in self._later:
            for actor, _ in self._bodies.get(name, ()):
                actor.SetVisibility(self._is_seen.get(name, True) and self._stands(name))
        self.ghosts.at(time)

    def _stands(self, name: str) -> bool:
        return self._time >= self._later.get(name, 0.0)

    def thin_weaves(self, *, on: bool) -> None:
        """Draw woven seams thin, so that the strokes show, or as wide as the others."""
        self._is_thin = on
        for actor, width in self._woven:
            shown = min(width, _STROKE) if on else width
            actor.GetProperty().SetLineWidth(shown * self._scale)

    def weigh(self, scale: float) -> None:
        """Draw lines ``scale`` times as wide as usual: as large as the type beside them."""
        self._scale = scale
        for actor, width in self._lines:
            actor.GetProperty().SetLineWidth(width * scale)
        self.thin_weaves(on=self._is_thin)

    def tint(self, gap: Gap | None) -> None:
        """Colour both things of a gap that touches, or that is below its margin, lighter."""
        wanted = None
        if gap is not None and (gap.touches or gap.is_below_margin):
            wanted = (gap.piece, gap.body, _TOUCHING if gap.touches else _TOO_NEAR)
        if wanted == self._tinted:
            return
        self._tinted = wanted
        for name, parts in self._colours.items():
            share = wanted[2] if wanted is not None and name in wanted[:2] else 0.0
            for actor, colour in parts:
                mixed = [(1 - share) * c + share * a for c, a in zip(colour, ACCENT, strict=True)]
                actor.GetProperty().SetColor(*(c / 255 for c in mixed))

    def look(self, camera: Camera) -> None:
        """Look through a camera of the scene."""
        view = self._plotter.camera
        view.position, view.focal_point, view.up = camera.eye, camera.focus, camera.up
        view.view_angle = float(np.degrees(camera.angle))
        self._plotter.renderer.ResetCameraClippingRange()

    def name_of(self, actor: Any) -> str | None:
        """Return the name of the thing that an actor belongs to."""
        return next(
            (name for name, parts in self._bodies.items() if any(a is actor for a, _ in parts)),
            None,
        )

    def cut(self, normal: Array | None, through: Array | None) -> None:
        """Cut everything in front of a plane away, in the world; None: nothing."""
        plane = None
        if normal is not None and through is not None:
            plane = vtkPlane()
            plane.SetNormal(*(float(v) for v in normal))
            plane.SetOrigin(*(float(v) for v in through))
        for actor in self._solid:  # cut open, its inside is seen
            actor.GetProperty().SetBackfaceCulling(plane is None)
        for parts in self._bodies.values():
            for actor, _ in parts:
                mapper = actor.GetMapper()
                mapper.RemoveAllClippingPlanes()
                if plane is not None:
                    mapper.AddClippingPlane(plane)

    def show_finding(
        self,
        mark: FindingMark | None,
        bodies: Mapping[str, str] | None = None,
        cure: CureGhost | None = None,
    ) -> None:
        """Make what hides a finding's gap translucent, and show its ghost.

        ``cure``: a proposal to show; then the arm as it is now is translucent too.
        ``bodies``: names that a person "faded", "hidden", or wants to see "alone".
        """
        hidden = set(() if mark is None else mark.hides)
        if cure is not None:
            hidden |= {mesh.name for mesh in self.scene.meshes if mesh.link}
        states = bodies or {}
        is_alone = "alone" in states.values()
        for name, actors in self._bodies.items():
            state = states.get(name, "")
            is_seen = state == "alone" if is_alone else state != "hidden"
            self._is_seen[name] = is_seen
            is_faint = name in hidden or state == "faded"
            for actor, opacity in actors:
                actor.SetVisibility(is_seen and self._stands(name))
                actor.GetProperty().SetOpacity(_TRANSLUCENT * opacity if is_faint else opacity)
        self.ghosts.show_finding(mark)
        self.ghosts.show_cure(cure)

    def _take_over(self, mesh: SceneMesh, known: dict[_Key, _Drawn]) -> None:
        """Draw a mesh, with the actors that were made for the same one before if there are any."""
        key = _key(mesh)
        drawn = known.pop(key, None)
        if drawn is None:
            drawn = self._drawn(mesh)
        self._meshes[key] = drawn
        for actor, opacity in drawn.actors:
            if mesh.link is not None:
                actor.SetUserMatrix(self._matrices[mesh.link])
            actor.GetProperty().SetOpacity(opacity)
        self._bodies.setdefault(mesh.name, []).extend(drawn.actors)
        for actor in drawn.coloured:
            if actor.GetProperty().GetBackfaceCulling():
                self._solid.append(actor)
            actor.GetProperty().SetColor(*rgb(GREYS[mesh.grey]))
        named = self._colours.setdefault(mesh.name, [])
        named += [(actor, GREYS[mesh.grey]) for actor in drawn.coloured]

    def _remove_rest(self) -> None:
        """Remove what no other stage took over."""
        rest = [actor for drawn in self._meshes.values() for actor, _ in drawn.actors]
        rest += [actor for actor, _ in self._lines]
        for actor in rest:
            self._plotter.remove_actor(actor, render=False)
        self.ghosts.clear()

    def _drawn(self, mesh: SceneMesh) -> _Drawn:
        """Make the actors of a mesh."""
        if mesh.core is not None:
            core = self._drawn(mesh.core)
            return _Drawn([(self._glass(mesh), _GLASS), *core.actors], core.coloured)
        data = polydata(mesh)
        smooth = data.compute_normals(
            feature_angle=CREASE, split_vertices=True, auto_orient_normals=False
        )
        actor = self._plotter.add_mesh(
            smooth, color=rgb(GREYS[mesh.grey]), smooth_shading=True, ambient=0.38, diffuse=0.62,
            specular=0.0, render=False,
        )  # fmt: skip
        # Most of a picture's time without a graphics card goes into walls that nobody sees.
        actor.GetProperty().SetBackfaceCulling(is_solid(mesh, data))
        actors = [actor]
        if mesh.link is None:
            edges = sharp_edges(data)
            if edges.n_cells:
                actors.append(
                    self._plotter.add_mesh(
                        edges, color=rgb(QUIET), line_width=1.0, lighting=False, render=False
                    )
                )
        else:
            actors.append(self._outline(data, _OUTLINE.get(mesh.grey, _OUTLINE["torch"])))
        return _Drawn([(each, 1.0) for each in actors], [actor])

    def _glass(self, mesh: SceneMesh) -> Any:
        """Room that a cable may take: seen through, without an outline."""
        return self._plotter.add_mesh(
            polydata(mesh), color=rgb(GREYS[mesh.grey]), opacity=_GLASS, smooth_shading=True,
            ambient=0.6, diffuse=0.4, specular=0.0, culling="back", render=False,
        )  # fmt: skip

    def _outline(self, data: Any, grow: float) -> Any:
        """Ink silhouette: the mesh grown along its normals, of which only the inside is drawn."""
        shell = data.compute_normals(split_vertices=False, auto_orient_normals=False)
        points = np.asarray(shell.points) + grow * np.asarray(shell.point_data["Normals"])
        grown = pv.PolyData(points, shell.faces)
        return self._plotter.add_mesh(
            grown, color=rgb(INK), lighting=False, culling="front", render=False
        )

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
        return self.scene.result.trajectory.tracks[path.move - 1].move.weave is not None

    def _line(self, lines: Any, colour: Colour, width: float, order: float) -> Any:
        actor = self._plotter.add_mesh(
            lines, color=rgb(colour), line_width=width, lighting=False, render=False
        )
        self._lines.append((actor, width))
        before_others(actor, order)
        return actor

    def _add_straight_lines(self) -> None:
        """Draw the line that people expect of a joint move, dashed."""
        for detour in self.scene.detours:
            way = detour.end - detour.start
            count = max(int(np.linalg.norm(way) / 0.012), 2)
            s = np.arange(count)[:, None] / count
            a, b = detour.start + s * way, detour.start + (s + 0.55 / count) * way
            points = np.stack([a, b], axis=1).reshape(-1, 3)
            self._line(pairs(points), QUIET, 1.5, 0.0)

    def _add_rings(self) -> None:
        for ring in self.scene.rings:
            self._line(chain(ring.points), INK, 1.5, 0.0)
