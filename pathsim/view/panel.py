"""The panel at the right: verdict, findings, moves."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.findings import Level
from pathsim.scene.not_checked import not_checked_line
from pathsim.scene.palette import ACCENT, HAIRLINE, INK, PANEL, PAPER, QUIET
from pathsim.scene.records import FindingMark, Scene
from pathsim.scene.seam_words import short_seam_lines, short_wanted_lines
from pathsim.view.chart_marks import colour_of
from pathsim.view.layer import Layer, wrapped
from pathsim.view.layout import Box, Layout
from pathsim.view.move_list import MoveRow, draw_moves, moves_height
from pathsim.view.playback_state import Player
from pathsim.view.symbols import draw_number, draw_symbol

_FAULT_LINES = 14
#: So many seams at most are said below the list.
_SEAMS = 4
#: The list of moves takes at most this share of the panel, the findings have the rest.
_MOVES_SHARE = 0.42


@dataclass(frozen=True)
class Row:
    """A finding's place in the list."""

    finding: int
    box: Box


@dataclass(frozen=True)
class Panel:
    """What was drawn, for clicks and the wheel: rows, and where each list stands."""

    rows: tuple[Row, ...] = ()
    moves: tuple[MoveRow, ...] = ()
    findings_box: Box | None = None
    moves_box: Box | None = None


def draw_panel(
    layer: Layer,
    place: Layout,
    scene: Scene,
    player: Player,
    move: int,
    *,
    fault: str = "",
    news: str = "",
    hints: bool = True,
) -> Panel:
    """Draw the panel. ``move``: the one at hand; ``fault``: what is wrong with the files.

    ``news``: what the last check changed. ``hints``: say keys, which a still has not.
    """
    panel, font = place.panel, place.font
    layer.box(panel.left, panel.bottom, panel.right, panel.top, PAPER)
    layer.line([(panel.left, panel.bottom), (panel.left, panel.top)], HAIRLINE)
    left, width = panel.left + font, panel.width - 2 * font
    y = panel.top - 1.8 * font
    for line in wrapped(scene.result.cell.name, font + 2, width, bold=True)[:2]:
        layer.text(left, y, line, font + 2, INK, bold=True)
        y -= 1.5 * font
    if fault:
        y = _fault(layer, place, left, y, width, fault) - 0.4 * font
        layer.text(left, y, "Before the files were changed:", font, INK)
        y -= 0.6 * font
    y = _verdict(layer, scene, left, y + 0.7 * font, width, font)
    if news and not fault:
        for line in wrapped(news, font - 2, width):
            y -= 1.25 * font
            layer.text(left, y, line, font - 2, INK)
        y -= 0.5 * font
    bottom = panel.bottom + (1.7 * font if hints else 0.4 * font)
    wanted = _chosen_height(scene, player, font, width)
    below = max(min(_MOVES_SHARE * (y - bottom), y - bottom - wanted), 7.3 * font)
    below = min(moves_height(scene, font), below)
    if not scene.marks:
        below = min(moves_height(scene, font), y - bottom)
    moves_box = Box(panel.left, bottom, panel.right, bottom + below)
    findings_box = Box(panel.left, moves_box.top, panel.right, y)
    if not scene.marks:  # no findings: the moves come first, right below the verdict
        moves_box = Box(panel.left, y - below, panel.right, y)
        findings_box = Box(panel.left, bottom, panel.right, moves_box.bottom)
        _seams(layer, scene, left, findings_box.top, width, font, bottom)
        rows: tuple[Row, ...] = ()
    else:
        rows = _findings(layer, scene, player, findings_box, font, hints=hints)
    moves = draw_moves(layer, scene, player, moves_box, font, move, hints=hints)
    if hints:
        layer.text(left, panel.bottom + 0.5 * font, "w: why and cure   ?: keys", font - 2, QUIET)
    return Panel(rows, moves, findings_box, moves_box)


def _chosen_height(scene: Scene, player: Player, font: int, width: float) -> float:
    """Room for the chosen finding's row, with the lines that count those before and after it."""
    if player.finding is None or player.finding >= len(scene.marks):
        return 0.0
    mark = scene.marks[player.finding]
    lines = _lines(mark, font, width - 2.3 * font, whole=True)
    return (len(lines) * 1.3 + 2.3 + 3.4) * font


