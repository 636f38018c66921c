"""Flat marks over the stage: the gap's dimension, names, marks of findings, words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from pathsim.scene.message import Message
from pathsim.scene.palette import ACCENT, INK, PAPER, QUIET, Colour
from pathsim.scene.records import Detour, Gap, PointName, Scene, Symbol
from pathsim.units import millimetres
from pathsim.view.chart_marks import colour_of
from pathsim.view.layer import Layer, cut, width_of, wrapped
from pathsim.view.layout import Box, Layout
from pathsim.view.playback_state import Player
from pathsim.view.symbols import draw_symbol

ToPixels = Callable[[np.ndarray], tuple[float, float, float]]
_TICK = 7.0
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


def gap_box(place: Layout, gap: Gap, to_pixels: ToPixels) -> Box:
    """Return what of the picture the gap itself takes, with a little air: no label covers it."""
    a, b = to_pixels(gap.on_moving), to_pixels(gap.on_standing)
    air = 1.5 * place.font
    return Box(min(a[0], b[0]) - air, min(a[1], b[1]) - air, max(a[0], b[0]) + air,
               max(a[1], b[1]) + air)  # fmt: skip


def label_lines(gap: Gap, *, is_named: bool) -> tuple[str, ...]:
    """Return what stands in the gap's box: its number, or that it touches; then which pair."""
    if not is_named:
        return (gap.number,)
    if gap.touches:
        return (gap.pair,)
    return (gap.with_margin, f"{gap.piece} to {gap.body}")


def label_size(place: Layout, lines: Sequence[str]) -> tuple[float, float]:
    """Width and height of a label, px."""
    size = place.font + 1
    widths = [width_of(lines[0], size, bold=True)]
    widths += [width_of(line, place.font - 1) for line in lines[1:]]
    return max(widths) + 1.4 * size, (0.9 + 1.25 * len(lines)) * size


def label_box(
    place: Layout,
    gap: Gap,
    to_pixels: ToPixels,
    avoid: Sequence[tuple[float, float]] = (),
    *,
    is_named: bool = True,
) -> Box:
    """Return where the gap's label stands: beside the gap, inside the stage, off other marks."""
    width, height = label_size(place, label_lines(gap, is_named=is_named))
    own, stage = gap_box(place, gap, to_pixels), place.stage
    x, y = own.middle
    best, least = None, np.inf
    for reach in (3.0, 6.0, 10.0):
        for angle in np.radians([45, 20, 135, 160, -45, -20, -135, -160, 75, 105, -75, -105]):
            far = reach * place.font + max(own.width, own.height) / 2
            cx = x + (far + width / 2) * float(np.cos(angle))
            cy = y + (far + height / 2) * float(np.sin(angle))
            left = float(np.clip(cx - width / 2, stage.left + 5, stage.right - width - 5))
            bottom = float(np.clip(cy - height / 2, stage.bottom + 5, stage.top - height - 5))
            box = Box(left, bottom, left + width, bottom + height)
            covered = sum(box.holds(*at) for at in avoid)
            moved = abs(left + width / 2 - cx) + abs(bottom + height / 2 - cy)
            cost = 1e6 * box.meets(own) + 400.0 * covered + 2.0 * moved + 10.0 * reach
            if cost < least:
                best, least = box, cost
    assert best is not None  # noqa: S101 - there is always a first
    return best


