"""The chart of clearance over time; it is the scrubber too."""

from __future__ import annotations

import numpy as np

from pathsim.caution import CAUTION
from pathsim.clearance import Span
from pathsim.scene.palette import ACCENT, BANDS, HAIRLINE, INK, PANEL, PAPER, QUIET, bands_of
from pathsim.scene.records import FindingMark, MoveBand, Scene
from pathsim.view.layer import Layer, width_of, wrapped
from pathsim.view.layout import Layout
from pathsim.view.symbols import draw_symbol

_HATCH = 7.0  # px between strokes
_WIDE_HATCH = 13.0  # px, the other way: not wholly checked
#: Where the window is too small for the caution in two lines.
_SHORT_CAUTION = "Preview of the model supplied, not a safety function. First run slow, arc off."


def time_at(place: Layout, scene: Scene, x: float) -> float:
    """Time of the program at a pixel of the chart."""
    share = (x - place.chart.left) / place.chart.width
    return float(np.clip(share, 0, 1) * scene.duration)


def x_at(place: Layout, scene: Scene, time: float) -> float:
    """Pixel of a time."""
    share = time / scene.duration if scene.duration > 0 else 0.0
    return place.chart.left + share * place.chart.width


def y_at(place: Layout, scene: Scene, clearance: float) -> float:
    """Pixel of a clearance; the cap is the top. A root scale: what is near gets the room."""
    share = (min(max(clearance, 0.0), scene.profile.cap) / scene.profile.cap) ** 0.5
    return float(place.chart.bottom + share * place.chart.height)


def draw_chart(layer: Layer, place: Layout, scene: Scene) -> None:
    """Draw everything of the strip that does not change with time."""
    strip, chart = place.strip, place.chart
    layer.box(strip.left, strip.bottom, strip.right, strip.top, PAPER)
    layer.line([(strip.left, strip.top), (strip.right, strip.top)], HAIRLINE)
    layer.box(chart.left, chart.bottom, chart.right, chart.top, PANEL)
    _fill(layer, place, scene)
    for span in scene.wrist_spans:
        _hatch(layer, place, scene, span)
    for span in unchecked_spans(scene):
        _unchecked(layer, place, scene, span)
    _axis(layer, place, scene)
    for band in scene.bands:
        _move(layer, place, scene, band)
    for mark in scene.marks:
        _mark(layer, place, scene, mark)
    _caution(layer, place)


def caution_lines(place: Layout) -> tuple[list[str], int]:
    """Return the caution in one line or two that fit the window, and the size of its type."""
    font = place.font
    width = place.strip.right - place.chart.left - font
    for words, size in (
        (CAUTION, font - 2), (CAUTION, font - 3), (_SHORT_CAUTION, font - 2),
        (_SHORT_CAUTION, font - 4),
    ):  # fmt: skip
        lines = wrapped(words, size, width)
        if len(lines) <= 2:
            break
    return lines, size


def _caution(layer: Layer, place: Layout) -> None:
    font, left = place.font, place.chart.left
    lines, size = caution_lines(place)
    base = 0.65 * font if len(lines) == 1 else 0.3 * font
    for row, line in enumerate(reversed(lines)):
        layer.text(left, base + row * 1.15 * size, line, size, QUIET)


def draw_cursor(layer: Layer, place: Layout, scene: Scene, time: float) -> None:
    """Draw the moment that is shown."""
    x, top = x_at(place, scene, time), place.chart.top
    layer.line([(x, place.moves.bottom), (x, top)], INK, 2)
    layer.fill([(x - 6, top + 9), (x + 6, top + 9), (x, top)], INK)


def _fill(layer: Layer, place: Layout, scene: Scene) -> None:
    """Fill under the guaranteed clearance, banded by the scale."""
    profile = scene.profile
    bands = bands_of(profile.guaranteed)
    base = place.chart.bottom
    for k, value in enumerate(profile.guaranteed):
        x0, x1 = x_at(place, scene, profile.t[k]), x_at(place, scene, profile.t[k + 1])
        if np.isnan(value) or x1 <= x0:
            continue
        y = max(y_at(place, scene, value), base + 2)
        layer.box(x0, base, x1, y, BANDS[bands[k]].colour)
        layer.line([(x0, y), (x1, y)], INK)


