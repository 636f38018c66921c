"""The list of findings at the right."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.findings import Level
from pathsim.scene.palette import ACCENT, HAIRLINE, INK, PANEL, PAPER, QUIET
from pathsim.scene.records import FindingMark, Scene
from pathsim.scene.seam_words import short_seam_lines
from pathsim.view.layer import Layer, wrapped
from pathsim.view.layout import Box, Layout
from pathsim.view.symbols import draw_symbol

_FAULT_LINES = 14
#: So many seams at most are said below the list.
_SEAMS = 4


@dataclass(frozen=True)
class Row:
    """A finding's place in the list."""

    finding: int
    box: Box


def draw_panel(
    layer: Layer, place: Layout, scene: Scene, chosen: int | None, fault: str = ""
) -> tuple[Row, ...]:
    """Draw the list and return its rows, for clicks. ``fault``: what is wrong with the files."""
    panel, font = place.panel, place.font
    layer.box(panel.left, panel.bottom, panel.right, panel.top, PAPER)
    layer.line([(panel.left, panel.bottom), (panel.left, panel.top)], HAIRLINE)
    left, width = panel.left + font, panel.width - 2 * font
    y = panel.top - 1.8 * font
    for line in wrapped(scene.result.cell.name, font + 2, width, bold=True):
        layer.text(left, y, line, font + 2, INK, bold=True)
        y -= 1.5 * font
    if fault:
        y = _fault(layer, place, left, y, width, fault) - 0.4 * font
    said = "Before the files were changed:" if fault else verdict(scene)
    for line in wrapped(said, font, width):
        layer.text(left, y, line, font, INK)
        y -= 1.35 * font
    y -= 0.3 * font
    rows: list[Row] = []
    texts = [
        _lines(mark, font, width - 2 * font, whole=index == chosen)
        for index, mark in enumerate(scene.marks)
    ]
    heights = [(len(lines) + 1.75) * 1.3 * font for lines in texts]
    last = panel.bottom + 3.2 * font  # the line that counts the rest goes below
    first = first_row(heights, chosen, y - last - 1.5 * font)
    if first > 0:
        layer.text(left, y - font, f"{first} before: p", font, QUIET)
        y -= 1.5 * font
    for index in range(first, len(scene.marks)):
        mark, lines, height = scene.marks[index], texts[index], heights[index]
        if y - height < last and rows:
            rest = len(scene.marks) - index
            layer.text(left, y - font, f"and {rest} more: n", font, QUIET)
            break
        box = Box(panel.left + 1, y - height, panel.right, y)
        if index == chosen:
            layer.box(box.left, box.bottom, box.right, box.top, PANEL)
            layer.box(box.left, box.bottom, box.left + 4, box.top, ACCENT)
        _row(layer, mark, lines, left, box, font)
        layer.line([(left, box.bottom), (panel.right - font, box.bottom)], HAIRLINE)
        rows.append(Row(index, box))
        y -= height
    if not scene.marks:
        layer.text(left, y - font, "No findings.", font, QUIET)
        y -= 1.5 * font
    if not fault and len(rows) == len(scene.marks):
        _seams(layer, scene, left, y, width, font, last)
    layer.text(left, panel.bottom + 0.5 * font, "w why, ? keys", font - 2, QUIET)
    return tuple(rows)


def _seams(
    layer: Layer, scene: Scene, left: float, top: float, width: float, font: int, last: float
) -> None:
    """Say below the findings where the seams lie, as many as there is room for down to ``last``."""
    y = top - 0.6 * font
    for seam in short_seam_lines(scene.result, _SEAMS):
        lines = wrapped(seam, font - 2, width)
        if y - 1.25 * font * len(lines) < last:
            return
        for line in lines:
            y -= 1.25 * font
            layer.text(left, y, line, font - 2, QUIET)


def first_row(heights: list[float], chosen: int | None, room: float) -> int:
    """Return the finding that the list starts with, so that the chosen one is on it.

    ``heights`` of all rows and ``room`` for them, px.
    """
    first, used = 0, 0.0
    for index in range(0 if chosen is None else chosen + 1):
        used += heights[index]
        while used > room and first < index:
            used -= heights[first]
            first += 1
    return first


def verdict(scene: Scene) -> str:
    """Say in a line whether the program is clear."""
    if scene.unchecked:
        return "Not clear: not all was checked."
    if any(not band.is_whole for band in scene.bands):
        return "Not clear, and not checked to its end."
    if scene.result.is_clear:
        return "Clear by its margins, in this model."
    counts = [
        (sum(mark.level is level for mark in scene.marks), level)
        for level in (Level.STOP, Level.WATCH)
    ]
    return "Not clear: " + ", ".join(f"{count} {level}" for count, level in counts if count) + "."


def _fault(layer: Layer, place: Layout, left: float, top: float, width: float, fault: str) -> float:
    """Draw what is wrong with the files; the picture behind is then an old one."""
    font = place.font
    lines = wrapped("Could not check. " + fault, font, width)
    if len(lines) > _FAULT_LINES:
        lines = [*lines[: _FAULT_LINES - 1], "... all of it: pathsim check"]
    y = top - 0.2 * font
    layer.box(
        left - 0.5 * font, y - (len(lines) - 0.5) * 1.35 * font, left + width, y + font, PANEL
    )
    for line in lines:
        layer.text(left, y, line, font, ACCENT)
        y -= 1.35 * font
    return y


def _lines(mark: FindingMark, font: int, width: float, *, whole: bool) -> list[str]:
    """Return the headline, and for the chosen finding its whole text."""
    return wrapped(mark.text if whole else mark.headline, font, width)


def _row(
    layer: Layer, mark: FindingMark, lines: list[str], left: float, box: Box, font: int
) -> None:
    y = box.top - 1.5 * font
    draw_symbol(layer, mark.symbol, (left + 0.5 * font, y + 0.35 * font), 0.42 * font, ACCENT)
    when = "" if mark.time is None else f", {mark.time:.2f} s"
    where = "" if mark.move is None else f", move {mark.move}"
    x = left + 1.8 * font
    layer.text(x, y, f"{mark.level}{where}{when}", font, INK, bold=True)
    for line in lines:
        y -= 1.3 * font
        layer.text(x, y, line, font, INK)
