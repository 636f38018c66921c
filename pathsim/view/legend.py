"""One strip that says what colours and signs mean, the same for stage and chart."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from pathsim.scene.palette import ACCENT, BANDS, HAIRLINE, INK, PAPER, QUIET, TINT, Colour
from pathsim.scene.records import Symbol
from pathsim.view.layer import Layer, width_of
from pathsim.view.layout import Layout
from pathsim.view.symbols import draw_rings_row, draw_symbol

_Sign = Callable[[Layer, float, float, float], None]


def _swatch(colour: Colour, layer: Layer, x: float, y: float, size: float) -> None:
    layer.box(x - 1, y - 0.36 * size - 1, x + 1.3 * size + 1, y + 0.36 * size + 1, INK)
    layer.box(x, y - 0.36 * size, x + 1.3 * size, y + 0.36 * size, colour)


def _margin(layer: Layer, x: float, y: float, size: float) -> None:
    for start in (0.0, 0.5, 1.0):
        layer.line([(x + start * size, y), (x + (start + 0.3) * size, y)], INK)


def _straight(layer: Layer, x: float, y: float, size: float) -> None:
    for start in (0.0, 0.8):
        layer.line([(x + start * size, y), (x + (start + 0.55) * size, y)], QUIET, 1.5)


def _symbol(symbol: Symbol, layer: Layer, x: float, y: float, size: float) -> None:
    draw_symbol(layer, symbol, (x + 0.65 * size, y), 0.42 * size, ACCENT)


def _note(layer: Layer, x: float, y: float, size: float) -> None:
    draw_symbol(layer, Symbol.DOT, (x + 0.65 * size, y), 0.5 * size, INK)


def _wrist(layer: Layer, x: float, y: float, size: float) -> None:
    draw_rings_row(layer, x + 0.2 * size, x + 1.2 * size, y, 0.4 * size)


def _hatch(layer: Layer, x: float, y: float, size: float) -> None:
    for k in range(4):
        left = x + (0.1 + 0.3 * k) * size
        layer.line([(left, y + 0.4 * size), (left + 0.35 * size, y - 0.4 * size)], INK)


#: What stands in the strip, in its order.
_SPARE = ("contact", "below margin", "under 5", "5-20", "over 20 mm")
ENTRIES: tuple[tuple[str, _Sign], ...] = (
    *((words, partial(_swatch, band.colour)) for words, band in zip(_SPARE, BANDS, strict=True)),
    ("missing", partial(_swatch, TINT)),
    ("margin", _margin),
    ("contact", partial(_symbol, Symbol.CROSS)),
    ("near-hit", partial(_symbol, Symbol.DIAMOND)),
    ("arm limit", partial(_symbol, Symbol.BAR)),
    ("wrist zone", _wrist),
    ("note", _note),
    ("straight line", _straight),
    ("not fully checked", _hatch),
)
_TITLE = "to spare over margin:"


def draw_legend(layer: Layer, place: Layout) -> None:
    """Draw the strip over the whole width, in type that fits."""
    box = place.legend
    layer.box(box.left, box.bottom, box.right, box.top, PAPER)
    layer.line([(box.left, box.bottom), (box.right, box.bottom)], HAIRLINE)
    font = legend_font(place)
    x, y = box.left + font, (box.bottom + box.top) / 2
    layer.text(x, y - 0.36 * font, _TITLE, font, QUIET)
    x += width_of(_TITLE, font) + 0.7 * font
    for words, sign in ENTRIES:
        if x + _width(words, font) > box.right + font:
            return  # a window so small has no room for all of it
        sign(layer, x, y, font)
        layer.text(x + 1.7 * font, y - 0.36 * font, words, font, INK)
        x += _width(words, font)


def legend_font(place: Layout) -> int:
    """Return the size of type at which all of the strip has room."""
    for font in range(place.font - 2, 5, -1):
        if legend_width(font) <= place.legend.width:
            return font
    return 5


def legend_width(font: int) -> float:
    """Width of the whole strip, px."""
    return 1.7 * font + width_of(_TITLE, font) + sum(_width(words, font) for words, _ in ENTRIES)


def _width(words: str, font: int) -> float:
    return 2.7 * font + width_of(words, font)
