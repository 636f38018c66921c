"""Numbers outside what arc welding does, and margins that are none."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.model.process import fillet_leg
from pathsim.motion import MoveTrack
from pathsim.motion.path_timing import NO_WAY
from pathsim.units import millimetres

#: What arc welding does in one pass (common practice): travel, m/s; heat input, J/m; leg, m.
_TRAVEL = (0.001, 0.05)
_HEAT = (0.05e6, 6e6)
_LEG = (0.0015, 0.02)
#: Air margins below the first are no margin; above the second a unit is wrong, m.
_LEAST_AIR, _MOST_AIR = 0.001, 0.15


def unusual(evidence: Evidence) -> Iterator[Finding]:
    """Say what is most likely a wrong number or unit; no verdict on any weld."""
    yield from _margins(evidence)
    for track in evidence.trajectory.tracks:
        is_travelling = track.travel_seconds > 0 and track.tip_length > NO_WAY
        if track.move.arc_on and track.fault is None and is_travelling:
            yield from _process(evidence, track)


def _process(evidence: Evidence, track: MoveTrack) -> Iterator[Finding]:
    cell = evidence.cell
    speed = track.tip_length / track.travel_seconds
    said = []
    if not _TRAVEL[0] <= speed <= _TRAVEL[1]:
        said.append(f"travel {speed * 1e3:.3g} mm/s (1 to 50 mm/s)")
    heat = None if cell.process is None else cell.process.heat_per_length(speed)
    if heat is not None and not _HEAT[0] <= heat <= _HEAT[1]:
        said.append(f"heat input {heat / 1e6:.3g} kJ/mm (0.05 to 6 kJ/mm)")
    area = (
        None if cell.process is None else cell.process.deposit_area(cell.torch.wire_diameter, speed)
    )
    if area is not None and not _LEG[0] <= fillet_leg(area) <= _LEG[1]:
        said.append(f"fillet leg {millimetres(fillet_leg(area))} (1.5 to 20 mm)")
    if said:
        text = (
            f"{upper_move_name(track)} is outside what arc welding does in one pass, by common "
            f"practice: {'; '.join(said)}. Are the units right?"
        )
        time = float(track.t[0])
        yield Finding(Level.NOTE, FindingKind.UNUSUAL_PROCESS, text, track.number, time)


def _margins(evidence: Evidence) -> Iterator[Finding]:
    air = evidence.cell.margins.air
    if air < _LEAST_AIR:
        text = (
            f"The margin in the air is {millimetres(air, 2)}: arm, fixture and part are not where "
            f"they were drawn to {millimetres(_LEAST_AIR)}. Ask for 5 mm or more."
        )
        yield Finding(Level.WATCH, FindingKind.UNUSUAL_MARGIN, text)
    elif air > _MOST_AIR:
        text = f"The margin in the air is {millimetres(air, 0)}: is its unit right?"
        yield Finding(Level.NOTE, FindingKind.UNUSUAL_MARGIN, text)
