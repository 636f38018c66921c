"""Marks of findings on the chart: symbols at their moments, numbers in a lane of their own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.findings import Level
from pathsim.scene.palette import ACCENT, INK, PAPER, Colour
from pathsim.scene.records import FindingMark, Scene, Symbol
from pathsim.view.chart import y_at
from pathsim.view.layer import Layer
from pathsim.view.layout import Box, Layout
from pathsim.view.symbols import draw_number, draw_symbol
from pathsim.view.time_axis import TimeAxis, spread


@dataclass(frozen=True)
class Badge:
    """Findings that share a number in the lane: ``findings`` by their index, the gravest first."""

    findings: tuple[int, ...]
    at: float
    x: float


def badges(scene: Scene, axis: TimeAxis, apart: float) -> list[Badge]:
    """Place the numbers of all findings whose moment is shown, ``apart`` px from each other.

    Where there are more than have room, neighbours share one.
    """
    shown = sorted(
        (axis.x(mark.time), index)
        for index, mark in enumerate(scene.marks)
        if mark.time is not None and axis.left <= axis.x(mark.time) <= axis.right
    )
    if not shown:
        return []
    low, high = axis.left + apart / 2, axis.right - apart / 2
    most = max(int((high - low) / apart) + 1, 1)
    size = -(-len(shown) // most)
    groups = [shown[k : k + size] for k in range(0, len(shown), size)]
    at = [sum(x for x, _ in group) / len(group) for group in groups]
    return [
        Badge(tuple(sorted(index for _, index in group)), wanted, x)
        for group, wanted, x in zip(groups, at, spread(at, apart, low, high), strict=True)
    ]


def symbol_place(place: Layout, scene: Scene, axis: TimeAxis, mark: FindingMark) -> Box | None:
    """Where a finding's symbol stands: inside the chart, at its moment and number."""
    if mark.time is None or not axis.left <= axis.x(mark.time) <= axis.right:
        return None
    size = 0.45 * place.font
    chart = place.chart
    height = scene.guaranteed_at(mark.time) if mark.gap is None else mark.gap.guaranteed
    height = 0.0 if np.isnan(height) else height
    x = min(max(axis.x(mark.time), chart.left + size), chart.right - size)
    y = min(max(y_at(place, scene, height) + size, chart.bottom + size), chart.top - size)
    return Box(x - size, y - size, x + size, y + size)


def draw_marks(
    layer: Layer, place: Layout, scene: Scene, axis: TimeAxis, chosen: int | None
) -> list[tuple[Box, int]]:
    """Draw symbols and numbers; return where each number stands and whose it is, for clicks."""
    radius = 0.72 * place.font
    lane = place.lane
    middle = (lane.bottom + lane.top) / 2
    hits: list[tuple[Box, int]] = []
    for badge in badges(scene, axis, 2.5 * radius):
        is_chosen = chosen in badge.findings
        index = chosen if is_chosen and chosen is not None else badge.findings[0]
        mark = scene.marks[index]
        colour = colour_of(mark)
        foot = min(max(badge.at, axis.left), axis.right)
        layer.line(
            [(badge.x, middle - radius), (foot, lane.bottom), (foot, lane.bottom - 4)], colour
        )
        others = len(badge.findings) - 1
        words = f"{mark.number}+" if others else str(mark.number)
        draw_number(layer, (badge.x, middle), radius, words, colour, filled=is_chosen)
        hits.append((Box(badge.x - 1.2 * radius, lane.bottom, badge.x + 1.2 * radius, lane.top),
                     index))  # fmt: skip
    for mark in scene.marks:
        box = symbol_place(place, scene, axis, mark)
        if box is not None and _has_room(mark, axis, box):
            draw_symbol(layer, mark.symbol, box.middle, box.width / 2, _on_chart(mark))
            hits.append((box, mark.number - 1))
    return hits


def colour_of(mark: FindingMark) -> Colour:
    """Return the accent for what asks to stop or to watch, ink for a note."""
    return ACCENT if mark.level.at_least(Level.WATCH) else INK


def _has_room(mark: FindingMark, axis: TimeAxis, box: Box) -> bool:
    """Tell whether a symbol is drawn: a cross on the band of its contact must not hide the band."""
    if mark.symbol is not Symbol.CROSS:
        return mark.symbol is not Symbol.DOT
    found = [axis.clipped(span.start, span.end) for span in mark.spans]
    return any(ends is not None and ends[1] - ends[0] > 1.6 * box.width for ends in found)


def _on_chart(mark: FindingMark) -> Colour:
    """On the band of a contact, which is the accent itself, the cross is paper."""
    return PAPER if mark.symbol is Symbol.CROSS else colour_of(mark)
