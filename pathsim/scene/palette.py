"""Colours and widths of everything that is drawn.

The ground is paper, things are matte greys, only the path carries hue; one accent marks the
gap and the findings. Clearance is told by colour and by width: near is dark and wide.

The scale is "bilbao" of the Scientific colour maps, reduced to 17 entries:

    Copyright (c) 2020 Fabio Crameri

    Permission is hereby granted, free of charge, to any person obtaining a copy of this
    software and associated documentation files (the "Software"), to deal in the Software
    without restriction, including without limitation the rights to use, copy, modify, merge,
    publish, distribute, sublicense, and/or sell copies of the Software, and to permit persons
    to whom the Software is furnished to do so, subject to the following conditions:

    The above copyright notice and this permission notice shall be included in all copies or
    substantial portions of the Software.

    THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED,
    INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY, FITNESS FOR A PARTICULAR
    PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE AUTHORS OR COPYRIGHT HOLDERS BE LIABLE
    FOR ANY CLAIM, DAMAGES OR OTHER LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR
    OTHERWISE, ARISING FROM, OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER
    DEALINGS IN THE SOFTWARE.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Colour = tuple[int, int, int]

PAPER: Colour = (243, 239, 230)
PANEL: Colour = (236, 230, 217)
INK: Colour = (35, 39, 44)
QUIET: Colour = (98, 98, 94)
HAIRLINE: Colour = (190, 183, 168)
ACCENT: Colour = (179, 0, 94)

#: Greys by what a thing is; the arm is darker than what stands, the torch and cables darkest.
GREYS: dict[str, Colour] = {
    "part": (214, 205, 186),
    "fixture": (186, 180, 166),
    "clamp": (160, 155, 144),
    "table": (222, 216, 203),
    "other": (203, 197, 184),
    "arm": (150, 154, 158),
    "torch": (78, 84, 91),
    "cable": (62, 56, 52),
}

_BILBAO: tuple[Colour, ...] = (
    (76, 0, 1), (98, 21, 25), (119, 40, 45), (138, 58, 65), (152, 77, 80), (159, 93, 86),
    (162, 106, 89), (166, 118, 92), (169, 129, 94), (172, 141, 97), (176, 155, 102),
    (183, 172, 122), (191, 184, 151), (197, 194, 176), (206, 205, 199), (227, 227, 226),
    (255, 255, 255),
)  # fmt: skip


#: Below the margin, where the missing part is tinted.
TINT: Colour = (228, 172, 201)


@dataclass(frozen=True)
class Band:
    """Clearances with less than ``upto`` (m) to spare over the margin, drawn alike.

    ``width`` in px at the usual size of type.
    """

    upto: float
    colour: Colour
    width: float
    label: str


#: From near to far, by what is to spare over the margin: 3 mm where 1.5 is asked for is sound, 3 mm
#: where 10 is asked for is not. The last one has no upper end.
BANDS: tuple[Band, ...] = (
    Band(-np.inf, ACCENT, 10.0, "contact"),
    Band(0.0, _BILBAO[0], 8.0, "below margin"),
    Band(0.005, _BILBAO[8], 5.5, "under 5 mm to spare"),
    Band(0.020, _BILBAO[12], 4.0, "5 to 20"),
    Band(np.inf, _BILBAO[15], 2.5, "over 20 mm to spare"),
)
CONTACT, BELOW_MARGIN = 0, 1


def bands_of(clearance: NDArray[np.float64], margin: NDArray[np.float64]) -> NDArray[np.int64]:
    """Index of the band ``(n,)`` of clearances ``(n,)`` m with their margins ``(n,)`` m.

    -1 where the clearance is not known (nan); no margin (nan) is none asked for.
    """
    spare = np.nan_to_num(clearance, nan=0.0) - np.nan_to_num(margin, nan=0.0)
    edges = np.array([band.upto for band in BANDS[1:-1]])
    # A rounding error is no breach: a clearance equal to its margin keeps it.
    index = 1 + np.searchsorted(edges, spare + 1e-9, side="right")
    index = np.where(np.nan_to_num(clearance, nan=1.0) <= 0, CONTACT, index)
    return np.where(np.isnan(clearance), -1, index).astype(np.int64)
