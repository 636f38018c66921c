"""To which amplitude or frequency a weave has to come down: laid, followed, and measured.

Asked only where a weave was found to be too wide; a number that was not tried is not said.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from pathsim.findings.acceleration import corner_share
from pathsim.findings.finding import Evidence
from pathsim.findings.what_if import cannot_run, laid_with, measured, shortfall
from pathsim.model import Weave
from pathsim.motion import MoveTrack

#: Amplitudes are told in steps of so much, m.
_STEP = 1e-4
_MOST_TRIES = 8
#: Next after one that the joints cannot follow: a little under what would just do.
_UNDER = 0.95


def fitting_amplitude(evidence: Evidence, track: MoveTrack, room: float = np.inf) -> float | None:
    """Return an amplitude, m, with which a seam keeps its margins and its joints can follow.

    The largest to within the width of the engine's intervals; ``room``: that there is, m, where it
    was measured. None where none was found, and where there is no engine to measure with.
    """
    weave, engine = track.move.weave, evidence.engine
    if weave is None or engine is None:
        return None
    if track.number not in evidence.amplitudes:
        start = min(weave.amplitude, room - engine.tolerance) - _STEP
        evidence.amplitudes[track.number] = _found(evidence, track, start)
    return evidence.amplitudes[track.number]


def _found(evidence: Evidence, track: MoveTrack, start: float) -> float | None:
    amplitude, weave = _told(start), track.move.weave
    assert weave is not None  # noqa: S101 - asked before
    for _ in range(_MOST_TRIES):
        if amplitude < _STEP:
            return None
        short, share = _tried(evidence, track, replace(weave, amplitude=amplitude))
        if short <= 0 and share <= 1:
            return amplitude
        slower = _UNDER * amplitude / share if share > 1 else amplitude
        amplitude = _told(min(amplitude - max(short, _STEP), slower))
    return None


def fitting_frequency(evidence: Evidence, track: MoveTrack, share: float) -> float | None:
    """Return a frequency, Hz, with which a seam's joints can follow and it keeps its margins.

    ``share``: of its acceleration that a joint needs now, which goes with the frequency squared.
    None where none was found in steps of a tenth, and without an engine to measure with.
    """
    weave = track.move.weave
    if weave is None or evidence.engine is None:
        return None
    tenths = math.floor(10 * weave.frequency / math.sqrt(share) + 1e-9)
    for _ in range(_MOST_TRIES):
        if tenths < 1:
            return None
        short, needed = _tried(evidence, track, replace(weave, frequency=tenths / 10))
        if short <= 0 and needed <= 1:
            return tenths / 10
        tenths = min(tenths - 1, math.floor(tenths * _UNDER / math.sqrt(max(needed, 1.0))))
    return None


def _told(amplitude: float) -> float:
    """Return the next amplitude below that people would set, m."""
    return math.floor(amplitude / _STEP + 1e-6) * _STEP


def _tried(evidence: Evidence, track: MoveTrack, other: Weave) -> tuple[float, float]:
    """With another weave: how far a seam is below its margin, m, and the share its joints need."""
    cell, weave = evidence.cell, track.move.weave
    assert evidence.engine is not None and weave is not None  # noqa: S101 - asked before
    moves = [
        replace(move, weave=other) if move.weave == weave else move for move in cell.program.moves
    ]
    laid = laid_with(evidence, moves=moves)
    if laid is None or cannot_run(cell, laid.tracks[track.index]):
        return np.inf, np.inf
    new = laid.tracks[track.index]
    share = float(corner_share(cell, new).max(initial=0.0))
    engine = evidence.engine
    # Whichever engine checks it again, and however finely: what is promised has to hold there.
    return shortfall(measured(evidence, engine, laid, [new]), engine.tolerance), share
