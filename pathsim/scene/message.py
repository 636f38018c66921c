"""What is said of one moment: the same pair, number, move and second wherever it is said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.findings import Level
from pathsim.scene.gap import Gap
from pathsim.scene.records import FindingMark, MoveBand, Scene
from pathsim.units import guaranteed_millimetres, short_millimetres

#: A finding's own numbers are shown while the time is so near to its moment, s.
SAME_MOMENT = 0.02


@dataclass(frozen=True, eq=False)
class Message:
    """One moment in words. ``gap``: the pair it speaks of, None when nothing is near.

    ``mark``: the finding that it is about; then gap and move are the finding's.
    """

    time: float
    band: MoveBand
    gap: Gap | None
    how: str
    mark: FindingMark | None = None

    @property
    def where(self) -> str:
        """Second and move."""
        return f"{self.time:.2f} s   {self.band.words}"

    @property
    def is_alarm(self) -> bool:
        """A finding that asks to stop or watch; else contact, or less than the margin."""
        if self.mark is not None:
            return self.mark.level.at_least(Level.WATCH)
        return self.gap is not None and (self.gap.touches or self.gap.is_below_margin)


def is_at(mark: FindingMark | None, time: float) -> bool:
    """Tell whether a moment is that of a finding."""
    return mark is not None and mark.time is not None and abs(mark.time - time) < SAME_MOMENT


def message_at(scene: Scene, time: float, mark: FindingMark | None = None) -> Message:
    """Say a moment; ``mark``: the chosen finding, which is spoken of at its own moment."""
    if mark is not None and is_at(mark, time) and mark.move is not None:
        band = scene.band_of_move(mark.move)
        if mark.gap is not None:
            return Message(time, band, mark.gap, _how(mark.gap), mark)
        said = f"{mark.headline}; {_doubted(scene, band, time)}"
        return Message(time, band, scene.gap_at(time), said, mark)
    band = scene.band_at(time)
    return Message(time, band, scene.gap_at(time), _doubted(scene, band, time))


def _how(gap: Gap) -> str:
    return gap.pair if gap.touches else f"{gap.pair}: {gap.with_margin}"


def _doubted(scene: Scene, band: MoveBand, time: float) -> str:
    """Say the clearance, and first what it does not hold for."""
    if np.isnan(scene.guaranteed_at(time)):
        return "not checked"
    said = _clearance(scene, time)
    if scene.unchecked:
        return f"not fully checked; {said}"
    return said if band.is_whole else f"move not checked to its end; {said}"


def _clearance(scene: Scene, time: float) -> str:
    gap, known = scene.gap_at(time), scene.guaranteed_at(time)
    if gap is not None:
        return _how(gap)
    if known < scene.profile.cap:
        margin = short_millimetres(scene.margin_at(time))
        return f"{guaranteed_millimetres(known)} guaranteed, margin {margin}"
    return f"over {short_millimetres(scene.profile.cap)} from everything measured"
