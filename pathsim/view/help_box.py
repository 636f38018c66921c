"""The list of keys over the stage."""

from __future__ import annotations

from pathsim.scene.palette import HAIRLINE, INK, PANEL
from pathsim.view.layer import Layer, wrapped
from pathsim.view.layout import Layout
from pathsim.view.playback_state import HELP


def draw_help(layer: Layer, place: Layout) -> None:
    """List the keys over the stage, in type that has room."""
    stage = place.stage
    for size in range(place.font, 7, -1):
        keys = 7.5 * size
        width = min(stage.width - 2 * size, 40 * size)
        rows = [(key, wrapped(words, size, width - keys - 3 * size)) for key, words in HELP]
        height = (sum(len(lines) for _, lines in rows) + 1.4) * 1.42 * size
        if height <= stage.height - 8:
            break
    left, top = (stage.left + stage.right - width) / 2, (stage.bottom + stage.top + height) / 2
    layer.box(left - 1, top - height - 1, left + width + 1, top + 1, HAIRLINE)
    layer.box(left, top - height, left + width, top, PANEL)
    y = top - 1.6 * size
    for key, lines in rows:
        layer.text(left + size, y, key, size, INK, bold=True)
        for line in lines:
            layer.text(left + keys + 1.8 * size, y, line, size, INK)
            y -= 1.42 * size
