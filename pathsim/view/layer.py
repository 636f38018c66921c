"""A layer of flat drawing over the 3D stage: filled shapes, lines and text, in pixels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import vtkmodules.vtkRenderingFreeType
from vtkmodules.vtkCommonCore import vtkPoints, vtkUnsignedCharArray
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkRenderingCore import (
    vtkActor2D,
    vtkPolyDataMapper2D,
    vtkRenderer,
    vtkTextActor,
    vtkTextProperty,
    vtkTextRenderer,
)

from pathsim.scene.palette import INK, PAPER, Colour

Place = tuple[float, float]
_DPI = 72
_UNITS = frozenset({"mm", "%", "s", "deg", "mm/s", "Hz", "m", "deg/s"})
assert vtkmodules.vtkRenderingFreeType  # noqa: S101 - its import registers the text renderer


class Layer:
    """Shapes are gathered, then shown at once with ``show``; what was there before goes."""

    def __init__(self, renderer: vtkRenderer) -> None:
        self._renderer = renderer
        self._actors: list[Any] = []
        self._fills: list[tuple[Sequence[Place], Colour]] = []
        self._lines: dict[float, list[tuple[Sequence[Place], Colour]]] = {}
        self._texts: list[Any] = []
        #: Lines are drawn so many times as wide as asked for: as large as the type.
        self.scale = 1.0

    def fill(self, points: Sequence[Place], colour: Colour) -> None:
        """Fill a convex outline."""
        self._fills.append((points, colour))

    def box(self, left: float, bottom: float, right: float, top: float, colour: Colour) -> None:
        """Fill a rectangle."""
        self.fill([(left, bottom), (right, bottom), (right, top), (left, top)], colour)

    def line(self, points: Sequence[Place], colour: Colour = INK, width: float = 1.0) -> None:
        """Draw a line through points."""
        self._lines.setdefault(width * self.scale, []).append((points, colour))

    def dashed(self, a: Place, b: Place, colour: Colour = INK, dash: float = 5.0) -> None:
        """Draw a dashed straight line."""
        length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
        count = max(int(length / (2 * dash * self.scale)), 1)
        for k in range(count):
            s, e = k / count, (k + 0.5) / count
            self.line(
                [
                    (a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])),
                    (a[0] + e * (b[0] - a[0]), a[1] + e * (b[1] - a[1])),
                ],
                colour,
            )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: int,
        colour: Colour = INK,
        *,
        bold: bool = False,
        anchor: str = "left",
    ) -> None:
        """Write words with their baseline at y; ``anchor`` left, centre or right of x."""
        actor = vtkTextActor()
        actor.SetInput(plain(words))
        actor.SetTextProperty(_property(size, colour, bold=bold, anchor=anchor))
        actor.SetPosition(x, y)
        self._texts.append(actor)

    def label(
        self, left: float, bottom: float, right: float, top: float, words: str, size: int
    ) -> None:
        """Write words on a ground of their own that covers lines too."""
        actor = _shapes(
            [([(left, bottom), (right, bottom), (right, top), (left, top)], PAPER)], filled=True
        )
        self._texts.append(actor)
        self.text(left + 3, bottom + 0.4 * size, words, size, INK)

    def show(self) -> None:
        """Replace what is shown by what was gathered."""
        for actor in self._actors:
            self._renderer.RemoveViewProp(actor)
        self._actors = []
        if self._fills:
            self._actors.append(_shapes(self._fills, filled=True))
        for width, lines in sorted(self._lines.items(), reverse=True):
            actor = _shapes(lines, filled=False)
            actor.GetProperty().SetLineWidth(width)
            self._actors.append(actor)
        self._actors.extend(self._texts)
        for actor in self._actors:
            self._renderer.AddViewProp(actor)
        self._fills, self._lines, self._texts = [], {}, []


def plain(words: str) -> str:
    """Return words that the text renderer takes as they stand: a dollar sign starts no formula."""
    return words.replace("$", "\\$")


def width_of(words: str, size: int, *, bold: bool = False) -> float:
    """Return the width of words in px."""
    box = [0, 0, 0, 0]
    prop = _property(size, INK, bold=bold, anchor="left")
    vtkTextRenderer.GetInstance().GetBoundingBox(prop, plain(words), box, _DPI)
    return float(box[1] - box[0])


def wrapped(words: str, size: int, width: float, *, bold: bool = False) -> list[str]:
    """Break words into lines that fit ``width`` px; a word that is longer is broken too."""
    lines: list[str] = []
    line = ""
    for word in _short_words(words, size, width, bold=bold):
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, size, bold=bold) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def cut(words: str, size: int, width: float, *, bold: bool = False) -> str:
    """Return words that fit ``width`` px, with dots where something was cut off."""
    if width_of(words, size, bold=bold) <= width:
        return words
    while words and width_of(words + "...", size, bold=bold) > width:
        words = words[:-1]
    return words.rstrip() + "..." if words else ""


def cut_middle(words: str, size: int, width: float) -> str:
    """Return words that fit ``width`` px, with dots in their middle: names often differ last."""
    if width_of(words, size) <= width:
        return words
    for count in range(len(words) - 1, 2, -1):
        head = count // 3
        short = f"{words[:head].rstrip()}...{words[len(words) - (count - head) :].lstrip()}"
        if width_of(short, size) <= width:
            return short
    return ""


def _kept_together(words: list[str]) -> list[str]:
    """Join a number with the unit behind it: no line ends between them."""
    found: list[str] = []
    for word in words:
        if found and word.strip(".,;:()") in _UNITS and found[-1][-1].isdigit():
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def _short_words(words: str, size: int, width: float, *, bold: bool) -> list[str]:
    """Split at blanks, and inside words that no line can hold."""
    found = []
    for whole in _kept_together(words.split()):
        word = whole
        while len(word) > 1 and width_of(word, size, bold=bold) > width:
            count = len(word) - 1
            while count > 1 and width_of(word[:count], size, bold=bold) > width:
                count -= 1
            found.append(word[:count])
            word = word[count:]
        found.append(word)
    return found


def _property(size: int, colour: Colour, *, bold: bool, anchor: str) -> vtkTextProperty:
    prop = vtkTextProperty()
    prop.SetFontFamilyToArial()
    prop.SetFontSize(size)
    prop.SetColor(*(c / 255 for c in colour))
    prop.SetBold(bold)
    {
        "left": prop.SetJustificationToLeft,
        "centre": prop.SetJustificationToCentered,
        "right": prop.SetJustificationToRight,
    }[anchor]()
    return prop


def _shapes(shapes: list[tuple[Sequence[Place], Colour]], *, filled: bool) -> vtkActor2D:
    """Put shapes of one sort into one actor, each with its colour."""
    points, cells, colours = vtkPoints(), vtkCellArray(), vtkUnsignedCharArray()
    colours.SetNumberOfComponents(3)
    for outline, colour in shapes:
        cells.InsertNextCell(len(outline))
        for x, y in outline:
            cells.InsertCellPoint(points.InsertNextPoint(x, y, 0.0))
        colours.InsertNextTuple3(*colour)
    data = vtkPolyData()
    data.SetPoints(points)
    if filled:
        data.SetPolys(cells)
    else:
        data.SetLines(cells)
    data.GetCellData().SetScalars(colours)
    mapper = vtkPolyDataMapper2D()
    mapper.SetInputData(data)
    mapper.SetScalarModeToUseCellData()
    actor = vtkActor2D()
    actor.SetMapper(mapper)
    return actor
