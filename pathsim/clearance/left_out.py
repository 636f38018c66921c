"""Everything that the rules leave out of the measurement, and what is not in the model at all.

What is exempt where a joint, a rail, a table's stand or the flange holds two things together is
said with its size.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from pathsim.clearance.joint_pairs import joined_of, mounts_of
from pathsim.clearance.joint_store import Apart
from pathsim.clearance.joint_zone import PAD
from pathsim.clearance.records import LeftOut
from pathsim.model import Cell, Role
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import Alignment, Trajectory
from pathsim.units import millimetres, percent

#: What the wire does where the arc is off and the torch stays at the joint.
_TRAILS = "between stitches, where it trails along the joint"


def left_out_at_joints(cell: Cell, trajectory: Trajectory) -> Iterator[LeftOut]:
    """Say how far from each joint contact is taken as by design; the rest is measured."""
    joined = joined_of(cell)
    castings = [one for one in joined if one.range.sides.grows and one.standing.bears is None]
    near = [
        (cell.axes.names[one.column], f"{1e3 * zone.radius:.0f}")
        for one in castings
        if (zone := one.range.known.zone) is not None
    ]
    if near:
        names, radii = zip(*near, strict=True)
        what = "neighbouring links at their joint"
        why = f"within {', '.join(radii)} mm of the axes of {', '.join(names)}"
        yield LeftOut(what, why, is_agreed=True)
    for one in joined:
        pair, zone = f"{one.piece.name} against the {one.standing.name}", one.range.known.zone
        if one.range.sides.is_slide and one.range.sides.castings is None:
            why = f"it bears the slide: within {millimetres(PAD, 0)} of walls that run all along"
            yield LeftOut(f"{pair}, along the guides", why, is_agreed=True)
        elif one.standing.bears is not None and zone is not None:
            tilts = one.piece.body is not None and one.piece.body.on_tilt
            borne, axis = ("tilt frame", "tilt axis") if tilts else ("table", "table's axis")
            why = f"it bears the {borne}: within {millimetres(zone.radius, 0)} of the axis"
            yield LeftOut(f"{pair}, round the {axis}", why, is_agreed=True)
    for one in joined if trajectory.tracks else ():
        if one.apart(trajectory.tracks) is Apart.EXEMPT:
            what = f"{one.piece.name} against {one.standing.name}, wholly"
            why = "all of one of them is where the joint holds them together"
            yield LeftOut(what, why, is_agreed=True)
    if cell.arm.dof in cell.approximate_links:
        what = f"the torch against {cell.link_name(cell.arm.dof)}, wholly"
        yield LeftOut(what, "a simple solid stands for the flange's casting", is_agreed=True)
    mounts = [zone.radius for one in mounts_of(cell) if (zone := one.range.known.zone) is not None]
    if mounts:
        what = f"torch against {cell.link_name(cell.arm.dof)} at the flange"
        why = f"fastened there, within {millimetres(max(mounts), 0)} of the axis"
        yield LeftOut(what, why, is_agreed=True)


def left_out(cell: Cell, trajectory: Trajectory) -> tuple[LeftOut, ...]:
    """Everything that the rules leave out of the measurement, in words."""
    items: list[LeftOut] = []
    items.extend(_wire_at_the_weld(cell, trajectory))
    items.extend(_beads(cell, trajectory))
    items.extend(_searches(cell, trajectory))
    items.extend(_stations(cell, trajectory))
    items.append(LeftOut("arm base against the bodies", "both stand still", is_agreed=True))
    items.extend(_joined_by_description(cell))
    items.extend(
        LeftOut(
            f"part '{part}' of {one.file}",
            "left out, as the cell says"
            if part in one.meant
            else "nothing in the cell is made of it",
            is_agreed=False,
        )
        for one in cell.assemblies
        for part in one.left_out
    )
    items.extend(left_out_at_joints(cell, trajectory))
    items.extend(_about_cables(cell))
    items.extend(
        LeftOut(
            cell.link_name(link),
            "the arm's description says it has no shape",
            is_agreed=False,
        )
        for link in cell.shapeless_links
    )
    items.extend(
        LeftOut(
            f"move {track.number} from {percent(track.fault.share)} on",
            f"the arm cannot be moved further: {track.fault.kind}",
            is_agreed=False,
            moves=(track.number,),
        )
        for track in trajectory.tracks
        if track.fault is not None
    )
    items.extend(_other_postures(trajectory))
    return tuple(items)


#: What lines up, in the words of ``_other_postures``.
_IN_LINE = {
    Alignment.WRIST: "the wrist lines up",
    Alignment.SHOULDER: "the wrist comes over axis 1",
    Alignment.ELBOW: "upper arm and forearm come into one line",
    Alignment.JOINTS: "joints line up",
}


def _other_postures(trajectory: Trajectory) -> list[LeftOut]:
    """Say where the arm may go on in another posture than the one that was measured."""
    items = []
    for track in trajectory.tracks:
        fork = track.fork.value
        if fork is None:
            continue
        moves = (track.number, *(t.number for t in trajectory.unsure_after(track)))
        share = percent(track.share(float(track.t[0]) + fork.after))
        what = f"move {track.number} from {share} on"
        if moves[1:]:
            numbers = " and ".join(filter(None, [", ".join(map(str, moves[1:-1])), str(moves[-1])]))
            what += f", and move{'s' if moves[2:] else ''} {numbers}"
        why = f"{_IN_LINE[fork.what]} there, and the arm may go on in either of two postures"
        items.append(LeftOut(f"{what}, in the other posture", why, is_agreed=False, moves=moves))
    return items


def _wire_at_the_weld(cell: Cell, trajectory: Trajectory) -> list[LeftOut]:
    """Say how much of the wire may touch the parts, for the seams that say the same."""
    if not any(body.role is Role.PART for body in cell.bodies):
        return []
    seams: dict[tuple[float, float, bool], list[int]] = {}
    for track in trajectory.tracks:
        if track.move.at_weld:
            move = track.move
            key = move.touching_end, move.wire_end, move.along_weld
            seams.setdefault(key, []).append(track.number)
    length = cell.torch.wire_length
    return [
        LeftOut(
            f"the wire's last {millimetres(min(end, length))} against parts",
            f"{_TRAILS if trails else 'on seams'} and within "
            f"{millimetres(min(reach, length))} of their ends it may touch; the rest is measured",
            is_agreed=True,
            moves=tuple(moves),
        )
        for (end, reach, trails), moves in seams.items()
    ]


def _beads(cell: Cell, trajectory: Trajectory) -> list[LeftOut]:
    """Say of each bead from which move on it stands, and how much of the wire may touch it then."""
    items, last = [], len(trajectory.tracks)
    for bead in cell.beads:
        own, since = bead.laid_by + 1, bead.stands_from
        if bead.body is None:
            why = "its size is not known: no wire feed for its pass, no 'leg' and no 'height'"
            later = tuple(range(since, last + 1))
            items.append(
                LeftOut(f"the {bead.name} on all moves", why, is_agreed=False, moves=later)
            )
            continue
        behind = f"from move {since} on it counts as a part" if since <= last else "no move follows"
        why = f"its own pass, move {own}, lays it; {behind}"
        moves = tuple(range(1, own + 1))
        items.append(
            LeftOut(f"the {bead.name} on moves 1 to {own}", why, is_agreed=True, moves=moves)
        )
    if cell.bead_top:
        more = millimetres(cell.bead_top)
        what = f"the wire's end against beads on which its seam lies, {more} longer than on parts"
        why = "the wire's end is at a bead's root, and the bead is drawn round it"
        items.append(LeftOut(what, why, is_agreed=True))
    return items


def _searches(cell: Cell, trajectory: Trajectory) -> list[LeftOut]:
    """Say which contact searches want, and that nobody knows where they end in the shop."""
    items: list[LeftOut] = []
    for track in trajectory.tracks:
        wants, search = cell.wanted(track.move), track.move.search
        if wants is None or search is None:
            continue
        end = "" if math.isinf(wants.end) else f"'s last {millimetres(_of_wire(cell, wants))}"
        why = (
            f"the search of move {track.number} wants it, on all of its way and within "
            f"{millimetres(wants.reach)} of its end"
        )
        what = f"the {wants.piece}{end} against the {wants.body}"
        items.append(LeftOut(what, why, is_agreed=True, moves=(track.number,)))
        what = f"what follows the search of move {track.number}, shifted by what it finds"
        why = f"it is checked from the points as taught, with the {wants.body} where it is drawn"
        later = tuple(t.number for t in trajectory.tracks[track.number :])
        items.append(LeftOut(what, why, is_agreed=False, moves=later))
    return items


def _stations(cell: Cell, trajectory: Trajectory) -> list[LeftOut]:
    """Say which contact moves to stations want."""
    items = []
    for station in cell.stations:
        moves = tuple(t.number for t in trajectory.tracks if t.move.station == station.body)
        if moves:
            numbers = ", ".join(map(str, moves))
            why = (
                f"move{'s' if moves[1:] else ''} {numbers} use{'' if moves[1:] else 's'} it as a "
                f"{station.kind}: within {millimetres(station.depth)} of the point inside"
            )
            what = f"the {station.piece} against the {station.words}"
            items.append(LeftOut(what, why, is_agreed=True, moves=moves))
    return items


def _of_wire(cell: Cell, wants: Wanted) -> float:
    return min(wants.end, cell.torch.wire_length)


def _about_cables(cell: Cell) -> list[LeftOut]:
    """Say which cables are not in the model. Those that are silence nothing about the others."""
    if not cell.cables:
        return [LeftOut("cables and hoses", "they are not in the model", is_agreed=False)]
    count = len(cell.cables)
    why = (
        f"{count} modelled; free spans between links not checked, nor any cable that the cell "
        "does not name, nor a modelled one where it hangs farther out than its slack"
    )
    what = (
        "a cable against what is on the same link and, on any but the last link, against cables of "
        "the links next to it; castings there are measured against it as drawn, without its slack"
    )
    return [
        LeftOut("cables and hoses", why, is_agreed=False),
        LeftOut(what, "it is fixed there and lies on them", is_agreed=True),
    ]


def _joined_by_description(cell: Cell) -> list[LeftOut]:
    """Say what belongs together by the cell's files, and which shapes only stand for others."""
    items: list[LeftOut] = []
    if cell.table is not None:
        what, why = "bodies on the turning table against each other", "they turn together"
        items.append(LeftOut(what, why, is_agreed=True))
        still = "does not turn" if cell.table.tilt is None else "neither tilts nor turns"
        what = f"bodies on the turning table against what stands, while the table {still}"
        why = "nothing of both moves; how they stand at zero was measured once"
        items.append(LeftOut(what, why, is_agreed=True))
        if any(body.on_tilt for body in cell.bodies):
            what, why = "bodies on the tilt frame against each other", "they tilt together"
            items.append(LeftOut(what, why, is_agreed=True))
            what = "bodies on the tilt frame against what stands, while it does not tilt"
            why = "nothing of both moves; how they stand at zero was measured once"
            items.append(LeftOut(what, why, is_agreed=True))
            what = (
                "bodies on the turning table against the tilt frame, while the table does not turn"
            )
            items.append(LeftOut(what, why, is_agreed=True))
    if cell.arm.has_rail:
        why = "it has no shape of its own; add it as a body that bears the arm"
        if not any(body.bears == "arm" for body in cell.bodies):
            items.append(LeftOut("the bed of the rail", why, is_agreed=False))
    if cell.approximate_links:
        names = ", ".join(cell.link_name(link) for link in cell.approximate_links)
        why = "simple solids of given size stand for them; whether they hold all is not known"
        items.append(LeftOut(f"the real castings of {names}", why, is_agreed=False))
    items.extend(_shared_room(cell))
    return items


def _shared_room(cell: Cell) -> list[LeftOut]:
    """Say which solids of an arm hold the same room by construction, and whose room is where."""
    items: list[LeftOut] = []
    for link, other in cell.shared_room.within:
        why = f"it is part of the solid of {cell.link_name(other)} and moves with that"
        if other == cell.arm.dof:
            why += "; the torch is not measured against it"
        items.append(LeftOut(f"{cell.link_name(link)} on its own", why, is_agreed=True))
    for link, other in cell.shared_room.joined:
        what = f"{cell.link_name(other)} against {cell.link_name(link)} and cables on them"
        why = "their solids share the room of the joint between, whose limits keep them apart"
        items.append(LeftOut(what, why, is_agreed=True))
    return items
