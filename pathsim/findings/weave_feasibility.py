"""What a weave really is, and whether the arm can follow it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.acceleration import corner_share
from pathsim.findings.amplitude import fitting_amplitude
from pathsim.findings.axis_words import axis_name
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.model import DwellCounts, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.motion import MoveTrack
from pathsim.units import millimetres, percent

#: Damping that the arm's first bending is taken with. Advisory; see the published overshoots
#: of a second-order system at 8 Hz in the tests.
DAMPING = 0.1
_OVERSHOOT = 0.10
_ENOUGH = 1e-9


def weave_truth(evidence: Evidence) -> Iterator[Finding]:
    """Yield what the arm cannot follow of each weave, and strokes that lie too far apart."""
    for track in evidence.trajectory.tracks:
        weave = track.move.weave
        if weave is None:
            continue
        yield from _strokes_apart(track, weave)
        yield from _corners(evidence, track, weave)
        yield from _structure(evidence, track, weave)


def weave_descriptions(evidence: Evidence) -> Iterator[Finding]:
    """Say for each woven seam what the weave really is."""
    for track in evidence.trajectory.tracks:
        if track.move.weave is not None and not track.move.joined:
            yield _what_it_is(evidence, track, track.move.weave)


def overshoot(frequency: float, natural: float, damping: float = DAMPING) -> float:
    """Amplitude of a second-order system driven at ``frequency``, 1 when driven slowly."""
    r = frequency / natural
    return float(1 / np.hypot(1 - r**2, 2 * damping * r))


def _what_it_is(evidence: Evidence, track: MoveTrack, weave: Weave) -> Finding:
    pitch, wire = weave.pitch(track.move.speed), evidence.cell.torch.wire_diameter
    peak = weave.lateral_acceleration
    turning = "with sharp reversals" if np.isinf(peak) else f"with up to {peak * 1e3:.0f} mm/s2"
    text = (
        f"Weave '{weave.name}' in {move_name(track)}: actual {weave.real_frequency:.2f} Hz, "
        f"pitch {millimetres(pitch, 2)} ({pitch / wire:.1f} wire diameters), "
        f"{millimetres(weave.amplitude)} to each side at up to "
        f"{weave.lateral_speed * 1e3:.0f} mm/s, {turning}."
    )
    if weave.dwell > 0:
        is_inside = weave.dwell_counts is DwellCounts.INSIDE
        where = "is part of" if is_inside else "is added to"
        stands = weave.travel_in_dwell is TravelInDwell.STANDS
        travel = "stops" if stands else "continues"
        text += f" Dwell {where} the {weave.frequency:g} Hz cycle; travel {travel} during it."
    numbers = {"real cycles": weave.real_frequency, "pitch": pitch, "lateral": weave.lateral_speed}
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


def _strokes_apart(track: MoveTrack, weave: Weave) -> Iterator[Finding]:
    """Strokes farther apart than the weave is wide leave gaps in most beads."""
    pitch, width = weave.pitch(track.move.speed), 2 * weave.amplitude
    if pitch <= width:
        return
    wanted = weave.frequency_for(width / track.move.speed)
    often = "" if wanted is None else f"about {wanted:.1f} cycles a second or "
    text = (
        f"The strokes of weave '{weave.name}' lie {millimetres(pitch)} apart, more than the weave "
        f"is wide ({millimetres(width)}): {often}"
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
    # acceleration goes with the square of the frequency
    slower = np.floor(9 * weave.frequency / np.sqrt(share[worst])) / 10
    smaller = fitting_amplitude(evidence, track)
    cures = [f"about {slower:.1f} cycles a second"] if slower > 0 else []
    cures += [] if smaller is None else [f"{millimetres(smaller)} to each side"]
    text = (
        f"{axis_name(evidence.cell, worst)} would need {share[worst]:.1f} times its acceleration "
        f"to turn round at the sides of weave '{weave.name}' in {move_name(track)}: the arm will "
        f"round the strokes off and not reach both sides."
    )
    if cures:
        said = ", or ".join(cures)
        text += f" {said[0].upper()}{said[1:]} could be followed."
    numbers = {"axis": worst + 1.0, "share": float(share[worst])}
    time = float(track.t[0])
    yield Finding(
        Level.WATCH, FindingKind.WEAVE_ACCELERATION, text, track.number, time, numbers=numbers
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
    grows = overshoot(frequency, natural)
    text = (
        f"Weave '{weave.name}' runs at {percent(frequency / natural)} of the arm's own "
        f"{natural:g} Hz: an arm that is damped to {DAMPING:g} swings {percent(grows - 1)} wider."
    )
    level = Level.WATCH if grows - 1 > _OVERSHOOT else Level.NOTE
    numbers = {"overshoot": grows}
    yield Finding(
        level, FindingKind.ARM_BENDS, text, track.number, float(track.t[0]), numbers=numbers
    )
