"""Small buttons at the lower right of the window: how the chart counts, and its zoom."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.scene.palette import INK, PAPER
from pathsim.view.layer import Layer, width_of
from pathsim.view.layout import Box, Layout
from pathsim.view.playback_state import Player
from pathsim.view.time_axis import AxisMode

#: Their width together, times the size of type.
BUTTONS = 13.0


@dataclass(frozen=True)
class Button:
    """A place to click, and the key that it stands for."""

    key: str
    box: Box


def draw_buttons(layer: Layer, place: Layout, player: Player) -> tuple[Button, ...]:
    """Draw them and return them, for clicks."""
    font = place.font
    size, x = font - 2, place.chart.right
    found = []
    for words, key, on in (
        ("+", "plus", False),
        ("-", "minus", False),
        ("moves", "e", player.axis is AxisMode.MOVES),
        ("time", "e", player.axis is AxisMode.TIME),
    ):
        width = width_of(words, size) + 1.2 * size
        box = Box(x - width, 0.25 * font, x, 1.75 * font)
        layer.box(box.left, box.bottom, box.right, box.top, INK)
        if not on:
            layer.box(box.left + 1, box.bottom + 1, box.right - 1, box.top - 1, PAPER)
        layer.text(box.middle[0], box.bottom + 0.45 * font, words, size,
                   PAPER if on else INK, anchor="centre")  # fmt: skip
        found.append(Button(key if not on else "", box))
        x = box.left - (0.5 * font if words == "-" else 0)
    return tuple(found)