def _findings(
    layer: Layer, scene: Scene, player: Player, box: Box, font: int, *, hints: bool
) -> tuple[Row, ...]:
    """Draw the numbered list, scrolled so that the chosen one shows."""
    left, width = box.left + font, box.width - 2 * font
    chosen, y = player.finding, box.top
    texts = [
        _lines(mark, font, width - 2.3 * font, whole=index == chosen)
        for index, mark in enumerate(scene.marks)
    ]
    heights = [(len(lines) * 1.3 + 2.3) * font for lines in texts]
    last = box.bottom + 1.6 * font
    first = first_row(heights, chosen, y - last - 1.6 * font)
    if player.list_from is not None:
        first = min(max(player.list_from, 0), len(scene.marks) - 1)
    if first > 0:
        layer.text(left, y - 1.2 * font, f"{first} before{': p' if hints else ''}", font - 2, QUIET)
        y -= 1.6 * font
    rows: list[Row] = []
    for index in range(first, len(scene.marks)):
        mark, lines, height = scene.marks[index], texts[index], heights[index]
        if y - height < (box.bottom if index == len(scene.marks) - 1 else last) and rows:
            rest = len(scene.marks) - index
            said = f"{rest} more{': n' if hints else ''}"
            layer.text(left, y - 1.2 * font, said, font - 2, QUIET)
            break
        low = max(y - height, box.bottom)
        lines = lines[: max(int((y - low - 2.3 * font) / (1.3 * font) + 1e-6), 1)]
        row = Box(box.left + 1, low, box.right, y)
        if index == chosen:
            layer.box(row.left, row.bottom, row.right, row.top, PANEL)
            layer.box(row.left, row.bottom, row.left + 0.3 * font, row.top, colour_of(mark))
        _row(layer, mark, lines, left, row, font, is_chosen=index == chosen)
        layer.line([(left, row.bottom), (box.right - font, row.bottom)], HAIRLINE)
        rows.append(Row(index, row))
        y = low
    if len(rows) == len(scene.marks):
        _seams(layer, scene, left, y, width, font, box.bottom)
    return tuple(rows)


def _seams(
    layer: Layer, scene: Scene, left: float, top: float, width: float, font: int, last: float
) -> None:
    """Say below the list what is left open and where the seams lie, as far as there is room."""
    y = top - 0.6 * font
    left_open = not_checked_line(scene.result)
    for seam in (
        *([left_open] if left_open else []),
        *short_seam_lines(scene.result, _SEAMS),
        *short_wanted_lines(scene.result),
    ):
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


def verdict(scene: Scene) -> tuple[str, str]:
    """Say in a word, and in a line, whether the program is clear."""
    levels = [mark.level for mark in scene.marks]
    counts = [(levels.count(level), level) for level in Level]
    said = ", ".join(_counted(count, level) for count, level in counts if count)
    worst = next((str(level).upper() for count, level in counts[:2] if count), "CLEAR")
    if scene.unchecked:
        return "NOT CLEAR" if worst == "CLEAR" else worst, f"not fully checked; {said}"
    if any(not band.is_whole for band in scene.bands):
        return "STOP", f"not checked to its end; {said}"
    to_do = scene.result.cell.to_do
    if worst == "CLEAR" and to_do:
        return "NOT FINISHED", f"{', '.join(to_do)} still as examples"
    if scene.result.is_clear:
        return "CLEAR", "all margins kept in this model" + (f"; {said}" if said else "")
    return worst, said


def _counted(count: int, level: Level) -> str:
    return f"{count} {level}{'s' if level is Level.NOTE and count > 1 else ''}"


def _verdict(layer: Layer, scene: Scene, left: float, top: float, width: float, font: int) -> float:
    """Draw the verdict's block: full of the accent for a stop, framed otherwise."""
    word, said = verdict(scene)
    lines = wrapped(said, font - 1, width - 1.6 * font)
    height = (1.4 * len(lines) + 2.3) * font
    low, right = top - height, left + width
    is_stop, is_clear = word == "STOP", word == "CLEAR"
    edge = INK if is_clear else ACCENT
    layer.box(left - 2, low - 2, right + 2, top + 2, edge)
    layer.box(left, low, right, top, ACCENT if is_stop else PAPER)
    ink = PAPER if is_stop else INK if is_clear else ACCENT
    y = top - 1.55 * font
    layer.text(left + 0.8 * font, y, word, font + 3, ink, bold=True)
    for line in lines:
        y -= 1.4 * font
        layer.text(left + 0.8 * font, y, line, font - 1, PAPER if is_stop else INK)
    return low - 0.7 * font


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
    """Return the headline, and for the chosen finding its whole text below."""
    head = wrapped(mark.headline, font, width, bold=True)
    return head + (wrapped(mark.text, font - 1, width) if whole else [])


def _row(
    layer: Layer,
    mark: FindingMark,
    lines: list[str],
    left: float,
    box: Box,
    font: int,
    *,
    is_chosen: bool,
) -> None:
    y = box.top - 1.45 * font
    colour = colour_of(mark)
    draw_number(
        layer, (left + 0.75 * font, y + 0.3 * font), 0.8 * font, str(mark.number), colour,
        filled=is_chosen,
    )  # fmt: skip
    x = left + 2.3 * font
    heads = len(wrapped(mark.headline, font, box.width - 4.3 * font, bold=True))
    when = "" if mark.time is None else f" · {mark.time:.2f} s"
    where = "" if mark.move is None else f" · move {mark.move}"
    for row, line in enumerate(lines):
        bold = row < heads
        layer.text(x, y, line, font if bold else font - 1, INK, bold=bold)
        y -= 1.3 * font
        if row == min(heads, len(lines)) - 1:
            at = (x + 0.4 * font, y + 0.3 * font)
            draw_symbol(layer, mark.symbol, at, 0.36 * font, colour)
            layer.text(x + 1.1 * font, y, f"{mark.level}{where}{when}", font - 2, QUIET)
            y -= 1.3 * font
