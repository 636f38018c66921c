"""The 3D stage: meshes, path, ghost; made once, moved by reused matrices."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkCommonMath import vtkMatrix4x4

from pathsim.scene.camera_fit import Camera
from pathsim.scene.gap import Gap
from pathsim.scene.ghost import CureGhost
from pathsim.scene.palette import ACCENT, GREYS, Colour
from pathsim.scene.records import FindingMark, Scene, SceneMesh
from pathsim.transforms import Array
from pathsim.view.drawable import rgb
from pathsim.view.ghosts import Ghosts
from pathsim.view.mesh_actors import MeshActors, MeshKey, mesh_actors, mesh_key
from pathsim.view.plotter import Plotter
from pathsim.view.stage_lines import StageLines

_TRANSLUCENT = 0.22
#: How much of the accent is in the colour of two things that touch, or are too near.
_TOUCHING, _TOO_NEAR = 0.5, 0.22


class Stage:
    """Actors of one scene in one plotter."""

    def __init__(self, plotter: Plotter, scene: Scene, old: Stage | None = None) -> None:
        """Add actors to a plotter; meshes that ``old`` has too are taken over, its rest removed."""
        self._plotter = plotter
        self.scene = scene
        #: Meshes by all that decides how they are drawn.
        self._meshes: dict[MeshKey, MeshActors] = {}
        self.ghosts = Ghosts(plotter, scene)
        self._matrices = [vtkMatrix4x4() for _ in range(len(scene.poses_at(0.0)))]
        #: Actors of each thing, with how opaque they are as a rule.
        self._bodies: dict[str, list[tuple[Any, float]]] = {}
        #: Actors of which only the outside is drawn, where nothing is cut.
        self._solid: list[Any] = []
        #: Things that come to stand later, s, and whether a finding or a person lets them be seen.
        self._later = {mesh.name: mesh.since for mesh in scene.meshes if mesh.since > 0}
        self._is_seen: dict[str, bool] = {}
        self._time = 0.0
        self._tinted: tuple[str, str, float] | None = None
        self._colours: dict[str, list[tuple[Any, Colour]]] = {}
        known = {} if old is None else old._meshes
        for mesh in scene.meshes:
            self._take_over(mesh, known)
        if old is not None:
            old._remove_rest()
        self.lines = StageLines(plotter, scene)

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
        view.SetPosition(*(float(v) for v in camera.eye))
        view.SetFocalPoint(*(float(v) for v in camera.focus))
        view.SetViewUp(*(float(v) for v in camera.up))
        view.SetViewAngle(float(np.degrees(camera.angle)))
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

    def _take_over(self, mesh: SceneMesh, known: dict[MeshKey, MeshActors]) -> None:
        """Draw a mesh, with the actors that were made for the same one before if there are any."""
        key = mesh_key(mesh)
        drawn = known.pop(key, None)
        if drawn is None:
            drawn = mesh_actors(self._plotter, mesh)
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
        for drawn in self._meshes.values():
            for actor, _ in drawn.actors:
                self._plotter.remove(actor)
        self.lines.remove()
        self.ghosts.clear()
