"""Who is measured against whom, with which margin, and what may touch what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.clearance.obstacle import OWN_MARGIN, Obstacle
from pathsim.model import Body, Cable, Cell, Margins, Piece, Role
from pathsim.model.turning_table import TABLE, TILT_FRAME, StandsOn
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import MoveTrack

#: Pairs of these by all that decides about them (``scene_on``).
_PAIRS: WeakKeyDictionary[Cell, dict[object, tuple[tuple[Piece, Obstacle], ...]]] = (
    WeakKeyDictionary()
)


class Zone(StrEnum):
    """Where in the program a stretch lies; it decides the margin."""

    AIR = "air"
    APPROACH = "approach"
    SEAM = "seam"
    SEARCH = "search"
    STATION = "station"


@dataclass(frozen=True)
class Stretch:
    """Part of a move, from ``start`` to ``end`` (s), with one margin (m) for all of it.

    ``corner``: the point that is rounded there, when it stands for the rounding's whole family.
    ``wants``: the contact that the move is there for, in the zones of a search and a station: the
    two come near each other there by their nature. ``touching_end``: so much of the wire's end
    may touch there, m: parts on a seam, what it wants to touch elsewhere; inf: all of the piece.
    """

    start: float
    end: float
    zone: Zone
    corner: str = ""
    touching_end: float = 0.0
    wants: Wanted | None = None

    def margin(self, margins: Margins) -> float:
        """Clearance asked for in this zone, m."""
        if self.wants is not None:
            return margins.air if self.wants.margin is None else self.wants.margin
        if self.zone is Zone.SEAM:
            return margins.seam
        return margins.approach if self.zone is Zone.APPROACH else margins.air


def pairs_to_measure(
    cell: Cell, track: MoveTrack, things: tuple[Obstacle, ...]
) -> Sequence[tuple[Piece, Obstacle]]:
    """Who is measured against whom on a move; ``left_out`` says in words who is not.

    Everything on the arm against everything that stands or turns with the table; everything
    on the table against what it moves past: what stands in the world, and for what turns what is
    on the tilt frame too, while an axis between the two moves. A bead is met from behind its own
    pass on: before, and on that pass, it does not stand (``stand_by``).
    """
    known, key = _PAIRS.setdefault(cell, {}), (things, scene_on(cell, track))
    if key not in known:
        known[key] = tuple(_pairs_to_measure(cell, track, things))
    return known[key]


def _pairs_to_measure(
    cell: Cell, track: MoveTrack, things: tuple[Obstacle, ...]
) -> list[tuple[Piece, Obstacle]]:
    things = tuple(thing for thing in things if stand_by(track, thing))
    pairs = [(piece, thing) for piece in cell.arm_pieces for thing in things]
    if is_table_moved(cell, track):
        pairs += [
            (piece, thing)
            for piece, thing in table_pairs(cell, things)
            if stand_by(track, piece.body) and is_pair_moved(cell, track, piece, thing)
        ]
    return [(piece, thing) for piece, thing in pairs if not are_joined(piece, thing)]


def stand_by(track: MoveTrack, thing: Obstacle | Body | None) -> bool:
    """Tell whether something stands on a move: of all things, beads alone come to stand later."""
    return thing is None or thing.stands_from <= track.in_program


def scene_on(cell: Cell, track: MoveTrack) -> tuple[tuple[bool, ...], int]:
    """Return all that decides of a move which pairs are measured on it (``pairs_to_measure``)."""
    beads = sum(stand_by(track, one.body) for one in cell.beads if one.body is not None)
    return moved_axes(cell, track), beads


def table_pairs(cell: Cell, things: tuple[Obstacle, ...]) -> list[tuple[Piece, Obstacle]]:
    """Return what is on the table or on its tilt frame, with all that it may move past."""
    return [
        (piece, thing)
        for piece in cell.table_pieces
        for thing in things
        if thing.stands_on < stand_of(piece)
    ]


def stand_of(piece: Piece) -> StandsOn:
    """Return what a piece that is a body stands on; the floor for what the arm carries."""
    return StandsOn.FLOOR if piece.body is None else piece.body.stands_on


def axes_between(cell: Cell, piece: Piece, standing: Obstacle) -> slice:
    """Return which columns of a trajectory move something on the table past what stands."""
    assert cell.table is not None  # noqa: S101 - asked for only with a table
    first, count = cell.arm.dof, len(cell.table.axes)
    begin = count - 1 if standing.stands_on is StandsOn.TILT else 0
    behind = 1 if stand_of(piece) is StandsOn.TILT else count
    return slice(first + begin, first + behind)


def is_table_moved(cell: Cell, track: MoveTrack) -> bool:
    """Tell whether the table turns or tilts, or stands as nobody has seen it before."""
    return any(moved_axes(cell, track))


def moved_axes(cell: Cell, track: MoveTrack) -> tuple[bool, ...]:
    """Tell of each axis of the table whether it moves, or stands as nobody has seen it before.

    Which pairs are measured on a move depends on the move by this, and by the beads that stand.
    """
    each = (slice(k, k + 1) for k in range(cell.arm.dof, track.q.shape[1]))
    return tuple(_axes_turn(track, one) or _stand_turned(track, one) for one in each)


def is_pair_moved(cell: Cell, track: MoveTrack, piece: Piece, standing: Obstacle) -> bool:
    """Tell whether an axis between the two moves, or stands as nobody has seen it before."""
    columns = axes_between(cell, piece, standing)
    return _axes_turn(track, columns) or _stand_turned(track, columns)


def _axes_turn(track: MoveTrack, columns: slice) -> bool:
    return bool((np.ptp(track.q[:, columns], axis=0) > 0).any())


def _stand_turned(track: MoveTrack, columns: slice) -> bool:
    """Tell whether axes of the table stand turned where no move of the program brought them.

    Bodies are placed with the table at zero: nobody has looked at how they stand then.
    """
    is_new = track.index == 0 or not track.continuous
    return bool(is_new and (np.abs(track.q[0, columns]) > 1e-9).any())


def pair_margin(
    cell: Cell, track: MoveTrack, piece: Piece, standing: Obstacle, stretch: Stretch
) -> float:
    """Clearance asked of a pair, m: what turns with the table comes near nothing for the weld.

    While the table only stands turned, its bodies must not touch; how near they may stand is
    up to who placed them. A cable comes near nothing for the weld either, and may have a margin
    of its own.
    """
    if piece.cable is not None:
        return cable_margin(cell, piece.cable)
    if piece.body is None:
        return stretch.margin(cell.margins)
    return cell.margins.air if _axes_turn(track, axes_between(cell, piece, standing)) else 0.0


def unknown_place(piece: Piece, standing: Obstacle) -> float:
    """How much wider a pair's margin is since nobody knows better where its surfaces are, m."""
    return standing.known_to + piece.off_by


