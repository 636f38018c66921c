"""Words in frames over the stage: banners at its head, notes at its foot, beside the mouse."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.scene.palette import ACCENT, INK, PAPER, QUIET, Colour
from pathsim.view.layer import Layer, width_of, wrapped
from pathsim.view.layout import Layout


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
