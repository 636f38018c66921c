"""One picture: the stage with everything flat that is drawn over it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, cast

import numpy as np
import pyvista as pv
from vtkmodules.vtkRenderingCore import vtkRenderer

from pathsim.advice.explain import explain
from pathsim.scene.ghost import CureGhost
from pathsim.scene.message import Message, message_at
from pathsim.scene.palette import PAPER
from pathsim.scene.records import Camera, FindingMark, Scene, fitted
from pathsim.scene.seam_words import seam_lines_of, wanted_lines_of
from pathsim.view.buttons import BUTTONS, Button, draw_buttons
from pathsim.view.chart import chart_axis, draw_chart, draw_cursor
from pathsim.view.chart_marks import draw_marks
from pathsim.view.cure_words import question, said_of_ghost
from pathsim.view.drawable import rgb
from pathsim.view.explanation_box import draw_reasons
from pathsim.view.help_box import draw_help
from pathsim.view.layer import Layer
from pathsim.view.layout import Box, Layout, layout
from pathsim.view.legend import draw_legend
from pathsim.view.messages import Cure
from pathsim.view.overlays import (
    draw_checking,
    draw_labels,
    draw_note,
    draw_old,
    draw_pointed,
    draw_words,
)
from pathsim.view.panel import Panel, draw_panel
from pathsim.view.playback_state import Player
from pathsim.view.stage import Stage
from pathsim.view.time_axis import TimeAxis

#: The eye stays so far above the floor, m.
_EYE_ABOVE = 0.03


class Picture:
    """Draws a scene in a state; the same for window and stills."""

    def __init__(
        self, scene: Scene, size: tuple[int, int], *, off_screen: bool, title: str = "pathsim"
    ) -> None:
        self.plotter = cast(
            "Any",
            pv.Plotter(off_screen=off_screen, window_size=list(size), title=title, lighting="none"),
        )
        self.plotter.set_background(rgb(PAPER))
        # Few lamps: one at the eye, one high up so that table tops stay light.
        self.plotter.add_light(pv.Light(light_type="headlight", intensity=0.62))
        self.plotter.add_light(
            pv.Light(position=(0.4, -0.3, 6.0), focal_point=(0, 0, 0), intensity=0.5)
        )
        window = self.plotter.render_window
        window.SetMultiSamples(4 if off_screen else 0)
        # Marks on the stage lie under panel and strip, so that they end at the stage's edge.
        self._renderers = [vtkRenderer() for _ in range(3)]
        window.SetNumberOfLayers(4)
        for level, renderer in enumerate(self._renderers, start=1):
            renderer.SetLayer(level)
            renderer.InteractiveOff()
            window.AddRenderer(renderer)
        self._marks, self._fixed, self._moving = (Layer(each) for each in self._renderers)
        self.panel = Panel()
        self.buttons: tuple[Button, ...] = ()
        self.chart_hits: list[tuple[Box, int]] = []
        self.hints = not off_screen
        self.screen_scale = 1.0
        self.fault = ""
        self.news = ""
        self.is_checking = False
        self.checked_share = 0.0
        #: The chosen finding's cure as far as it is known, the folder it would be written to, and
        #: what came of writing it.
        self.cure: Cure | None = None
        self.new_folder = ""
        self.written = ""
        self.place: Layout = layout(*size)
        self._is_shown = False
        self._drawn: object = None
        self._camera: object = None
        self._is_near = True
        self._cut: object = None
        self._ghost: CureGhost | None = None
        self._pointed: tuple[tuple[float, float], tuple[str, ...]] | None = None
        self.measurement = ""
        self.floor = min(float(mesh.vertices[:, 2].min()) for mesh in scene.meshes
                         if mesh.link in (None, 0))  # fmt: skip
        self.scene = scene
        self.stage = Stage(self.plotter, scene)
        self._fit(size)

    def smooth(self, *, on: bool) -> None:
        """Smooth edges of a window while nothing moves; stills have many samples instead.

        It has to be quick: four samples a pixel, without a graphics card, would stand still for
        twice as long, and whoever presses a key just then would wait for it.
        """
        self.plotter.renderer.SetUseFXAA(on)

    def replace_scene(self, scene: Scene, *, keep_camera: bool) -> None:
        """Show another scene in the same window."""
        self.scene = scene
        self.stage = Stage(self.plotter, scene, self.stage)
        self.stage.weigh(self.place.scale)
        self.stage.thin_weaves(on=self._is_near)
        self._drawn = None
        if not keep_camera:
            self._camera = None

    def resize(self, size: tuple[int, int]) -> None:
        """Lay everything out again for a window of another size."""
        if size != (self.place.width, self.place.height):
            self._fit(size)

    def on_screen(self, scale: float) -> None:
        """Lay everything out for a screen with finer dots."""
        if scale != self.screen_scale:
            self.screen_scale = scale
            self._fit((self.place.width, self.place.height))

    def _fit(self, size: tuple[int, int]) -> None:
        self.place = layout(*size, self.screen_scale)
        self._fitted()

    def _fitted(self) -> None:
        """Take on the layout: viewport, weight of lines, and cameras that hold the whole."""
        self.plotter.renderer.SetViewport(*self.place.stage_viewport)
        for layer in (self._marks, self._fixed, self._moving):
            layer.scale = self.place.scale
        self.stage.weigh(self.place.scale)
        self._drawn = None
        if isinstance(self._camera, tuple) and self._camera[0] in {"2", "3"}:
            self._camera = None

    @property
    def rows(self) -> tuple[Any, ...]:
        """Rows of findings that are drawn in the list."""
        return self.panel.rows

    def axis(self, player: Player) -> TimeAxis:
        """Return the chart's axis as it is shown in a state."""
        return chart_axis(self.place, self.scene, player)

    def message(self, player: Player) -> Message:
        """Return what is said of the moment that is shown, everywhere in the picture."""
        return message_at(self.scene, player.time, self._chosen(player))

    def show(self, player: Player) -> bool:
        """Bring the picture to a state, without rendering it yet.

        Returns whether chart and lists had to be drawn anew, which takes as long as rendering.
        """
        mark, said = self._set_stage(player), self.message(player)
        axis = self.axis(player)
        still = (player.finding, self.fault, self.news, id(self.scene),
                 self.place, player.axis, player.zoom, player.list_from, player.moves_from,
                 said.band.number)  # fmt: skip
        is_new = still != self._drawn
        if is_new:
            self._draw_fixed(player, said, axis)
            self._drawn = still
        draw_words(self._moving, self.place, said, player, hints=self.hints)
        if player.help_shown:
            draw_help(self._moving, self.place)
        else:
            is_why = player.why_shown and player.finding is not None and mark is not None
            self._draw_marks(said, is_beside=is_why)
            if is_why and player.finding is not None:
                self._draw_why(player.finding)
        self._marks.show()
        draw_cursor(self._moving, self.place, axis, player.time)
        if self.is_checking:
            draw_checking(self._moving, self.place, self.checked_share)
        elif self.fault:
            draw_old(self._moving, self.place)
        notes = self._notes(player)
        if notes:
            draw_note(self._moving, self.place, notes)
        if self._pointed is not None:
            draw_pointed(self._moving, self.place, *self._pointed)
        self._moving.show()
        return is_new

    def _notes(self, player: Player) -> tuple[str, ...]:
        """Lines at the foot of the stage: a question, what was asked for, what is shown."""
        if player.asking:
            return question(self.cure, self.new_folder)
        if self.measurement:
            return (self.measurement,)
        if self.written:
            return (self.written,)
        return said_of_ghost(self.cure) if player.ghost_shown else ()

    def _draw_marks(self, said: Message, *, is_beside: bool) -> None:
        """Draw what stands on the stage; ``is_beside``: in the half that reasons leave free."""
        place = self.place
        if is_beside and said.mark is not None and said.mark.place is not None:
            stage = place.stage
            middle = (stage.left + stage.right) / 2
            is_right = self.to_pixels(said.mark.place)[0] > middle
            left, right = (middle, stage.right) if is_right else (stage.left, middle)
            place = replace(place, stage=Box(left, stage.bottom, right, stage.top))
        ghost = self._ghost
        new = () if ghost is None else ghost.points
        draw_labels(self._marks, place, self.scene, said, self.to_pixels, new)

    def _draw_why(self, index: int) -> None:
        finding = self.scene.result.findings[index]
        reasons = explain(self.scene.result, finding)
        reasons += seam_lines_of(self.scene.result, finding.move)
        reasons += wanted_lines_of(self.scene.result, finding.move)
        mark = self.scene.marks[index]
        near = None if mark.place is None else self.to_pixels(mark.place)[:2]
        cure = () if self.cure is None else self.cure.words
        draw_reasons(self._moving, self.place, reasons, cure, near=near)

    def _draw_fixed(self, player: Player, said: Message, axis: TimeAxis) -> None:
        strip = self.place.strip
        self._fixed.box(strip.left, strip.bottom, strip.right, strip.top, PAPER)
        buttons = BUTTONS * self.place.font if self.hints else 0.0
        draw_chart(self._fixed, self.place, self.scene, axis, buttons)
        self.chart_hits = draw_marks(self._fixed, self.place, self.scene, axis, player.finding)
        draw_legend(self._fixed, self.place)
        self.panel = draw_panel(
            self._fixed, self.place, self.scene, player, said.band.number, fault=self.fault,
            news=self.news, hints=self.hints,
        )  # fmt: skip
        self.buttons = draw_buttons(self._fixed, self.place, player) if self.hints else ()
        self._fixed.show()

    def _set_stage(self, player: Player) -> FindingMark | None:
        """Bring the arm, the camera and what is see-through to a state; return its mark."""
        mark = self._chosen(player)
        self.stage.tint(message_at(self.scene, player.time, mark).gap)
        self._ghost = self.cure.ghost if self.cure is not None and player.ghost_shown else None
        self.stage.show_finding(mark, dict(player.bodies), self._ghost)
        self.stage.pose(player.time)
        wanted: tuple[object, ...] = (player.camera,)
        if player.camera == "finding":
            wanted = (player.camera, player.finding, id(self._ghost))
        if wanted != self._camera:
            camera = self._wanted_camera(player, mark)
            if camera is not None:
                self._is_near = player.camera not in {"2", "3"}
                stage = self.place.stage
                self.stage.look(camera.fitted_to(stage.width / max(stage.height, 1.0)))
                self.stage.thin_weaves(on=self._is_near)
            self._camera = wanted
        self._section(player)
        return mark

    def _section(self, player: Player) -> None:
        """Cut through what is looked at, along an axis of the world; the far side stays."""
        wanted = (player.section, self._camera if player.section else None, id(self.stage))
        if wanted == self._cut:
            return
        self._cut = wanted
        if not player.section:
            self.stage.cut(None, None)
            return
        camera = self.plotter.camera
        focus = np.array(camera.GetFocalPoint())
        normal = np.eye(3)[player.section - 1]
        side = 1.0 if normal @ (focus - np.array(camera.GetPosition())) >= 0 else -1.0
        self.stage.cut(side * normal, focus)

    def hover(self, at: tuple[float, float], lines: tuple[str, ...]) -> None:
        """Write what the mouse points at when the picture is shown next; no lines: nothing."""
        self._pointed = (at, lines) if lines else None

    def projection(self) -> Callable[[np.ndarray], np.ndarray]:
        """Return what takes places ``(n, 3)`` to pixels ``(n, 2)`` of the window."""
        renderer, place = self.plotter.renderer, self.place
        box = place.stage
        matrix = renderer.GetActiveCamera().GetCompositeProjectionTransformMatrix(
            box.width / max(box.height, 1.0), -1, 1
        )
        M = np.array([[matrix.GetElement(i, j) for j in range(4)] for i in range(4)])

        def to_pixels(points: np.ndarray) -> np.ndarray:
            seen = np.column_stack([points, np.ones(len(points))]) @ M.T
            flat = seen[:, :2] / np.where(seen[:, 3:] > 1e-9, seen[:, 3:], np.nan)
            shares = np.nan_to_num((flat + 1) / 2, nan=1e6)
            return np.asarray(shares * (box.width, box.height) + (box.left, box.bottom))

        return to_pixels

    def keep_above_floor(self) -> None:
        """Lift the eye where it went below the floor: nobody looks up through it."""
        camera = self.plotter.camera
        x, y, z = camera.GetPosition()
        if z < self.floor + _EYE_ABOVE:
            camera.SetPosition(x, y, self.floor + _EYE_ABOVE)
            self.plotter.renderer.ResetCameraClippingRange()

    def view(self) -> tuple[object, ...]:
        """Where the eye is now, to tell whether the mouse moved it."""
        camera = self.plotter.camera
        return (camera.GetPosition(), camera.GetFocalPoint(), camera.GetViewUp())

    def render(self) -> None:
        """Draw it."""
        self.plotter.render()

    def image(self) -> np.ndarray:
        """Return the picture as ``(height, width, 3)`` bytes."""
        if self._is_shown:
            self.plotter.render()
        self._is_shown = True
        return np.asarray(self.plotter.screenshot(return_img=True))

    def close(self) -> None:
        """Give everything back."""
        self.plotter.close()

    def to_pixels(self, place: np.ndarray) -> tuple[float, float, float]:
        """Return a place in the world as pixels of the window, and its depth 0..1."""
        renderer = self.plotter.renderer
        renderer.SetWorldPoint(*(float(v) for v in place), 1.0)
        renderer.WorldToDisplay()
        x, y, depth = renderer.GetDisplayPoint()
        return float(x), float(y), float(depth)

    def _chosen(self, player: Player) -> FindingMark | None:
        if player.finding is None or player.finding >= len(self.scene.marks):
            return None
        return self.scene.marks[player.finding]

    def _wanted_camera(self, player: Player, mark: FindingMark | None) -> Camera | None:
        if player.camera == "finding":
            if mark is not None and mark.camera is not None:
                return mark.camera if self._ghost is None else _holding(mark, self._ghost)
            # Nothing to look at: the picture stays as it is, and at the seam if it is the first.
            return self.scene.cameras[0] if self._camera is None else None
        if player.camera == "free":
            return None
        return self.scene.cameras[int(player.camera) - 1]


def _holding(mark: FindingMark, ghost: CureGhost) -> Camera:
    """Return the finding's camera, drawn back where it does not hold what a proposal changes."""
    camera = mark.camera
    assert camera is not None  # noqa: S101 - asked before
    back = camera.eye - camera.focus
    found = fitted("finding", ghost.held(mark.place), back, camera.up, 1.0, camera.angle)
    least = float(np.linalg.norm(back))
    far = found.eye - found.focus
    share = max(least / max(float(np.linalg.norm(far)), 1e-9), 1.0)
    return replace(found, eye=found.focus + share * far, held=None)


def window_size(plotter: Any) -> tuple[int, int]:
    """Return the size of a plotter's window now."""
    width, height = plotter.render_window.GetSize()
    return int(width), int(height)
