"""The chart of clearance over time; it is the scrubber too."""

from __future__ import annotations

import numpy as np

from pathsim.caution import CAUTION
from pathsim.clearance import Span
from pathsim.scene.palette import (
    ACCENT,
    BANDS,
    BELOW_MARGIN,
    CONTACT,
    HAIRLINE,
    INK,
    PANEL,
    PAPER,
    QUIET,
    TINT,
)
from pathsim.scene.records import MoveBand, Scene
from pathsim.view.chart_columns import columns_of
from pathsim.view.layer import Layer, width_of, wrapped
from pathsim.view.layout import Layout
from pathsim.view.move_list import route_in
from pathsim.view.playback_state import Player
from pathsim.view.symbols import draw_rings_row
from pathsim.view.time_axis import TimeAxis, axis_of

#: px between strokes where something was not fully checked.
_HATCH = 13.0
#: Where the window is too small for the caution in two lines.
_SHORT_CAUTION = "Preview of the model supplied, not a safety function. First run slow, arc off."
#: What the scale of the chart is marked with, m; the cap comes on top.
_MARKED = (0.0, 0.005, 0.015, 0.030)


def chart_axis(place: Layout, scene: Scene, player: Player) -> TimeAxis:
    """Return the axis of the chart as it is shown now."""
    return axis_of(scene.bands, player.axis, player.zoom, place.chart.left, place.chart.right)


def y_at(place: Layout, scene: Scene, clearance: float) -> float:
    """Pixel of a clearance; the cap is the top. A root scale: what is near gets the room."""
    share = (min(max(clearance, 0.0), scene.profile.cap) / scene.profile.cap) ** 0.5
    return float(place.chart.bottom + share * place.chart.height)


def draw_chart(
    layer: Layer, place: Layout, scene: Scene, axis: TimeAxis, buttons: float = 0.0
) -> None:
    """Draw everything of the chart that does not change with time.

    ``buttons``: px that stand at the right of the caution.
    """
    chart = place.chart
    layer.box(chart.left, chart.bottom, chart.right, chart.top, PANEL)
    _grid(layer, place, scene)
    _fill(layer, place, scene, axis)
    for span in scene.wrist_spans:
        _wrist(layer, place, axis, span)
    for span in unchecked_spans(scene):
        _unchecked(layer, place, scene, axis, span)
    _margins(layer, place, scene, axis)
    layer.line([(chart.left, chart.bottom), (chart.right, chart.bottom)], INK)
    for band in scene.bands:
        _move(layer, place, axis, band)
    _caution(layer, place, buttons)


def caution_lines(place: Layout, buttons: float = 0.0) -> tuple[list[str], int]:
    """Return the caution in one line or two that fit beside ``buttons`` px, and its type's size."""
    font = place.font
    width = place.strip.right - place.chart.left - buttons - font
    for words, size in (
        (CAUTION, font - 2), (CAUTION, font - 3), (_SHORT_CAUTION, font - 2),
        (_SHORT_CAUTION, font - 4),
    ):  # fmt: skip
        lines = wrapped(words, size, width)
        if len(lines) <= 2:
            break
    return lines, size


def _caution(layer: Layer, place: Layout, buttons: float) -> None:
    font, left = place.font, place.chart.left
    lines, size = caution_lines(place, buttons)
    base = 0.65 * font if len(lines) == 1 else 0.3 * font
    for row, line in enumerate(reversed(lines)):
        layer.text(left, base + row * 1.15 * size, line, size, QUIET)


def draw_cursor(layer: Layer, place: Layout, axis: TimeAxis, time: float) -> None:
    """Draw the moment that is shown."""
    x, top = axis.x(time), place.chart.top
    if not axis.left <= x <= axis.right:
        return
    half = 0.45 * place.font
    layer.line([(x, place.chart.bottom - half), (x, top)], PAPER, 4)
    layer.line([(x, place.chart.bottom - half), (x, top)], INK, 2)
    base = place.chart.bottom - 2.2 * half
    layer.fill([(x - half, base), (x + half, base), (x, place.chart.bottom)], INK)


def _grid(layer: Layer, place: Layout, scene: Scene) -> None:
    chart, small = place.chart, place.font - 2
    cap = scene.profile.cap
    x = chart.left - 0.5 * place.font
    top = float("inf")
    for value, words in ((cap, f"{cap * 1e3:.0f}+"), *((v, f"{v * 1e3:g}") for v in _MARKED[::-1])):
        y = y_at(place, scene, value)
        layer.line([(chart.left - 4, y), (chart.right, y)], HAIRLINE)
        if (top - y >= 1.05 * small and value < cap) or value == cap:
            layer.text(x, y - 0.35 * small, words, small, QUIET, anchor="right")
            top = y
    layer.text(x, chart.bottom - 1.35 * small, "mm", small, QUIET, anchor="right")


def _fill(layer: Layer, place: Layout, scene: Scene, axis: TimeAxis) -> None:
    """Fill under the guaranteed clearance; contact is a band of full height."""
    columns, chart = columns_of(scene, axis), place.chart
    for first, last in columns.runs():
        band, value = int(columns.band[first]), float(columns.guaranteed[first])
        x0, x1 = float(columns.x[first]), float(columns.x[last - 1]) + 1
        if band == CONTACT:
            layer.box(x0, chart.bottom, x1, chart.top, ACCENT)
        elif band >= 0:
            y = max(y_at(place, scene, value), chart.bottom + 2)
            layer.box(x0, chart.bottom, x1, y, BANDS[band].colour)
            if band == BELOW_MARGIN:  # what is missing
                asked = y_at(place, scene, float(columns.margin[first]))
                layer.box(x0, y, x1, max(asked, y + 2), TINT)
            layer.line([(x0, y), (x1, y)], INK)