def draw_gap(
    layer: Layer,
    place: Layout,
    gap: Gap,
    to_pixels: ToPixels,
    *,
    colour: Colour | None = None,
    bold: float = 1.0,
    box: Box | None = None,
    is_named: bool = False,
) -> Box:
    """Draw the gap as a dimension: line, end ticks, leader and boxed words; return the box.

    In ink where all is well, in the accent where it touches or is below its margin. ``bold``: how
    many times as heavy as in a window.
    """
    if colour is None:
        colour = ACCENT if gap.touches or gap.is_below_margin else INK
    a, b = np.array(to_pixels(gap.on_moving)[:2]), np.array(to_pixels(gap.on_standing)[:2])
    middle, way = (a + b) / 2, b - a
    length = float(np.linalg.norm(way))
    across = np.array([-way[1], way[0]]) / length if length > 0.5 else np.array([0.0, 1.0])
    tick = bold * _TICK * place.scale * across
    for width, ink in ((5.0 * bold, PAPER), (2.0 * bold, colour)):
        layer.line([tuple(a), tuple(b)], ink, width)
        for end in (a, b):
            layer.line([tuple(end - tick), tuple(end + tick)], ink, width)
    if gap.touches:
        draw_symbol(layer, Symbol.CROSS, (middle[0], middle[1]), 0.64 * place.font * bold, colour)
    lines = label_lines(gap, is_named=is_named)
    if box is None:
        box = label_box(place, gap, to_pixels, is_named=is_named)
    edge = (
        float(np.clip(middle[0], box.left, box.right)),
        float(np.clip(middle[1], box.bottom, box.top)),
    )
    layer.line([tuple(middle), edge], PAPER, 4.0 * bold)
    layer.line([tuple(middle), edge], colour, 1.5 * bold)
    thick = 2 * place.scale
    layer.box(box.left - thick, box.bottom - thick, box.right + thick, box.top + thick, colour)
    layer.box(box.left, box.bottom, box.right, box.top, PAPER)
    size = place.font + 1
    y = box.top - 1.35 * size
    x = (box.left + box.right) / 2
    layer.text(x, y, lines[0], size, INK, bold=True, anchor="centre")
    for line in lines[1:]:
        y -= 1.3 * size
        layer.text(x, y, line, place.font - 1, INK, anchor="centre")
    return box


def draw_old(layer: Layer, place: Layout) -> None:
    """Mark the stage as a picture of files that are no longer so."""
    _banner(layer, place, "Old picture: the files were changed and could not be checked.", ACCENT)


def draw_checking(layer: Layer, place: Layout, share: float) -> None:
    """Say that the files are being checked, how far, and that the picture is of those before."""
    done = f"{100 * share:.0f} %, " if share > 0 else ""
    _banner(layer, place, f"Checking the saved files ... ({done}the picture is the old one)", INK)


def draw_pointed(
    layer: Layer, place: Layout, at: tuple[float, float], lines: Sequence[str]
) -> None:
    """Write what is pointed at beside the mouse."""
    size = place.font - 2
    width = max(width_of(line, size) for line in lines) + 1.2 * size
    height = (1.35 * len(lines) + 0.7) * size
    left = min(at[0] + 14, place.stage.right - width - 4)
    top = max(min(at[1] - 10, place.stage.top - 4), place.stage.bottom + height + 4)
    layer.box(left - 1, top - height - 1, left + width + 1, top + 1, QUIET)
    layer.box(left, top - height, left + width, top, PAPER)
    for row, line in enumerate(lines):
        layer.text(left + 0.6 * size, top - (1.35 * row + 1.3) * size, line, size, INK)


def draw_note(layer: Layer, place: Layout, lines: Sequence[str]) -> None:
    """Write lines at the foot of the stage, the first one bold."""
    size, stage = place.font, place.stage
    room = stage.width - 4 * size
    rows = [
        (line, number == 0)
        for number, words in enumerate(lines)
        for line in wrapped(words, size, room, bold=number == 0)
    ]
    width = max(width_of(line, size, bold=bold) for line, bold in rows) + 1.6 * size
    height = (1.4 * len(rows) + 0.6) * size
    left, low = (stage.left + stage.right - width) / 2, stage.bottom + 0.6 * size
    layer.box(left - 1, low - 1, left + width + 1, low + height + 1, INK)
    layer.box(left, low, left + width, low + height, PAPER)
    for row, (line, bold) in enumerate(rows):
        y = low + height - (1.4 * row + 1.35) * size
        layer.text(left + 0.8 * size, y, line, size, INK, bold=bold)


def _banner(layer: Layer, place: Layout, words: str, colour: Colour) -> None:
    size, stage = place.font, place.stage
    lines = wrapped(words, size, stage.width - 4 * size, bold=True)
    low = stage.top - (1.4 * len(lines) + 1.4) * size
    right = stage.left + size + max(width_of(line, size, bold=True) for line in lines) + 1.6 * size
    layer.box(stage.left + size - 2, low - 2, right + 2, stage.top - 0.6 * size + 2, colour)
    layer.box(stage.left + size, low, right, stage.top - 0.6 * size, PAPER)
    for row, line in enumerate(lines):
        y = stage.top - (1.9 + 1.4 * row) * size
        layer.text(stage.left + 1.8 * size, y, line, size, colour, bold=True)


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
