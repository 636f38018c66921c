"""Marks of findings: told apart by their shape."""

from __future__ import annotations

import numpy as np

from pathsim.scene.palette import INK, PAPER, Colour
from pathsim.scene.records import Symbol
from pathsim.view.layer import Layer, Place

_TURN = np.linspace(0, 2 * np.pi, 25)


def draw_symbol(layer: Layer, symbol: Symbol, at: Place, size: float, colour: Colour) -> None:
    """Draw a mark of ``size`` px about its centre, with an edge so that it stands out."""
    x, y = at
    edge = INK if colour == PAPER else PAPER
    if symbol is Symbol.CROSS:
        for width, ink in ((5.0, edge), (2.5, colour)):
            layer.line([(x - size, y - size), (x + size, y + size)], ink, width)
            layer.line([(x - size, y + size), (x + size, y - size)], ink, width)
    elif symbol is Symbol.DIAMOND:
        for grown, ink in ((size + 2, edge), (size, colour)):
            layer.fill([(x - grown, y), (x, y - grown), (x + grown, y), (x, y + grown)], ink)
    elif symbol is Symbol.BAR:
        layer.box(x - size - 1, y - size / 3 - 1, x + size + 1, y + size / 3 + 1, edge)
        layer.box(x - size, y - size / 3, x + size, y + size / 3, colour)
    else:
        radii = (size, size * 0.45) if symbol is Symbol.RINGS else (size * 0.6,)
        for radius in radii:
            layer.line(_ring(x, y, radius), colour, 2.0)


def draw_number(
    layer: Layer, at: Place, radius: float, words: str, colour: Colour, *, filled: bool
) -> None:
    """Draw a number in a ring; ``filled``: white on the colour, for what is chosen."""
    x, y = at
    layer.fill(_ring(x, y, radius)[:-1], colour if filled else PAPER)
    layer.line(_ring(x, y, radius), colour, 1.5)
    size = round(radius * (1.3 if len(words) < 2 else 1.1 if len(words) == 2 else 0.85))
    layer.text(
        x, y - 0.36 * size, words, size, PAPER if filled else INK, bold=True, anchor="centre"
    )


def draw_rings_row(layer: Layer, left: float, right: float, y: float, radius: float) -> None:
    """Draw rings side by side from left to right: a wrist zone."""
    count = max(int((right - left) / (2.6 * radius)), 1)
    for k in range(count):
        x = left + (k + 0.5) * (right - left) / count
        layer.fill(_ring(x, y, radius + 1)[:-1], PAPER)
        layer.line(_ring(x, y, radius), INK, 1.5)
        layer.line(_ring(x, y, 0.45 * radius), INK)


def _ring(x: float, y: float, radius: float) -> list[Place]:
    return [(x + radius * float(np.cos(a)), y + radius * float(np.sin(a))) for a in _TURN]
