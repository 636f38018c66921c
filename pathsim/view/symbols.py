"""Marks of findings: told apart by their shape."""

from __future__ import annotations

import numpy as np

from pathsim.scene.palette import PAPER, Colour
from pathsim.scene.records import Symbol
from pathsim.view.layer import Layer, Place


def draw_symbol(layer: Layer, symbol: Symbol, at: Place, size: float, colour: Colour) -> None:
    """Draw a mark of ``size`` px about its centre, with a paper edge so that it stands out."""
    x, y = at
    if symbol is Symbol.CROSS:
        for width, ink in ((5.0, PAPER), (2.5, colour)):
            layer.line([(x - size, y - size), (x + size, y + size)], ink, width)
            layer.line([(x - size, y + size), (x + size, y - size)], ink, width)
    elif symbol is Symbol.DIAMOND:
        for grown, ink in ((size + 2, PAPER), (size, colour)):
            layer.fill([(x - grown, y), (x, y - grown), (x + grown, y), (x, y + grown)], ink)
    elif symbol is Symbol.BAR:
        layer.box(x - size - 1, y - size / 3 - 1, x + size + 1, y + size / 3 + 1, PAPER)
        layer.box(x - size, y - size / 3, x + size, y + size / 3, colour)
    else:
        turn = np.linspace(0, 2 * np.pi, 20)
        radii = (size, size * 0.45) if symbol is Symbol.RINGS else (size * 0.6,)
        for radius in radii:
            ring = [(x + radius * np.cos(a), y + radius * np.sin(a)) for a in turn]
            layer.line(ring, colour, 2.0)
