"""What a weave really is, and whether the arm can follow it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.acceleration import corner_share, woven_share
from pathsim.findings.amplitude import fitting_amplitude, fitting_frequency
from pathsim.findings.axis_words import axis_name
from pathsim.findings.finding import Evidence, Finding, Level, move_name, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.weave_peaks import WeavePeaks, swing, weave_peaks
from pathsim.model import DwellCounts, Pattern, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.motion import MoveTrack
from pathsim.units import millimetres, percent

#: Damping that the arm's first bending is taken with. Advisory; see the published overshoots
#: of a second-order system at 8 Hz in the tests.
DAMPING = 0.1
_OVERSHOOT = 0.10
#: A smaller leap of speed is not worth a word, m/s.
_LEAPS = 5e-4
_ENOUGH = 1e-9
#: Strokes no farther apart than so many wire diameters run together, however narrow the weave
#: (ours: a bead is hardly ever narrower; no authority was found for a number).
_RUN_TOGETHER = 3.0
#: An axis with less than this share of its need from the weave itself is not asked by the weave.
_FROM_WEAVE = 0.5


def weave_truth(evidence: Evidence) -> Iterator[Finding]:
    """Yield what the arm cannot follow of each weave, and strokes that lie too far apart."""
    for track in evidence.trajectory.tracks:
        weave = track.move.weave
        if weave is None:
            continue
        yield from _strokes_apart(evidence, track, weave)
        yield from _corners(evidence, track, weave)
        yield from _structure(evidence, track, weave)


def weave_descriptions(evidence: Evidence) -> Iterator[Finding]:
    """Say for each woven seam what the weave really is."""
    for track in evidence.trajectory.tracks:
        if track.move.weave is not None and not track.move.joined:
            yield _what_it_is(evidence, track, track.move.weave)


def _what_it_is(evidence: Evidence, track: MoveTrack, weave: Weave) -> Finding:
    pitch, wire = weave.pitch(track.move.speed), evidence.cell.torch.wire_diameter
    peaks = weave_peaks(weave, track.move.speed)
    text = (
        f"{upper_move_name(track)}: weave '{weave.name}', actual {weave.real_frequency:.2f} Hz, "
        f"pitch {millimetres(pitch, 2)} ({pitch / wire:.1f} wire diameters), "
        f"{millimetres(weave.amplitude)} to each side, wire tip at up to "
        f"{peaks.speed * 1e3:.0f} mm/s, {_turning(weave, peaks)}."
    )
    if weave.dwell > 0:
        is_inside = weave.dwell_counts is DwellCounts.INSIDE
        where = "is part of" if is_inside else "is added to"
        stands = weave.travel_in_dwell is TravelInDwell.STANDS
        travel = "stops" if stands else "continues"
        text += f" Dwell {where} the {weave.frequency:g} Hz cycle; travel {travel} during it."
    numbers = {"real cycles": weave.real_frequency, "pitch": pitch, "lateral": peaks.across,
               "tip speed": peaks.speed, "tip acceleration": peaks.acceleration,
               "corner leap": peaks.corner_leap, "dwell leap": peaks.dwell_leap}  # fmt: skip
    if len(track.t) > 2:
        axes, cell = evidence.cell.axes, evidence.cell
        speed = track.speed_ratio.max(axis=0)
        change = corner_share(cell, track)
        fast, hard = int(np.argmax(speed)), int(np.argmax(change))
        text += (
            f" {axis_name(cell, fast)} needs {percent(float(speed[fast]))} of its speed and "
            f"{'' if hard == fast else axes.names[hard] + ' '}{percent(float(change[hard]))} of "
            "its acceleration."
        )
        numbers |= {"speed share": float(speed[fast]), "acceleration share": float(change[hard])}
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.WEAVE, text, track.number, time, numbers=numbers)


def _turning(weave: Weave, peaks: WeavePeaks) -> str:
    """Say how hard a weave turns round: by its acceleration, and where its speed leaps."""
    if weave.pattern is Pattern.ZIGZAG:
        return "with sharp reversals"
    said = f"with up to {peaks.acceleration * 1e3:.0f} mm/s2"
    if peaks.dwell_leap > _LEAPS:
        said += f", stopped at once from {peaks.dwell_leap * 1e3:.0f} mm/s for its dwells"
    return said


def _strokes_apart(evidence: Evidence, track: MoveTrack, weave: Weave) -> Iterator[Finding]:
    """Strokes farther apart than the weave is wide, and than a bead is, leave gaps."""
    pitch, wire = weave.pitch(track.move.speed), evidence.cell.torch.wire_diameter
    width = max(2 * weave.amplitude, _RUN_TOGETHER * wire)
    if pitch <= width:
        return
    is_narrow = 2 * weave.amplitude < width
    why = f"{_RUN_TOGETHER:g} wire diameters" if is_narrow else "the weave is wide"
    wanted = weave.frequency_for(width / track.move.speed)
    often = "" if wanted is None else f"about {wanted:.1f} cycles a second or "
    text = (
        f"The strokes of weave '{weave.name}' lie {millimetres(pitch)} apart, more than {why} "
        f"({millimetres(width)}): {often}"
        f"{track.move.speed * width / pitch * 1e3:.1f} mm/s of travel would lay them side by side."
    )
    yield Finding(Level.NOTE, FindingKind.WEAVE_STROKES, text, track.number, float(track.t[0]))


def _corners(evidence: Evidence, track: MoveTrack, weave: Weave) -> Iterator[Finding]:
    """Whether the joints' acceleration is enough to turn round in a quarter of a stroke."""
    if len(track.t) < 3:
        return
    share = corner_share(evidence.cell, track)
    worst = int(np.argmax(share))
    if share[worst] <= 1 + _ENOUGH:
        return
    own = float(woven_share(evidence.cell, track)[worst])
    text = (
        f"{axis_name(evidence.cell, worst)} would need {share[worst]:.1f} times its acceleration "
    )
    if own < _FROM_WEAVE * share[worst]:
        text += _by_travel(track, weave)
    else:
        text += (
            f"to turn round at the sides of weave '{weave.name}' in {move_name(track)}: the arm "
            "will round the strokes off and not reach both sides."
        )
        slower = fitting_frequency(evidence, track, float(share[worst]))
        smaller = fitting_amplitude(evidence, track)
        cures = [] if slower is None else [f"about {slower:.1f} cycles a second"]
        cures += [] if smaller is None else [f"{millimetres(smaller)} to each side"]
        if cures:
            said = ", or ".join(cures)
            text += f" {said[0].upper()}{said[1:]} could be followed."
    numbers = {"axis": worst + 1.0, "share": float(share[worst])}
    time = float(track.t[0])
    yield Finding(
        Level.WATCH, FindingKind.WEAVE_ACCELERATION, text, track.number, time, numbers=numbers
    )