def _margins(layer: Layer, place: Layout, scene: Scene, axis: TimeAxis) -> None:
    """Draw the margin as a line that steps where the margin changes."""
    before: tuple[float, float] | None = None
    for span, margin in margin_runs(scene):
        found = axis.clipped(span.start, span.end)
        if found is None:
            continue
        y = y_at(place, scene, margin)
        ends = (found[0], y), (found[1], y)
        layer.line(list(ends), PAPER, 3)  # the line has to be seen on the darkest band too
        layer.dashed(*ends, INK, 4.0)
        if before is not None and abs(before[0] - found[0]) < 2 and before[1] != y:
            layer.line([before, ends[0]], PAPER, 3)
            layer.line([before, ends[0]], INK)
        before = ends[1]


def margin_runs(scene: Scene) -> list[tuple[Span, float]]:
    """Stretches of one margin, m, each as long as it holds."""
    profile = scene.profile
    runs: list[tuple[Span, float]] = []
    for k in np.flatnonzero(np.isfinite(profile.margin)):
        start, end, margin = float(profile.t[k]), float(profile.t[k + 1]), float(profile.margin[k])
        if runs and runs[-1][1] == margin and runs[-1][0].end == start:
            start = runs.pop()[0].start
        runs.append((Span(start, end), margin))
    return runs


def unchecked_spans(scene: Scene) -> list[Span]:
    """When something that should have been measured was not, or the move breaks off."""
    if scene.unchecked:
        return [Span(0.0, scene.duration)]
    spans = [Span(band.start, band.end) for band in scene.bands if not band.is_whole]
    t = scene.profile.t
    unknown = np.flatnonzero(np.isnan(scene.profile.guaranteed) & (np.diff(t) > 0))
    return spans + [Span(float(t[k]), float(t[k + 1])) for k in unknown]


def _unchecked(layer: Layer, place: Layout, scene: Scene, axis: TimeAxis, span: Span) -> None:
    """Hatch what was not fully checked, from left above to right below, and say so."""
    found = axis.clipped(span.start, span.end, 3.0)
    if found is None:
        return
    chart, small, (x0, x1) = place.chart, place.font - 2, found
    first = np.ceil((x0 - chart.height) / _HATCH) * _HATCH
    for start in np.arange(first, x1, _HATCH):
        a, b = max(start, x0), min(start + chart.height, x1)
        if b > a:
            layer.line([(a, chart.top - a + start), (b, chart.top - b + start)], INK)
    words = "not fully checked" if scene.unchecked else "not checked to its end"
    if width_of(words, small) < x1 - x0 - 16:
        right, y = x0 + 8 + width_of(words, small) + 6, chart.top - 1.6 * small
        layer.label(x0 + 8, y, right, y + 1.5 * small, words, small)


def _wrist(layer: Layer, place: Layout, axis: TimeAxis, span: Span) -> None:
    """Frame a wrist zone, with a row of rings along its top."""
    found = axis.clipped(span.start, span.end, 4.0)
    if found is None:
        return
    chart, (x0, x1) = place.chart, found
    for x in (x0, x1):
        layer.line([(x, chart.bottom), (x, chart.top)], INK)
    draw_rings_row(layer, x0, x1, chart.top - 0.55 * place.font, 0.34 * place.font)


def _move(layer: Layer, place: Layout, axis: TimeAxis, band: MoveBand) -> None:
    """Draw one move below the axis: seconds, number, kind, and from where to where."""
    found = axis.clipped(band.start, band.end)
    if found is None or found[1] - found[0] < 1:
        return
    box, chart, font, (x0, x1) = place.moves, place.chart, place.font, found
    small = font - 2
    top = chart.bottom - 0.2 * font
    layer.line([(x0, box.bottom), (x0, chart.top)], INK if band.is_whole else ACCENT)
    if not band.is_whole:
        low, right = box.bottom + 2, max(x1 - 2, x0 + 6)
        frame = [(x0 + 2, low), (right, low), (right, box.top), (x0 + 2, box.top), (x0 + 2, low)]
        layer.line(frame, ACCENT, 2)
    last = x0 + 0.2 * font  # seconds stand clear of each other and of the next move's
    for tick in axis.ticks(band.start, band.end, 4.2 * small):
        x, words = axis.x(tick), f"{tick:g}"
        half = width_of(words, small) / 2
        if x0 <= x <= x1 and x - half > last and x + half < x1 - 0.2 * font:
            layer.line([(x, chart.bottom - 4), (x, chart.bottom)], INK)
            layer.text(x, top - small, words, small, QUIET, anchor="centre")
            last = x + half + 0.3 * font
    room = x1 - x0 - 0.8 * font
    for said in _titles(band):
        if width_of(said, small, bold=True) <= room:
            y = box.top - 0.95 * font
            layer.text(x0 + 0.4 * font, y, said, small, INK, bold=True)
            route = route_in(band, small, room)
            if len(route) > 6:
                layer.text(x0 + 0.4 * font, y - 1.05 * font, route, small, QUIET)
            return


def _titles(band: MoveBand) -> tuple[str, ...]:
    if not band.is_whole:
        return (f"{band.number} not checked to its end", f"{band.number} not checked",
                f"{band.number} !")  # fmt: skip
    return f"{band.number} {band.kind}", str(band.number)