def _axis(layer: Layer, place: Layout, scene: Scene) -> None:
    chart, small = place.chart, place.font - 2
    cap = scene.profile.cap
    layer.line([(chart.left, chart.bottom), (chart.right, chart.bottom)], INK)
    x = chart.left - 0.5 * place.font
    for value, words in ((0.0, "0 mm"), (0.005, "5"), (0.015, "15"), (cap, f"{cap * 1e3:.0f}+")):
        y = y_at(place, scene, value)
        layer.text(x, y - 0.35 * small, words, small, QUIET, anchor="right")
        layer.line([(chart.left - 4, y), (chart.left, y)], QUIET)
    for span, margin in margin_runs(scene):
        y = y_at(place, scene, margin)
        a, b = (x_at(place, scene, span.start), y), (x_at(place, scene, span.end), y)
        layer.line([a, b], PAPER, 3)  # the line has to be seen on the darkest band too
        layer.dashed(a, b, INK, 4.0)


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


def _unchecked(layer: Layer, place: Layout, scene: Scene, span: Span) -> None:
    """Hatch what was not wholly checked, from left above to right below, and say so."""
    chart, small = place.chart, place.font - 2
    x0 = x_at(place, scene, span.start)
    x1 = max(x_at(place, scene, span.end), x0 + 3)
    first = np.ceil((x0 - chart.height) / _WIDE_HATCH) * _WIDE_HATCH
    for start in np.arange(first, x1, _WIDE_HATCH):
        a, b = max(start, x0), min(start + chart.height, x1)
        if b > a:
            layer.line([(a, chart.top - a + start), (b, chart.top - b + start)], INK)
    words = "not all checked" if scene.unchecked else "not checked to its end"
    if width_of(words, small) < x1 - x0 - 16:
        right, y = x0 + 8 + width_of(words, small) + 6, chart.top - 1.6 * small
        layer.label(x0 + 8, y, right, y + 1.5 * small, words, small)


def _hatch(layer: Layer, place: Layout, scene: Scene, span: Span) -> None:
    """Hatch a wrist zone over the chart's height."""
    chart = place.chart
    x0 = x_at(place, scene, span.start)
    x1 = max(x_at(place, scene, span.end), x0 + 3)
    for start in np.arange(x0 - chart.height, x1, _HATCH):
        a, b = max(start, x0), min(start + chart.height, x1)
        if b > a:
            layer.line([(a, chart.bottom + a - start), (b, chart.bottom + b - start)], INK)


def _move(layer: Layer, place: Layout, scene: Scene, band: MoveBand) -> None:
    """Draw one move on the time axis; one that is not whole is framed and says so."""
    box = place.moves
    x0, x1 = x_at(place, scene, band.start), x_at(place, scene, band.end)
    layer.box(x0 + 1, box.bottom, max(x1 - 1, x0 + 2), box.top, PANEL)
    choices = [f"{band.number} {band.kind}, {band.start_name} > {band.end_name}",
               f"{band.number} {band.kind}", str(band.number)]  # fmt: skip
    if not band.is_whole:
        low, high, right = box.bottom + 2, box.top - 2, max(x1 - 2, x0 + 6)
        frame = [(x0 + 2, low), (right, low), (right, high), (x0 + 2, high), (x0 + 2, low)]
        layer.line(frame, ACCENT, 2)
        choices = [f"{band.number} not checked to its end", f"{band.number} not checked",
                   f"{band.number} !"]  # fmt: skip
    for shown in choices:
        if width_of(shown, place.font - 2) < x1 - x0 - 8:
            y = box.bottom + 0.3 * box.height
            layer.text(x0 + 6, y, shown, place.font - 2, INK)
            return


def _mark(layer: Layer, place: Layout, scene: Scene, mark: FindingMark) -> None:
    if mark.time is None:
        return
    x = x_at(place, scene, mark.time)
    height = 0.0 if mark.gap is None else mark.gap.guaranteed
    y = y_at(place, scene, height) + 0.8 * place.font
    draw_symbol(layer, mark.symbol, (x, min(y, place.chart.top - 8)), 6.0, ACCENT)
