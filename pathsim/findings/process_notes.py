"""Notes on the process of each seam: numbers with their formulas, no verdicts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pathsim.findings.angle_words import (
    angles_in_words,
    from_to,
    travel_in_words,
    work_in_words,
)
from pathsim.findings.bead import bead_in_words
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.passes import area_so_far, bead_note
from pathsim.findings.torch_angles import SeamAngles, seam_angles
from pathsim.findings.weld_position import WeldPosition
from pathsim.model import Cell, Role
from pathsim.model.process import Process
from pathsim.model.schedule import STEPS
from pathsim.motion import MoveTrack
from pathsim.motion.path_timing import NO_WAY
from pathsim.units import millimetres

#: Nearer to a surface than this, a distance reads 0.0 mm, m.
_NOTHING = 5e-5


def process_notes(evidence: Evidence) -> Iterator[Finding]:
    """One note a seam: travel, arc time, wire, bead, heat; and one on the torch's angles."""
    for track in evidence.trajectory.tracks:
        if not track.move.arc_on or len(track.t) < 2:
            continue
        if track.tip_length <= NO_WAY:
            yield _spot(evidence, track)
        else:
            angles = _kept_angles(evidence.cell, track)
            yield _note(evidence, track, angles)
            if angles is not None:
                yield _angles(track, angles)
                if angles.position is not None:
                    yield _position(track, angles.position)


def _kept_angles(cell: Cell, track: MoveTrack) -> SeamAngles | None:
    """Return a seam's angles: of one that stays as it is they are worked out once a session.

    Kept by everything that they depend on beside the knots, each the very same object.
    """
    same = (cell.arm, cell.torch, cell.table, *(b for b in cell.bodies if b.role is Role.PART))
    key = ("seam's angles", cell.T_world_base.tobytes(), *map(_Same, same))
    return track.kept.once(key, lambda: seam_angles(cell, track))


@dataclass(frozen=True, eq=False)
class _Same:
    """A thing as a key: equal only to itself, and kept alive by the key that it is in."""

    thing: object

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.thing is other.thing

    def __hash__(self) -> int:
        return id(self.thing)


def _note(evidence: Evidence, track: MoveTrack, angles: SeamAngles | None) -> Finding:
    cell, arc = evidence.cell, track.arc_seconds
    # what the seam really gets: dwells in which the travel stands still count
    speed = track.tip_length / max(track.travel_seconds, 1e-9)
    mean = " on the mean, its dwells counted" if speed < 0.999 * track.move.speed else ""
    parts = [
        f"{millimetres(track.tip_length)} of seam at {speed * 1e3:.1f} mm/s "
        f"({speed * 60 / 0.0254:.1f} in/min){mean}, {arc:.1f} s of arc with the crater"
    ]
    numbers = {"travel speed": speed, "arc seconds": arc}
    process = _process_of(cell, track)
    parts += _schedule(track)
    if process is not None:
        for said, more in (_wire_and_bead(cell, process, track, speed, angles),
                           _heat(process, speed)):  # fmt: skip
            parts += said
            numbers |= more
    parts += bead_note(cell, track)
    parts.append(_stick_out(evidence, track))
    text = f"{upper_move_name(track)}: {'; '.join(parts)}."
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.PROCESS, text, track.number, time, numbers=numbers)


def _wire_and_bead(
    cell: Cell, process: Process, track: MoveTrack, speed: float, angles: SeamAngles | None
) -> tuple[list[str], dict[str, float]]:
    """Say how much wire a seam takes, and what its bead makes of the joint."""
    wire = _wire_used(process, track)
    area = process.deposit_area(cell.torch.wire_diameter, speed)
    if wire is None or area is None:
        return [], {}
    own = process.crater_feed is not None and track.move.crater_time > 0
    at_own = ", the crater at its own feed" if own else ""
    text = (
        f"{wire:.2f} m of wire{at_own}; a bead of {area * 1e6:.1f} mm2 (wire area x feed x "
        f"{process.deposition:g} / travel)"
    )
    so_far = area_so_far(cell, track)
    if so_far is not None:
        text += f"; {so_far * 1e6:.1f} mm2 with the passes before it"
    said, numbers = bead_in_words(area if so_far is None else so_far, angles)
    more = {} if so_far is None else {"area so far": so_far}
    return [text + said], {"wire": wire, "area": area, **more, **numbers}


def _process_of(cell: Cell, track: MoveTrack) -> Process | None:
    """Return what a seam is welded with: its own schedule's values, else the cell's."""
    schedule = track.move.schedule
    return cell.process if schedule is None or schedule.process is None else schedule.process


def _wire_used(process: Process, track: MoveTrack) -> float | None:
    """Return the wire of a seam, m; in the burnback none is fed."""
    schedule = track.move.schedule
    burnback, ramp = (0.0, 0.0) if schedule is None else (schedule.burnback, schedule.ramp)
    return process.wire_used(track.arc_seconds - burnback, track.move.crater_time, ramp)


