"""Long names for narrow places: the middle left out, and still no two alike."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping

_DOTS = "\N{HORIZONTAL ELLIPSIS}"
#: Longest name that stands whole, and the longest text of any kind, in letters.
LONGEST_NAME, LONGEST_TEXT = 40, 700


def shortened(text: str, most: int) -> str:
    """Return ``text`` with its middle left out where it is longer than ``most``."""
    if len(text) <= most:
        return text
    tail = (most - 1) // 2
    return text[: most - 1 - tail].rstrip() + _DOTS + text[len(text) - tail :].lstrip()


class ShortNames:
    """Short forms of the names of a cell, by which texts are made to fit.

    ``kinds``: names of each kind ("body", "point") in the order of the cell's files. Names that
    would look alike are told apart by their kind and their place in that order.
    """

    def __init__(self, kinds: Mapping[str, Iterable[str]], most: int = LONGEST_NAME) -> None:
        places: dict[str, str] = {}
        for kind, names in kinds.items():
            for number, name in enumerate(names, start=1):
                places.setdefault(name, f"{kind} {number}")
        forms = {name: shortened(name, most) for name in places}
        count = Counter(forms.values())
        self._short = {
            name: f"{form} ({places[name]})" if count[form] > 1 else form
            for name, form in forms.items()
            if form != name
        }
        # A sentence may begin with a name, and then with a capital.
        self._short |= {name[0].upper() + name[1:]: form for name, form in self._short.items()}
        longest_first = sorted(self._short, key=len, reverse=True)
        self._any = re.compile("|".join(map(re.escape, longest_first))) if longest_first else None

    @property
    def are_needed(self) -> bool:
        """Tell whether any name is too long to stand whole."""
        return bool(self._short)

    def __call__(self, text: str) -> str:
        """Return a text in which every long name stands in its short form."""
        if self._any is not None:
            text = self._any.sub(lambda found: self._short[found.group()], text)
        return shortened(text, LONGEST_TEXT)
