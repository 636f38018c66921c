"""Where things stand in a window of any size, in pixels from the lower left corner."""

from __future__ import annotations

from dataclasses import dataclass


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

    def holds(self, x: float, y: float) -> bool:
        """Tell whether a place is inside."""
        return self.left <= x <= self.right and self.bottom <= y <= self.top


@dataclass(frozen=True)
class Layout:
    """The window: stage (3D), panel (findings), strip (words, chart, moves, caution)."""

    width: int
    height: int
    stage: Box
    panel: Box
    strip: Box
    chart: Box
    moves: Box
    font: int

    @property
    def stage_viewport(self) -> tuple[float, float, float, float]:
        """The stage as shares of the window."""
        b = self.stage
        return (b.left / self.width, b.bottom / self.height, b.right / self.width,
                b.top / self.height)  # fmt: skip


def layout(width: int, height: int) -> Layout:
    """Lay out a window; type grows a little with it, panel and strip stay readable."""
    width, height = max(width, 480), max(height, 360)
    font = int(min(max(round(height / 57), 12), 18))
    panel_width = min(max(0.23 * width, 17 * font), 0.4 * width)
    strip_height = min(max(0.22 * height, 11.5 * font), 0.45 * height)
    stage = Box(0, strip_height, width - panel_width, height)
    panel = Box(width - panel_width, strip_height, width, height)
    strip = Box(0, 0, width, strip_height)
    left, right = 5.2 * font, width - 1.6 * font
    moves = Box(left, 2.2 * font, right, 4.0 * font)
    chart = Box(left, moves.top + 0.35 * font, right, strip_height - 3.0 * font)
    return Layout(width, height, stage, panel, strip, chart, moves, font)
