"""A small picture for paper: the stage alone, with one number that can be read."""

from __future__ import annotations

from pathsim.scene.palette import INK
from pathsim.scene.records import FindingMark
from pathsim.view.gap_label import draw_gap
from pathsim.view.layout import Box, Layout
from pathsim.view.picture import Picture
from pathsim.view.playback_state import Player
from pathsim.view.symbols import draw_symbol

#: Height of type as a share of the picture's width: on paper 44 mm wide it is still 7.5 pt.
TYPE_SHARE = 0.062
_BOLD = 2.2  # times as heavy as in a window, for a picture a third as large


class GapPicture(Picture):
    """A scene with the gap of the chosen mark, and no other words: a caption has them."""

    def _fit(self, size: tuple[int, int]) -> None:
        self.place = whole_stage(*size)
        self._fitted()

    def show(self, player: Player) -> bool:
        """Bring the picture to a state, without rendering it yet."""
        mark = self._set_stage(player)
        if mark is not None:
            self._draw(mark)
        self._marks.show()
        return True

    def _fitted(self) -> None:
        """Take on the layout; lines of the scene keep their weight beside the large type."""
        super()._fitted()
        self.stage.lines.weigh(1.0)

    def _draw(self, mark: FindingMark) -> None:
        if mark.gap is not None:
            draw_gap(self._marks, self.place, mark.gap, self.to_pixels, colour=INK,
                     bold=_BOLD / self.place.scale)  # fmt: skip
        elif mark.place is not None:
            x, y, depth = self.to_pixels(mark.place)
            if 0 < depth < 1 and self.place.stage.holds(x, y):
                draw_symbol(self._marks, mark.symbol, (x, y), 9.0 * _BOLD, INK)


def whole_stage(width: int, height: int) -> Layout:
    """Lay out a picture that is all stage, with type for paper."""
    stage, none = Box(0, 0, width, height), Box(width, 0, width, 0)
    font = round(TYPE_SHARE * width)
    return Layout(width, height, stage, none, none, none, none, none, none, font)
