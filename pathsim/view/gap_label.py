"""The gap as a dimension line with a boxed label that covers nothing it should not."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from pathsim.scene.gap import Gap
from pathsim.scene.palette import ACCENT, INK, PAPER, Colour
from pathsim.scene.records import Symbol
from pathsim.view.layer import Layer, width_of
from pathsim.view.layout import Box, Layout
from pathsim.view.symbols import draw_symbol

ToPixels = Callable[[np.ndarray], tuple[float, float, float]]
_TICK = 7.0


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
