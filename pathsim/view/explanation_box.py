"""Why the chosen finding came about, over the stage: one idea a line."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.scene.palette import HAIRLINE, INK, PANEL
from pathsim.view.layer import Layer, wrapped
from pathsim.view.layout import Layout


def draw_reasons(
    layer: Layer,
    place: Layout,
    sentences: Sequence[str],
    cure: Sequence[str] = (),
    *,
    near: tuple[float, float] | None = None,
) -> None:
    """Write sentences, and the cure below, in a box over the stage; smaller where they do not fit.

    The first sentence of either is bold. ``near (2,)`` px: what the box must leave to be seen, so
    it stands at the side of the stage with more room.
    """
    stage = place.stage
    width = min(stage.width * 0.46 if near is not None else stage.width * 0.86, 46 * place.font)
    for size in range(place.font, 5, -1):
        paragraphs = [wrapped(text, size, width - 2.4 * size) for text in (*sentences, *cure)]
        lines = sum(map(len, paragraphs))
        height = (lines * 1.35 + len(paragraphs) * 0.5 + 1.4) * size
        if height <= stage.height * 0.94:
            break
    left, top = (stage.left + stage.right - width) / 2, (stage.bottom + stage.top + height) / 2
    if near is not None:
        is_right = near[0] > (stage.left + stage.right) / 2
        left = stage.left + 6 if is_right else stage.right - width - 8
    top = min(top, stage.top - 2)
    layer.box(left - 1, top - height - 1, left + width + 1, top + 1, HAIRLINE)
    layer.box(left, top - height, left + width, top, PANEL)
    heads = (0, len(sentences))
    y = top - 0.6 * size
    for number, paragraph in enumerate(paragraphs):
        for line in paragraph:
            y -= 1.35 * size
            layer.text(left + 1.2 * size, y, line, size, INK, bold=number in heads)
        y -= 0.5 * size
