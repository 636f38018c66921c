"""One picture: the stage with everything flat that is drawn over it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from pathsim.scene.camera_fit import Camera
from pathsim.scene.ghost import CureGhost
from pathsim.scene.message import Message, message_at
from pathsim.scene.not_checked import not_checked_line
from pathsim.scene.palette import PAPER
from pathsim.scene.records import FindingMark, Scene
from pathsim.scene.seam_words import seam_lines_of, wanted_lines_of
from pathsim.view.banners import draw_checking, draw_note, draw_old, draw_pointed
from pathsim.view.buttons import BUTTONS, Button, draw_buttons
from pathsim.view.canvas import canvas
from pathsim.view.chart import chart_axis, draw_chart, draw_cursor
from pathsim.view.chart_marks import draw_marks
from pathsim.view.cure_words import question, said_of_ghost
from pathsim.view.explanation_box import draw_reasons
from pathsim.view.eye import Eye, holding
from pathsim.view.help_box import draw_help
from pathsim.view.layout import Box, Layout, layout
from pathsim.view.legend import draw_legend
from pathsim.view.messages import Cure
from pathsim.view.overlays import draw_labels, draw_words
from pathsim.view.panel import Panel, draw_panel
from pathsim.view.playback_state import Player
from pathsim.view.stage import Stage
from pathsim.view.time_axis import TimeAxis


class Picture:
    """Draws a scene in a state; the same for window and stills."""

    def __init__(
        self, scene: Scene, size: tuple[int, int], *, off_screen: bool, title: str = "pathsim"
    ) -> None:
        self.plotter, layers = canvas(size, off_screen=off_screen, title=title)
        self._marks, self._fixed, self._moving = layers
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
        self._drawn: object = None
        self._camera: object = None
        self._is_near = True
        self._cut: object = None
        self.eye = Eye(self.plotter)
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
        self.stage.lines.weigh(self.place.scale)
        self.stage.lines.thin_weaves(on=self._is_near)
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
        self.stage.lines.weigh(self.place.scale)
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
        from pathsim.advice.explain import explain  # long to load, and most pictures ask no reasons

        finding = self.scene.result.findings[index]
        reasons = explain(self.scene.result, finding)
        reasons += seam_lines_of(self.scene.result, finding.move)
        reasons += wanted_lines_of(self.scene.result, finding.move)
        reasons += tuple(filter(None, (not_checked_line(self.scene.result),)))
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
                self.stage.lines.thin_weaves(on=self._is_near)
            self._camera = wanted
        self._section(player)
        return mark

    def _section(self, player: Player) -> None:
        """Cut through what is looked at, along an axis of the world; the far side stays."""
        wanted = (player.section, self._camera if player.section else None, id(self.stage))
        if wanted == self._cut:
            return
        self._cut = wanted
        self.stage.cut(*self.eye.section(player.section))

    def hover(self, at: tuple[float, float], lines: tuple[str, ...]) -> None:
        """Write what the mouse points at when the picture is shown next; no lines: nothing."""
        self._pointed = (at, lines) if lines else None

    def projection(self) -> Callable[[np.ndarray], np.ndarray]:
        """Return what takes places ``(n, 3)`` to pixels ``(n, 2)`` of the window."""
        return self.eye.projection(self.place.stage)

    def keep_above_floor(self) -> None:
        """Lift the eye where it went below the floor: nobody looks up through it."""
        self.eye.keep_above(self.floor)

    def view(self) -> tuple[object, ...]:
        """Where the eye is now, to tell whether the mouse moved it."""
        return self.eye.place()

    def render(self) -> None:
        """Draw it."""
        self.plotter.render()

    def image(self) -> np.ndarray:
        """Return the picture as ``(height, width, 3)`` bytes."""
        return self.plotter.image()

    def close(self) -> None:
        """Give everything back."""
        self.plotter.close()

    def to_pixels(self, place: np.ndarray) -> tuple[float, float, float]:
        """Return a place in the world as pixels of the window, and its depth 0..1."""
        return self.eye.to_pixels(place)

    def _chosen(self, player: Player) -> FindingMark | None:
        if player.finding is None or player.finding >= len(self.scene.marks):
            return None
        return self.scene.marks[player.finding]

    def _wanted_camera(self, player: Player, mark: FindingMark | None) -> Camera | None:
        if player.camera == "finding":
            if mark is not None and mark.camera is not None:
                return mark.camera if self._ghost is None else holding(mark, self._ghost)
            # Nothing to look at: the picture stays as it is, and at the seam if it is the first.
            return self.scene.cameras[0] if self._camera is None else None
        if player.camera == "free":
            return None
        return self.scene.cameras[int(player.camera) - 1]
