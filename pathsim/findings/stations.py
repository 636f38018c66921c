"""Stations of the cell: what each move into one and out of one does, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.wanted_stretches import inside_at
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.search_touch import meets
from pathsim.model.wanted_contact import Station, StationKind
from pathsim.motion import MoveTrack
from pathsim.units import millimetres

#: What goes into a station goes no faster, m/s.
_CREEP = 0.1
#: Stick-outs that differ by less are one, m.
_SAME_WIRE = 5e-4
#: Where a station works while the torch stands in it.
_WORKS = (StationKind.CLEANER, StationKind.GAUGE)


def _visits(evidence: Evidence) -> Iterator[tuple[MoveTrack, Station, bool]]:
    """Yield each move that uses a station, and whether it ends inside."""
    stations = {station.body: station for station in evidence.cell.stations}
    for track in evidence.trajectory.tracks:
        if track.move.station is not None and track.fault is None:
            _, goes_in = inside_at(evidence.cell, evidence.trajectory, track)
            yield track, stations[track.move.station], goes_in


def station_use(evidence: Evidence) -> Iterator[Finding]:
    """Say what does not fit: the wire that a cutter leaves, a fast way in, no stay."""
    visits = list(_visits(evidence))
    inside = {track.number for track, _, goes_in in visits if goes_in}
    for track, station, goes_in in visits:
        if not goes_in:
            continue
        yield from _cut(evidence, track, station)
        name, of = upper_move_name(track), f"the {station.body}"
        if track.move.speed > _CREEP * (1 + 1e-9):
            text = (
                f"{name} goes into {of} at {track.move.speed * 1e3:.0f} mm/s: "
                f"{_CREEP * 1e3:.0f} mm/s or less is usual."
            )
            yield _note(track, text, {"speed": track.move.speed})
        stays_on = track.number + 1 in inside
        if station.kind in _WORKS and not track.move.wait and not stays_on:
            yield _note(track, f"{name}: no wait in {of}. The {station.kind} needs its time.", {})


def _cut(evidence: Evidence, track: MoveTrack, station: Station) -> Iterator[Finding]:
    """Hold what a cutter leaves of the wire against the wire that is drawn."""
    drawn, left = evidence.cell.torch.wire_length, station.cuts_to
    if left is None or abs(left - drawn) <= _SAME_WIRE:
        return
    said = (
        f"{upper_move_name(track)}: the {station.body} leaves {millimetres(left)} of wire, the "
        f"torch is drawn with {millimetres(drawn)}."
    )
    numbers = {"cut": left, "drawn": drawn}
    if left > drawn:
        text = f"{said} Behind it the real wire is longer than what is checked. Set 'wire' to it."
        yield Finding(Level.WATCH, FindingKind.STATION_USE, text, track.number,
                      float(track.t[-1]), numbers=numbers)  # fmt: skip
    else:
        yield _note(track, f"{said} A search behind it touches later by the difference.", numbers)


def _note(track: MoveTrack, text: str, numbers: dict[str, float]) -> Finding:
    time = float(track.t[-1])
    return Finding(
        Level.NOTE, FindingKind.STATION_USE, text, track.number, time, numbers=numbers
    )  # fmt: skip


def describe_stations(evidence: Evidence) -> Iterator[Finding]:
    """Say how deep each move goes into its station, where it touches, how long it stays."""
    cell = evidence.cell
    for track, station, goes_in in _visits(evidence):
        wants = cell.wanted(track.move)
        assert wants is not None  # noqa: S101 - it names its station
        engine = ReferenceEngine(cell) if evidence.engine is None else evidence.engine
        spans = meets(engine, cell, track, wants)
        way = "goes into" if goes_in else "comes out of"
        point = track.move.target if goes_in else track.start
        numbers = {"depth": station.depth, "wait": track.move.wait}
        them = "them" if station.also else "it"
        text = (
            f"{upper_move_name(track)}: {way} the {station.words} ({station.kind}), where the "
            f"{station.piece} may touch {them} within {millimetres(station.depth)} of '{point}'"
        )
        if spans:
            end = track.q[-1] if goes_in else track.q[0]
            edge = spans[0].start if goes_in else spans[-1].end
            tips = cell.tips_on_part(np.vstack([track.q_at(edge), end]))
            touching = float(np.linalg.norm(tips[1] - tips[0]))
            numbers["touching"] = touching
            text += f"; it does over the {'last' if goes_in else 'first'} {millimetres(touching)}"
        else:
            text += "; it does not as drawn"
        if track.move.wait:
            text += f"; stays {track.move.wait:g} s"
        if goes_in and station.cuts_to is not None:
            text += f"; wire cut to {millimetres(station.cuts_to)}"
        time = float(track.t[0])
        yield Finding(
            Level.NOTE, FindingKind.STATION, f"{text}.", track.number, time, numbers=numbers
        )  # fmt: skip
