"""Flat marks over the stage: names, marks of findings, the words above the chart."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.scene.gap import Gap
from pathsim.scene.message import Message
from pathsim.scene.palette import ACCENT, INK, PAPER, QUIET
from pathsim.scene.records import Detour, PointName, Scene
from pathsim.units import millimetres
from pathsim.view.chart_marks import colour_of
from pathsim.view.gap_label import ToPixels, draw_gap, gap_box, label_box
from pathsim.view.layer import Layer, cut, width_of
from pathsim.view.layout import Box, Layout
from pathsim.view.playback_state import Player
from pathsim.view.symbols import draw_symbol

#: Names are cut to so many times the size of type.
_LONGEST_NAME = 13.0


def draw_words(layer: Layer, place: Layout, said: Message, player: Player, *, hints: bool) -> None:
    """Say the current move and clearance above the chart."""
    font = place.font
    y = place.lane.top + 0.5 * font
    # The clearance comes first; the move's words take the room that is left.
    how = cut(said.how[:1].upper() + said.how[1:], font, place.chart.width, bold=True)
    room = place.chart.width - width_of(how, font, bold=True) - 1.5 * font
    where = cut(said.where, font, room, bold=True)
    left = place.chart.left
    layer.text(left, y, where, font, INK, bold=True)
    colour = ACCENT if said.is_alarm else INK
    layer.text(place.chart.right, y, how, font, colour, bold=True, anchor="right")
    x = left + width_of(where, font, bold=True) + 1.2 * font
    state = state_words(player)
    if hints and x + width_of(state, font - 1) + font < place.chart.right - width_of(
        how, font, bold=True
    ):
        layer.text(x, y, state, font - 1, QUIET)


def state_words(player: Player) -> str:
    """Say whether and how it plays."""
    state = "playing" if player.playing else "paused"
    speed = {0.25: ", quarter speed", 1.0: ""}.get(player.speed, f", {player.speed:g} times")
    return state + speed + (", loop" if player.looped else "")


def draw_labels(
    layer: Layer, place: Layout, scene: Scene, said: Message, to_pixels: ToPixels,
    new: Sequence[PointName] = (),
) -> None:  # fmt: skip
    """Draw the gap's dimension, marks of findings, and the names at the ends of the move.

    ``new``: points of a proposal, named too.
    """
    taken: list[Box] = []
    if said.gap is not None and _is_in_view(place, said.gap, to_pixels):
        taken.append(gap_box(place, said.gap, to_pixels))
        ends = {said.band.start_name, said.band.end_name}
        others = [to_pixels(m.place) for m in scene.marks if m.place is not None]
        others += [to_pixels(name.place) for name in scene.names if name.name in ends]
        label = label_box(place, said.gap, to_pixels, [(x, y) for x, y, _ in others])
        draw_gap(layer, place, said.gap, to_pixels, box=label, is_named=True)
        taken.append(label)
    for other in scene.marks:
        if other.place is None or other is said.mark:
            continue
        x, y, depth = to_pixels(other.place)
        if 0 < depth < 1 and place.stage.holds(x, y):
            draw_symbol(layer, other.symbol, (x, y), 0.42 * place.font, colour_of(other))
    for detour in scene.detours:
        if detour.move == said.band.number:
            _detour(layer, place, detour, to_pixels, taken)
    for point in new:
        x, y, depth = to_pixels(point.place)
        if 0 < depth < 1 and place.stage.holds(x, y):
            layer.box(x - 5, y - 5, x + 5, y + 5, INK)
            _tag(layer, place, (x, y), f"new: {point.name}", taken)
    for name in scene.names:
        if name.name not in {said.band.start_name, said.band.end_name}:
            continue
        x, y, depth = to_pixels(name.place)
        is_covered = any(box.holds(x, y) for box in taken[1:2])  # by the gap's own words
        if 0 < depth < 1 and place.stage.holds(x, y) and not is_covered:
            _tag(layer, place, (x, y), name.name, taken)


def _is_in_view(place: Layout, gap: Gap, to_pixels: ToPixels) -> bool:
    x, y, depth = to_pixels((gap.on_moving + gap.on_standing) / 2)
    return 0 < depth < 1 and place.stage.holds(x, y)


def _detour(
    layer: Layer, place: Layout, detour: Detour, to_pixels: ToPixels, taken: list[Box]
) -> None:
    """Say how far the tip leaves the straight line, where it is farthest."""
    on_line, on_path = to_pixels(detour.on_line), to_pixels(detour.on_path)
    if not (0 < on_path[2] < 1 and place.stage.holds(on_path[0], on_path[1])):
        return
    layer.dashed(on_line[:2], on_path[:2], INK, 4.0)
    middle = ((on_line[0] + on_path[0]) / 2, (on_line[1] + on_path[1]) / 2)
    words = f"{millimetres(detour.distance, 0)} off the straight line"
    _tag(layer, place, middle, words, taken, longest=30.0)


def _tag(
    layer: Layer,
    place: Layout,
    at: tuple[float, float],
    whole: str,
    taken: list[Box],
    longest: float = _LONGEST_NAME,
) -> None:
    """Write words beside a place with a leader, where nothing else stands."""
    size = place.font - 1
    words = cut(whole, size, longest * size)
    width = width_of(words, size) + 0.7 * size
    x, y = at
    for far in (1.0, 2.2, 3.6):
        for dx, dy in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            left = x + dx * far * size if dx > 0 else x - far * size - width
            bottom = y + far * size * 0.7 if dy > 0 else y - far * size * 0.7 - 1.5 * size
            box = Box(left, bottom, left + width, bottom + 1.5 * size)
            if place.stage.covers(box) and not any(box.meets(other) for other in taken):
                near = (box.left if dx > 0 else box.right, box.bottom if dy > 0 else box.top)
                layer.line([at, near], PAPER, 3.0)
                layer.line([at, near], INK)
                layer.box(*_grown(box, 1), QUIET)
                layer.box(box.left, box.bottom, box.right, box.top, PAPER)
                layer.text(box.left + 0.35 * size, box.bottom + 0.42 * size, words, size, INK)
                layer.box(x - 2, y - 2, x + 2, y + 2, INK)
                taken.append(box)
                return


def _grown(box: Box, by: float) -> tuple[float, float, float, float]:
    return box.left - by, box.bottom - by, box.right + by, box.top + by
