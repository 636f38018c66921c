"""Touch searches: what each finds in the model, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from pathsim.clearance import PairClearance
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.search_touch import SearchTouch, search_touch
from pathsim.model import Cell
from pathsim.model.torch import WIRE
from pathsim.model.wanted_contact import Search
from pathsim.motion import MoveTrack
from pathsim.units import degrees, guaranteed_millimetres, millimetres

#: Where it meets the body may be so far from the point as taught, m.
_SAME_PLACE = 1e-3
#: Searches are no faster as a rule, m/s.
_SLOW = 0.05
#: Flatter than this, from square onto the face, a search slides along it, rad.
_SLIDES = np.radians(60.0)
#: Nearer than this a distance reads 0.0 mm, m.
_NOTHING = 5e-5


def searches_of(evidence: Evidence) -> Iterator[tuple[MoveTrack, Search, SearchTouch]]:
    """Yield each search that was laid to its end, and where it touches; measured once."""
    cell = evidence.cell
    for track in evidence.trajectory.tracks:
        search, wants = track.move.search, cell.wanted(track.move)
        if search is None or wants is None or track.fault is not None:
            continue
        if track.number not in evidence.searches:
            engine = ReferenceEngine(cell) if evidence.engine is None else evidence.engine
            evidence.searches[track.number] = search_touch(engine, cell, track, wants)
        found = evidence.searches[track.number]
        if found is not None:
            yield track, search, found


def finds_first(evidence: Evidence, track: MoveTrack, touching: Sequence[PairClearance]) -> str:
    """Say what comes of it that a search meets another body than its own; else nothing.

    With what it searches with it finds that body, if it comes to it first. With anything else it
    runs into it and feels nothing.
    """
    search = track.move.search
    if search is None:
        return ""
    found = next((one for of, _, one in searches_of(evidence) if of is track), None)
    spans = [span for pair in touching for span in pair.spans]
    body = touching[0].body
    if found is None or not spans or body == search.body:
        return ""
    if found.touch is not None and min(span.start for span in spans) > found.time:
        return ""
    if touching[0].piece == search.piece:
        return f" So the search finds the {body} and not the {search.body}."
    return f" The search does not stop there: it feels with the {search.piece} alone."


def touch_searches(evidence: Evidence) -> Iterator[Finding]:
    """Say of each search what keeps it from finding its body where it was taught."""
    for track, search, found in searches_of(evidence):
        yield from _about_place(track, search, found)
        yield from _about_speed(evidence.cell, track, search)
        if found.touch is None:
            continue
        yield from _about_face(track, search, found)
        yield from _about_what_is_known(evidence.cell, track, search, found)


def _about_place(track: MoveTrack, search: Search, found: SearchTouch) -> Iterator[Finding]:
    who, body, name = search.piece, search.body, upper_move_name(track)
    if found.touch is None:
        text = (
            f"{name}: the search meets nothing in this model. The {who} stays "
            f"{guaranteed_millimetres(found.nearest)} or more off the {body}, "
            f"{millimetres(search.overtravel)} of overtravel counted. Teach '{track.move.target}' "
            "where the two touch."
        )
        yield _finding(Level.STOP, track, found, search, text, {"nearest": found.nearest})
    elif found.touch <= _SAME_PLACE:
        text = (
            f"{name}: the {who} is at the {body} already where the search starts. Start it "
            f"farther off than '{track.start}'."
        )
        yield _finding(Level.STOP, track, found, search, text, {"way": found.touch})
    elif abs(found.touch - found.taught) > _SAME_PLACE:
        text = (
            f"{name}: the search meets the {body} after {millimetres(found.touch)}, "
            f"{_beside(found)} '{track.move.target}'. What follows is checked from that point, "
            "not from the touch. Teach the point where the two touch, or look what stands there."
        )
        off = abs(found.touch - found.taught)
        yield _finding(Level.WATCH, track, found, search, text, {"off": off})


def _beside(found: SearchTouch) -> str:
    """Say where a touch is, seen from the point as taught."""
    off = (found.touch or 0.0) - found.taught
    if abs(off) < _NOTHING:
        return "at"
    return f"{millimetres(abs(off))} {'before' if off < 0 else 'behind'}"


def _about_speed(cell: Cell, track: MoveTrack, search: Search) -> Iterator[Finding]:
    if track.move.speed <= _SLOW * (1 + 1e-9):
        return
    runs_on = track.move.speed**2 / (2 * cell.tip_acceleration)
    text = (
        f"{upper_move_name(track)} searches at {track.move.speed * 1e3:.0f} mm/s: "
        f"{_SLOW * 1e3:.0f} mm/s or less is usual. The arm needs {millimetres(runs_on)} to stop "
        f"and {_bends(search.piece)} by that."
    )
    yield Finding(
        Level.WATCH, FindingKind.TOUCH_SEARCH, text, track.number, float(track.t[0]),
        numbers={"speed": track.move.speed},
    )  # fmt: skip


def _bends(piece: str) -> str:
    return "bends the wire" if piece == WIRE else f"pushes the {piece}"


def _about_face(track: MoveTrack, search: Search, found: SearchTouch) -> Iterator[Finding]:
    if found.slope is None or found.slope <= _SLIDES:
        return
    flat, gain = max(math.pi / 2 - found.slope, 0.0), 1.0 / max(math.cos(found.slope), 1e-3)
    text = (
        f"{upper_move_name(track)}: the search slides along the {search.body}, "
        f"{degrees(flat)} to its face. 1 mm that the part is off moves the touch by {gain:.1f} mm. "
        "Search more squarely onto the face."
    )
    yield _finding(Level.WATCH, track, found, search, text, {"slope": found.slope})


def _about_what_is_known(
    cell: Cell, track: MoveTrack, search: Search, found: SearchTouch
) -> Iterator[Finding]:
    """Hold overtravel and start against how far the body may be off its place."""
    off = next(body.off_by for body in cell.bodies if body.name == search.body)
    if off <= 0 or found.touch is None:
        return
    needed = off / max(math.cos(found.slope or 0.0), 1e-3)
    behind, before = found.whole - found.touch, found.touch
    if min(behind, before) >= needed - _NOTHING:
        return
    where, has = ("overtravel", behind) if behind < before else ("way before the touch", before)
    text = (
        f"{upper_move_name(track)}: the {search.body} may be {millimetres(off)} off its place, "
        f"and the search has {millimetres(max(has, 0.0))} of {where} for it: it may miss. "
        f"Give it {millimetres(needed)}."
    )
    yield _finding(Level.WATCH, track, found, search, text, {"needed": needed})


def _finding(
    level: Level,
    track: MoveTrack,
    found: SearchTouch,
    search: Search,
    text: str,
    numbers: dict[str, float],
) -> Finding:
    return Finding(
        level, FindingKind.TOUCH_SEARCH, text, track.number, found.time, (), search.piece,
        search.body, numbers,
    )  # fmt: skip


def describe_searches(evidence: Evidence) -> Iterator[Finding]:
    """Say what each search does, with its body where it is drawn: numbers, no verdict."""
    for track, search, found in searches_of(evidence):
        numbers = {"taught": found.taught, "overtravel": search.overtravel,
                   "speed": track.move.speed}  # fmt: skip
        cut = evidence.cell.torch.wire_length
        text = (
            f"{upper_move_name(track)}: touch search with the {search.piece} for the "
            f"{search.body} at {track.move.speed * 1e3:.0f} mm/s, {millimetres(found.taught)} and "
            f"{millimetres(search.overtravel)} of overtravel"
        )
        if found.touch is None:
            text += "; meets nothing as drawn"
        else:
            numbers["touch"] = found.touch
            text += f"; touches after {millimetres(found.touch)}, {_beside(found)} the point taught"
            if found.slope is not None:
                numbers["slope"] = found.slope
                text += f", {degrees(found.slope)} off square onto the face"
            pushed = found.whole - found.touch
            if pushed > _NOTHING:
                numbers["pushed"] = pushed
                text += f"; where no contact is felt it {_bends(search.piece)} by "
                text += millimetres(pushed)
        if search.piece == WIRE:
            text += f"; cut the wire to {millimetres(cut)} before"
        text += f". What follows is checked with the {search.body} where it is drawn"
        text += ", times with all of the overtravel and back." if search.overtravel else "."
        time = float(track.t[0])
        yield Finding(Level.NOTE, FindingKind.SEARCH, text, track.number, time, numbers=numbers)