def _schedule(track: MoveTrack) -> list[str]:
    """Say the times of a seam's schedule."""
    schedule = track.move.schedule
    if schedule is None:
        return []
    steps = [f"{name} {getattr(schedule, name):g} s" for name in STEPS if getattr(schedule, name)]
    return [f"schedule '{schedule.name}': {', '.join(steps) or 'no times'}"]


def _heat(process: Process, speed: float) -> tuple[list[str], dict[str, float]]:
    """Say arc energy and heat input by their formulas."""
    heat, reduced = process.heat_per_length(speed), process.heat_with_efficiency(speed)
    if heat is None or reduced is None:
        return [], {}
    how = "U I / v, as ASME IX QW-409.1(a)"
    if process.power is not None:
        how = "measured power / v, as ASME IX QW-409.1(c) and ISO/TR 18491"
    text = (
        f"arc energy {heat / 1e6:.2f} kJ/mm ({how}), heat input {reduced / 1e6:.2f} kJ/mm (k times "
        f"that, as EN 1011-1, k {process.efficiency:g})"
    )
    return [text], {"heat": heat, "heat input": reduced}


def _spot(evidence: Evidence, track: MoveTrack) -> Finding:
    """Say what a seam of no length is: its crater time at one place, without bead or travel."""
    process, arc = _process_of(evidence.cell, track), track.arc_seconds
    parts = [f"a spot without travel, {arc:.1f} s of arc"]
    numbers = {"arc seconds": arc}
    parts += _schedule(track)
    wire = None if process is None else _wire_used(process, track)
    if wire is not None:
        parts.append(f"{wire:.2f} m of wire")
        numbers["wire"] = wire
    parts.append(_stick_out(evidence, track))
    text = f"{upper_move_name(track)}: {'; '.join(parts)}."
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.PROCESS, text, track.number, time, numbers=numbers)


def _stick_out(evidence: Evidence, track: MoveTrack) -> str:
    """Say the stick-out, and along the whole seam where the wire's end and the contact tip are."""
    text = f"stick-out {millimetres(evidence.cell.torch.wire_length)}"
    seam = next((one for one in evidence.seam_places if one.move == track.number), None)
    if seam is None or seam.least is None or seam.most is None:
        return f"{text}, weld aim not checked"
    off = " to ".join(dict.fromkeys(_off(d.distance) for d in (seam.least, seam.most)))
    text += f", wire end {off} the nearest part"
    work = seam.to_work
    if work is None or work.least is None or work.most is None:
        return f"{text}, no part in line with the wire"
    ways = " to ".join(dict.fromkeys(millimetres(way) for way in (work.least, work.most)))
    return f"{text}, contact tip to work {ways}"


def _off(distance: float) -> str:
    """Say a signed distance from a part; what rounds to nothing is on neither side."""
    said = millimetres(abs(distance))
    return f"{said} inside" if distance < -_NOTHING else f"{said} off"


def _angles(track: MoveTrack, angles: SeamAngles) -> Finding:
    """Work and travel angle along a whole seam, and what the work angle is counted from."""
    numbers = {
        "travel": angles.travel.middle,
        "travel least": angles.travel.least,
        "travel most": angles.travel.most,
    }
    if angles.work is not None:
        numbers |= {
            "work": angles.work.middle,
            "work least": angles.work.least,
            "work most": angles.work.most,
        }
        for k, over in enumerate(angles.over, start=1):
            numbers |= {f"over face {k} least": over.least, f"over face {k} most": over.most}
    text = f"{upper_move_name(track)}: {angles_in_words(angles)}."
    return Finding(
        Level.NOTE,
        FindingKind.TORCH_ANGLES,
        text,
        track.number,
        float(track.t[0]),
        numbers=numbers,
        brief={
            "work angle": work_in_words(angles),
            "travel angle": travel_in_words(angles.travel),
        },
    )


def _position(track: MoveTrack, found: WeldPosition) -> Finding:
    """Say the welding position of a seam."""
    names = ", then ".join(f"{one} ({one.in_words})" for one in found.positions)
    how = ", told by the torch's axis as no face was found" if found.by_torch else ""
    text = (
        f"{upper_move_name(track)}: position {names}, slope {from_to(found.slope)}, rotation "
        f"{from_to(found.rotation)} (ISO 6947; 90 deg looks up){how}."
    )
    asked = track.move.position
    is_level = asked is not None and asked.rotation is not None
    if is_level and any(one != str(asked) for one in found.positions):
        text += f" {asked} was asked for: teach the table in it at both ends of the seam."
    numbers = {
        "slope least": found.slope.least,
        "slope most": found.slope.most,
        "rotation least": found.rotation.least,
        "rotation most": found.rotation.most,
    }
    brief = {"position": ", ".join(found.positions)}
    time = float(track.t[0])
    return Finding(
        Level.NOTE,
        FindingKind.WELD_POSITION,
        text,
        track.number,
        time,
        numbers=numbers,
        brief=brief,
    )
