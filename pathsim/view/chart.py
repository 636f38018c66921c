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
    _axis(layer, place, scene)
    for band in scene.bands:
        _move(layer, place, scene, band)
    for mark in scene.marks:
        _mark(layer, place, scene, mark)
    small = place.font - 2
    (first, *_) = wrapped(CAUTION, small, strip.width - 3 * place.font) or [""]
    layer.text(chart.left, 0.65 * place.font, first, small, QUIET)


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
    known = np.flatnonzero(np.isfinite(scene.profile.margin))
    for k in known:
        y = y_at(place, scene, scene.profile.margin[k])
        x0, x1 = (x_at(place, scene, scene.profile.t[k + i]) for i in (0, 1))
        if int(x0 / 8) % 2 == 0:
            layer.line([(x0, y), (x1, y)], INK)


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
    """Draw one move on the time axis; one that is not whole is crossed out and says so."""
    box = place.moves
    x0, x1 = x_at(place, scene, band.start), x_at(place, scene, band.end)
    layer.box(x0 + 1, box.bottom, max(x1 - 1, x0 + 2), box.top, PANEL)
    if not band.is_whole:
        layer.line([(x0 + 1, box.bottom), (x1, box.top)], ACCENT, 2)
        layer.line([(x0 + 1, box.top), (x1, box.bottom)], ACCENT, 2)
    words = f"{band.number} {band.kind}, {band.start_name} > {band.end_name}"
    if not band.is_whole:
        words = f"{band.number} not checked to its end"
    for shown in (words, f"{band.number} {band.kind}", str(band.number)):
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
