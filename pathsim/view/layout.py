"""Where things stand in a window of any size, in pixels from the lower left corner."""

from __future__ import annotations

from dataclasses import dataclass

#: Type of this size has lines and marks of their usual width.
_USUAL_FONT = 14.0


@dataclass(frozen=True)
class Box:
    """A rectangle."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Width in px."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height in px."""
        return self.top - self.bottom

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return (self.left + self.right) / 2, (self.bottom + self.top) / 2

    def holds(self, x: float, y: float) -> bool:
        """Tell whether a place is inside."""
        return self.left <= x <= self.right and self.bottom <= y <= self.top

    def meets(self, other: Box) -> bool:
        """Tell whether two rectangles overlap."""
        return (
            self.left < other.right and other.left < self.right
            and self.bottom < other.top and other.bottom < self.top
        )  # fmt: skip

    def covers(self, other: Box) -> bool:
        """Tell whether another lies wholly inside."""
        return self.holds(other.left, other.bottom) and self.holds(other.right, other.top)


@dataclass(frozen=True)
class Layout:
    """The window: stage (3D), panel (findings, moves), strip below.

    The strip, from above: ``legend``, words, ``lane`` (numbers of findings), ``chart``, ticks,
    ``moves``, caution and buttons.
    """

    width: int
    height: int
    stage: Box
    panel: Box
    strip: Box
    legend: Box
    lane: Box
    chart: Box
    moves: Box
    font: int

    @property
    def scale(self) -> float:
        """How many times as heavy as usual lines and marks are: as large as the type."""
        return max(self.font / _USUAL_FONT, 0.85)

    @property
    def stage_viewport(self) -> tuple[float, float, float, float]:
        """The stage as shares of the window."""
        b = self.stage
        return (b.left / self.width, b.bottom / self.height, b.right / self.width,
                b.top / self.height)  # fmt: skip


def layout(width: int, height: int, screen: float = 1.0) -> Layout:
    """Lay out a window; type grows with it, and with the scale of the ``screen``."""
    width, height = max(width, 480), max(height, 360)
    font = round(min(max(height / 57, 12 * screen), max(width / 76, 12), 96))
    panel_width = min(max(0.26 * width, 21 * font), 0.4 * width)
    strip_height = min(max(0.315 * height, 17.2 * font), 0.5 * height)
    stage = Box(0, strip_height, width - panel_width, height)
    panel = Box(width - panel_width, strip_height, width, height)
    strip = Box(0, 0, width, strip_height)
    left, right = 4.2 * font, width - 1.6 * font
    legend = Box(0, strip_height - 1.9 * font, width, strip_height)
    moves = Box(left, 2.5 * font, right, 4.7 * font)
    lane_top = legend.bottom - 1.7 * font
    lane = Box(left, lane_top - 1.9 * font, right, lane_top)
    chart = Box(left, moves.top + 1.35 * font, right, lane.bottom)
    return Layout(width, height, stage, panel, strip, legend, lane, chart, moves, font)