def own_margin(piece: Piece, standing: Obstacle) -> float:
    """Clearance asked of two of the arm's own parts, m: more where they are not exactly drawn."""
    return OWN_MARGIN + standing.known_to + piece.drawn_to


def largest_own_margin(cell: Cell) -> float:
    """Return a margin that no two of the arm's own parts, or the table's, are asked for more than.

    In m; ``own_margin`` of the two that are known least.
    """
    drawn = (piece.drawn_to for piece in cell.arm_pieces)
    known = (body.off_by for body in cell.bodies)
    return OWN_MARGIN + 2.0 * max((*drawn, *known, *cell.links_drawn_to), default=0.0)


def largest_margin(cell: Cell) -> float:
    """Return the largest margin that any pair of a cell may be asked for, m.

    Engines have to tell distances apart as far as that. Two bodies' places may both be unknown.
    """
    margins = cell.margins
    of_cables = (cable_margin(cell, cable) for cable in cell.cables)
    off = (*(piece.drawn_to for piece in cell.arm_pieces), cell.link_drawn_to(0))
    known = sorted((*(body.off_by for body in cell.bodies), *off))
    return max(margins.air, margins.approach, margins.seam, *of_cables) + sum(known[-2:])


def cable_margin(cell: Cell, cable: Cable) -> float:
    """Clearance asked of a cable wherever it is, m: its own, else that of air moves."""
    return cell.margins.air if cable.margin is None else cable.margin


def corner_margin(cell: Cell, piece: Piece) -> float:
    """Clearance asked of a piece to a body in a rounded corner, which lies in the air, m."""
    return cell.margins.air if piece.cable is None else cable_margin(cell, piece.cable)


def are_joined(piece: Piece, standing: Obstacle) -> bool:
    """Tell whether the two are neighbours: link 1 and base, slide and rail, table and stand."""
    if piece.body is not None:
        borne = TILT_FRAME if piece.body.on_tilt else TABLE
        return standing.bears == borne and piece.body.role is Role.TABLE
    return piece.link == 1 and (standing.role is None or standing.bears == "arm")


def comes_near(piece: Piece, standing: Obstacle, stretch: Stretch) -> bool:
    """Tell whether the two come near each other there by their nature, so that only contact counts.

    Wire and part near a weld, where ``wire_stretches`` hold, and what a search or a station wants
    to meet, where ``wanted_stretches`` do.
    """
    if are_wanted(piece, standing, stretch.wants):
        return True
    return stretch.zone is Zone.SEAM and are_wire_and_part(piece, standing)


def are_wanted(piece: Piece, standing: Obstacle, wants: Wanted | None) -> bool:
    """Tell whether these are the one piece of the torch and a body that it may meet."""
    if wants is None or not piece.is_torch or piece.cable is not None or standing.is_own:
        return False
    return piece.name == wants.piece and standing.name in wants.bodies and standing.role is not None


def are_wire_and_part(piece: Piece, standing: Obstacle) -> bool:
    """Tell whether the two touch when a seam is welded."""
    return piece.is_wire and standing.role is Role.PART
