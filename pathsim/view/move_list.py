"""The list of moves: seconds, a bar of clearance with its margin, mm; a click goes there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.scene.palette import ACCENT, BANDS, HAIRLINE, INK, PANEL, QUIET, bands_of
from pathsim.scene.records import MoveBand, Scene
from pathsim.units import guaranteed_millimetres
from pathsim.view.layer import Layer, cut_middle, width_of
from pathsim.view.layout import Box
from pathsim.view.playback_state import Player

_ROW = 1.75  # times the size of type


@dataclass(frozen=True)
class MoveRow:
    """A move's place in the list; ``time``: its moment with the least to spare, s."""

    move: int
    time: float
    box: Box


@dataclass(frozen=True)
class Tightest:
    """The least that a move has to spare, and when; nan when it was not checked."""

    guaranteed: float
    margin: float
    time: float


def tightest_of(scene: Scene, band: MoveBand) -> Tightest:
    """Return where a move has the least guaranteed clearance to spare over its margin."""
    profile = scene.profile
    rows = np.flatnonzero((profile.move[:-1] == band.number) & ~np.isnan(profile.guaranteed))
    if len(rows) == 0:
        return Tightest(float("nan"), 0.0, band.start)
    margin = np.nan_to_num(profile.margin[rows])
    known = profile.guaranteed[rows]
    k = int(np.argmin(np.where(known <= 0, -np.inf, known - margin)))
    time = float(np.clip((profile.t[rows[k]] + profile.t[rows[k] + 1]) / 2, band.start, band.end))
    return Tightest(float(known[k]), float(margin[k]), time)


def moves_height(scene: Scene, font: int) -> float:
    """Height of the whole list, px."""
    return (len(scene.bands) * _ROW + 2.0) * font


def draw_moves(
    layer: Layer, scene: Scene, player: Player, box: Box, font: int, move: int, *, hints: bool
) -> tuple[MoveRow, ...]:
    """Draw as many moves as have room, the one at hand (``move``) among them.

    ``hints``: say what the wheel does, which a still has not.
    """
    small, left, right = font - 1, box.left + font, box.right - font
    room = max(int((box.height - 2.0 * font) / (_ROW * font)), 1)
    first = max(min(move - 1 - room // 2, len(scene.bands) - room), 0)
    if player.moves_from is not None:
        first = max(min(player.moves_from, len(scene.bands) - room), 0)
    number, bar = right - 4.2 * font, right - 7.2 * font
    seconds = bar - 0.6 * font
    y = box.top - 1.25 * font
    count = len(scene.bands)
    more = f"{count}, wheel scrolls" if hints else f"{min(room, count)} of {count}"
    head = "move" if room >= count else f"move ({more})"
    layer.text(left, y, head, small - 1, QUIET)
    layer.text(number, y, "clearance", small - 1, QUIET, anchor="right")
    layer.text(right, y, "mm", small - 1, QUIET, anchor="right")
    y -= 0.5 * font
    rows = []
    for band in scene.bands[first : first + room]:
        row = Box(box.left + 1, y - _ROW * font, box.right, y)
        if band.number == move:
            layer.box(row.left, row.bottom, row.right, row.top, PANEL)
            layer.box(row.left, row.bottom, row.left + 0.3 * font, row.top, INK)
        base = row.bottom + 0.6 * font
        tight = tightest_of(scene, band)
        took = f"{band.end - band.start:.1f} s"
        layer.text(left, base, str(band.number), small, INK, bold=True)
        space = seconds - 3.0 * font - (left + 1.6 * font)
        layer.text(left + 1.6 * font, base, route_in(band, small, space), small, INK)
        layer.text(seconds, base, took, small - 1, QUIET, anchor="right")
        _bar(layer, scene, tight, band, Box(bar, base - 1, number, base + 0.62 * font))
        said, colour = _number(scene, tight, band)
        layer.text(right, base, said, small, colour, bold=colour == ACCENT, anchor="right")
        layer.line([(left, row.bottom), (right, row.bottom)], HAIRLINE)
        rows.append(MoveRow(band.number, tight.time, row))
        y = row.bottom
    return tuple(rows)


def route_in(band: MoveBand, size: int, space: float) -> str:
    """Return where a move goes in a line: from and to, or to alone, as the row above ends there."""
    whole = f"> {band.end_name}"
    # Where the points of a stitch or a pass are, the name of the weld's end comes first.
    last = f"> {band.end_name.rpartition(', ')[2]}"
    fits = (said for said in (band.route, whole, last) if width_of(said, size) <= space)
    return next(fits, None) or cut_middle(last, size, space)


def _bar(layer: Layer, scene: Scene, tight: Tightest, band: MoveBand, box: Box) -> None:
    if np.isnan(tight.guaranteed) or not band.is_whole:
        layer.dashed((box.left, box.middle[1]), (box.right, box.middle[1]), INK, 3.0)
        return
    index = int(bands_of(np.array([tight.guaranteed]), np.array([tight.margin]))[0])
    share = 1.0 if tight.guaranteed <= 0 else _share(scene, tight.guaranteed)
    layer.box(box.left, box.bottom, box.left + max(share * box.width, 2), box.top,
              BANDS[index].colour)  # fmt: skip
    x = box.left + _share(scene, tight.margin) * box.width
    layer.line([(x, box.bottom - 3), (x, box.top + 3)], INK, 2.0)


def _share(scene: Scene, clearance: float) -> float:
    return float((min(clearance, scene.profile.cap) / scene.profile.cap) ** 0.5)


def _number(scene: Scene, tight: Tightest, band: MoveBand) -> tuple[str, tuple[int, int, int]]:
    if np.isnan(tight.guaranteed) or not band.is_whole:
        return "?", ACCENT
    if tight.guaranteed <= 0:
        return "touches", ACCENT
    if tight.guaranteed >= scene.profile.cap:
        return f"{scene.profile.cap * 1e3:.0f}+", QUIET
    said = guaranteed_millimetres(tight.guaranteed).removesuffix(" mm")
    return said, ACCENT if tight.guaranteed < tight.margin - 1e-9 else INK
