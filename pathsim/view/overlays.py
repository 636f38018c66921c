"""Flat marks over the stage: the gap's dimension, names, the legend, words, help."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pathsim.scene.palette import ACCENT, BANDS, HAIRLINE, INK, PANEL, PAPER, QUIET, Colour
from pathsim.scene.records import Detour, FindingMark, Gap, Scene, Symbol
from pathsim.units import millimetres
from pathsim.view.layer import Layer, cut, width_of, wrapped
from pathsim.view.layout import Box, Layout
from pathsim.view.playback_state import HELP, Player
from pathsim.view.symbols import draw_symbol

ToPixels = Callable[[np.ndarray], tuple[float, float, float]]
_TICK = 7.0
_NOT_CHECKED = "not (all) checked"
_STROKES = ("margin asked for", _NOT_CHECKED)
#: A mark of a finding is drawn at its place unless its gap is drawn there just now, s.
_SAME_MOMENT = 0.02


def draw_words(layer: Layer, place: Layout, scene: Scene, player: Player) -> None:
    """Say the current move and clearance above the chart."""
    font = place.font
    where, how = scene.words_at(player.time)
    y = place.chart.top + 1.35 * font
    # The clearance comes first; the move's words take the room that is left.
    how = cut(how, font, place.chart.width, bold=True)
    room = place.chart.width - width_of(how, font, bold=True) - 1.5 * font
    where = cut(where, font, room, bold=True)
    state = "playing" if player.playing else "paused"
    speed = ", quarter speed" if player.slow else ""
    layer.text(place.chart.left, y, where, font, INK, bold=True)
    colour = ACCENT if scene.gap_at(player.time) is not None else QUIET
    layer.text(place.chart.right, y, how, font, colour, bold=True, anchor="right")
    x = place.chart.left + width_of(where, font, bold=True) + 1.5 * font
    if x + 12 * font < place.chart.right - width_of(how, font, bold=True):
        layer.text(x, y, state + speed, font - 1, QUIET)


def draw_labels(
    layer: Layer,
    place: Layout,
    scene: Scene,
    player: Player,
    mark: FindingMark | None,
    to_pixels: ToPixels,
) -> None:
    """Draw names, marks of findings, the detour's number and the gap's dimension."""
    taken: list[Box] = []
    at_finding = (
        mark is not None and mark.time is not None and abs(mark.time - player.time) < _SAME_MOMENT
    )
    gap = mark.gap if at_finding and mark is not None and mark.gap else scene.gap_at(player.time)
    if gap is not None and _is_in_view(place, (gap.on_moving + gap.on_standing) / 2, to_pixels):
        taken.append(draw_gap(layer, place, gap, to_pixels))
    for other in scene.marks:
        if other.place is not None and not (at_finding and other is mark):
            x, y, depth = to_pixels(other.place)
            if 0 < depth < 1 and place.stage.holds(x, y):
                draw_symbol(layer, other.symbol, (x, y), 6.0, ACCENT)
    band = scene.band_at(player.time)
    for detour in scene.detours:
        if detour.move == band.number:
            _detour(layer, place, detour, to_pixels, taken)
    for name in scene.names:
        x, y, depth = to_pixels(name.place)
        if 0 < depth < 1 and place.stage.holds(x, y):
            _tag(layer, place, (x, y), name.name, taken)


def _is_in_view(place: Layout, at: np.ndarray, to_pixels: ToPixels) -> bool:
    x, y, depth = to_pixels(at)
    return 0 < depth < 1 and place.stage.holds(x, y)


def draw_old(layer: Layer, place: Layout) -> None:
    """Mark the stage as a picture of files that are no longer so."""
    size, stage = place.font, place.stage
    words = "Old picture: the files were changed and could not be checked."
    lines = wrapped(words, size, stage.width - 4 * size, bold=True)
    low = stage.top - (1.4 * len(lines) + 1.4) * size
    right = stage.left + size + max(width_of(line, size, bold=True) for line in lines) + 1.6 * size
    layer.box(stage.left + size - 2, low - 2, right + 2, stage.top - 0.6 * size + 2, ACCENT)
    layer.box(stage.left + size, low, right, stage.top - 0.6 * size, PAPER)
    for row, line in enumerate(lines):
        y = stage.top - (1.9 + 1.4 * row) * size
        layer.text(stage.left + 1.8 * size, y, line, size, ACCENT, bold=True)


def draw_legend(layer: Layer, place: Layout) -> None:
    """Draw the scale of clearance, colour and width together, and what the strokes mean."""
    font = place.font - 2
    left, bottom = place.stage.left + font, place.stage.bottom + 0.9 * font
    height = 1.5 * font
    words = [*(band.label for band in BANDS), *_STROKES]
    title = "guaranteed clearance"
    width = max(3.4 * font + max(width_of(word, font) for word in words), width_of(title, font))
    width += font
    top = bottom + height * (len(words) + 1.2)
    layer.box(left - 0.5 * font, bottom - 0.3 * font, left + width, top, PAPER)
    layer.text(left, top - 1.2 * font, title, font, QUIET)
    for index, band in enumerate(BANDS):
        y = bottom + height * (len(words) - 1 - index) + 0.4 * font
        line = [(left, y), (left + 2.6 * font, y)]
        layer.box(left, y - band.width / 2 - 1, left + 2.6 * font, y + band.width / 2 + 1, INK)
        layer.box(left, y - band.width / 2, left + 2.6 * font, y + band.width / 2, band.colour)
        layer.text(line[1][0] + 0.8 * font, y - 0.35 * font, band.label, font, INK)
    for row, stroke in enumerate(reversed(_STROKES)):
        y = bottom + height * row + 0.4 * font
        layer.text(left + 3.4 * font, y - 0.35 * font, stroke, font, INK)
        if stroke == _NOT_CHECKED:
            for k in range(4):
                x = left + k * 0.65 * font
                layer.line([(x, y + 0.4 * font), (x + 0.6 * font, y - 0.4 * font)], INK)
        else:
            layer.dashed((left, y), (left + 2.6 * font, y), INK, 4.0)


def draw_gap(
    layer: Layer,
    place: Layout,
    gap: Gap,
    to_pixels: ToPixels,
    colour: Colour = ACCENT,
    bold: float = 1.0,
) -> Box:
    """Draw the gap as a dimension: line, end ticks, leader and boxed number; return the box.

    ``bold``: how many times as heavy as in a window.
    """
    a, b = np.array(to_pixels(gap.on_moving)[:2]), np.array(to_pixels(gap.on_standing)[:2])
    middle, way = (a + b) / 2, b - a
    length = float(np.linalg.norm(way))
    across = np.array([-way[1], way[0]]) / length if length > 0.5 else np.array([0.0, 1.0])
    tick = bold * _TICK * across
    for width, ink in ((5.0 * bold, PAPER), (2.0 * bold, colour)):
        layer.line([tuple(a), tuple(b)], ink, width)
        for end in (a, b):
            layer.line([tuple(end - tick), tuple(end + tick)], ink, width)
    if gap.touches:
        draw_symbol(layer, Symbol.CROSS, (middle[0], middle[1]), 9.0 * bold, colour)
    size = place.font + 2
    words = gap.number
    width = width_of(words, size, bold=True) + 1.4 * size
    stage = place.stage
    x = float(np.clip(middle[0] + 4 * size, stage.left + 4, stage.right - width - 4))
    y = float(np.clip(middle[1] + 3 * size, stage.bottom + 4, stage.top - 2 * size - 4))
    box = Box(x, y, x + width, y + 1.9 * size)
    layer.line([tuple(middle), (x, y + 0.95 * size)], colour, 1.5 * bold)
    layer.box(box.left - 2, box.bottom - 2, box.right + 2, box.top + 2, colour)
    layer.box(box.left, box.bottom, box.right, box.top, PAPER)
    layer.text(x + width / 2, y + 0.6 * size, words, size, INK, bold=True, anchor="centre")
    return box


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
    _tag(layer, place, middle, words, taken)


def _tag(
    layer: Layer, place: Layout, at: tuple[float, float], words: str, taken: list[Box]
) -> None:
    """Write words beside a place, where nothing else stands."""
    size = place.font - 1
    width = width_of(words, size)
    x, y = at
    for dx, dy in ((9, 7), (9, -7 - size), (-9 - width, 7), (-9 - width, -7 - size), (9, 30),
                   (9, -30 - size)):  # fmt: skip
        box = Box(x + dx - 3, y + dy - 4, x + dx + width + 3, y + dy + size + 2)
        inside = place.stage.holds(box.left, box.bottom) and place.stage.holds(box.right, box.top)
        if inside and not any(_meet(box, other) for other in taken):
            layer.box(box.left, box.bottom, box.right, box.top, PAPER)
            layer.text(x + dx, y + dy, words, size, INK)
            layer.box(x - 2, y - 2, x + 2, y + 2, INK)
            taken.append(box)
            return


def _meet(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top


def draw_help(layer: Layer, place: Layout) -> None:
    """List the keys over the stage."""
    size, stage = place.font, place.stage
    keys = max(width_of(key, size, bold=True) for key, _ in HELP)
    width = keys + max(width_of(words, size) for _, words in HELP) + 4 * size
    height = (len(HELP) + 1.2) * 1.6 * size
    left, top = (stage.left + stage.right - width) / 2, (stage.bottom + stage.top + height) / 2
    layer.box(left - 1, top - height - 1, left + width + 1, top + 1, HAIRLINE)
    layer.box(left, top - height, left + width, top, PANEL)
    for row, (key, words) in enumerate(HELP):
        y = top - (row + 1.2) * 1.6 * size
        layer.text(left + 1.2 * size, y, key, size, INK, bold=True)
        layer.text(left + keys + 2.5 * size, y, words, size, INK)