def _by_travel(track: MoveTrack, weave: Weave) -> str:
    """Say what asks an axis for too much where the weave's own strokes do not."""
    if weave.travel_in_dwell is TravelInDwell.STANDS and weave.dwell > 0:
        return (
            f"as the travel stops and starts again at each dwell of weave '{weave.name}' in "
            f"{move_name(track)}, not for the strokes. Let the travel go on in the dwells, or weld "
            "slower."
        )
    return (
        f"for the travel along {move_name(track)}, not for the strokes of weave '{weave.name}'. "
        "Weld slower there, or lay a wider curve."
    )


def _structure(evidence: Evidence, track: MoveTrack, weave: Weave) -> Iterator[Finding]:
    """How much the arm's own bending adds, where its first natural frequency was measured."""
    natural = evidence.cell.natural_frequency
    if natural is None:
        return
    frequency = weave.real_frequency
    if frequency >= natural:
        text = (
            f"Weave '{weave.name}' runs at {frequency:.1f} cycles a second, at or above the arm's "
            f"own {natural:g}: the arm cannot follow it."
        )
        yield Finding(Level.WATCH, FindingKind.ARM_BENDS, text, track.number, float(track.t[0]))
        return
    grows = swing(weave, natural, DAMPING)
    more = f"{percent(abs(grows - 1))} {'wider' if grows >= 1 else 'narrower'}"
    text = (
        f"Weave '{weave.name}' runs at {percent(frequency / natural)} of the arm's own "
        f"{natural:g} Hz: an arm that is damped to {DAMPING:g} swings {more} across the seam, "
        f"corners and dwells counted."
    )
    level = Level.WATCH if abs(grows - 1) > _OVERSHOOT else Level.NOTE
    numbers = {"overshoot": grows}
    yield Finding(
        level, FindingKind.ARM_BENDS, text, track.number, float(track.t[0]), numbers=numbers
    )
