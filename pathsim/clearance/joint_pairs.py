"""What one joint holds together: exempt where it touches by design, measured everywhere else.

Two castings meet round the axis of their joint, a slide runs on its guides, a turning table rests
on its stand: contact there is what was built. The rest of the one is measured against the rest of
the other by the engine, as all other parts of the arm are, unless it is proved that they stay apart
over all values that the joint takes (``joint_range.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from pathsim.arm import Arm
from pathsim.clearance.contact_rules import are_joined
from pathsim.clearance.joint_range import JointRange, Sides
from pathsim.clearance.joint_store import Apart
from pathsim.clearance.obstacle import ARM_BASE, Obstacle
from pathsim.clearance.records import Inner
from pathsim.model import Body, Cable, Cell, Mesh, Piece, Role, Torch, TurningTable
from pathsim.model.piece import link_name
from pathsim.model.shared_room import SharedRoom
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, inverse

Pair = tuple[Piece, Obstacle]
_INNER = {Apart.INSIDE: Inner.MOVING, Apart.AROUND: Inner.STANDING}


@dataclass(frozen=True, eq=False)
class Joined:
    """Two things that one joint joins: ``piece`` and ``standing``, both whole.

    ``number``: which of the cell's they are. ``column``: of the joint among the cell's axes.
    """

    number: int
    piece: Piece
    standing: Obstacle
    column: int
    range: JointRange

    @cached_property
    def pair(self) -> Pair | None:
        """What is left of the two, as the engine measures it; None where that is nothing."""
        standing, moving = self.range.rest
        if standing is None or moving is None:
            return None
        sides, piece, thing = self.range.sides, self.piece, self.standing
        left = Piece(
            piece.name, piece.link, moving.moved(inverse(sides.T_axis_moving)), piece.is_torch,
            piece.body, piece.cable, drawn_to=piece.drawn_to,
        )  # fmt: skip
        held = Obstacle(
            thing.name, thing.role, standing.moved(inverse(sides.T_axis_standing)),
            thing.T_ref_mesh, thing.on_table, thing.bears, thing.carrier, self.number,
            known_to=thing.known_to, on_tilt=thing.on_tilt,
        )  # fmt: skip
        return left, held

    def apart(self, tracks: Sequence[MoveTrack]) -> Apart:
        """Tell what is known of the two over all values that the joint takes on moves."""
        low, high = values_on(tracks)
        return self.range.over(float(low[self.column]), float(high[self.column]))


def values_on(tracks: Sequence[MoveTrack]) -> tuple[Array, Array]:
    """Return the least and the largest value of each axis on moves, ``(axes,)`` each.

    Of each move they are kept with it: of a point that is dragged most moves stay as they were.
    """

    def ends(track: MoveTrack) -> Array:
        q = track.q
        found: Array = track.kept.once("ends", lambda: np.stack([q.min(axis=0), q.max(axis=0)]))
        return found

    each = np.array([ends(track) for track in tracks])
    return each[:, 0].min(axis=0), each[:, 1].max(axis=0)


def joined_of(cell: Cell) -> tuple[Joined, ...]:
    """Return everything that one joint of a cell joins; the same objects for the same things."""
    bearing = tuple(body for body in cell.bodies if body.bears is not None)
    turning = tuple(b for b in cell.bodies if b.is_carried and b.role is Role.TABLE)
    return _joined(
        cell.arm, cell.T_world_base.tobytes(), cell.link_meshes, cell.approximate_links,
        cell.cables, bearing, turning, cell.table, cell.links_drawn_to,
    )  # fmt: skip


class JoinedPairs(NamedTuple):
    """Pairs that joints join, over all that a program does.

    ``asked``: what is left of those that an engine has to tell about; ``inside``: which lies in the
    other, for those of them in which one does. ``proved``: whole, and apart without any engine.
    """

    asked: list[Pair]
    inside: dict[Pair, Inner]
    proved: list[Pair]


def joined_pairs(cell: Cell, tracks: Sequence[MoveTrack]) -> JoinedPairs:
    """Return the pairs that a cell's joints join, sorted by what is known of them on moves."""
    found = JoinedPairs([], {}, [])
    if not tracks:
        return found
    low, high = (ends.tolist() for ends in values_on(tracks))
    for one in joined_of(cell):
        apart = one.range.over(low[one.column], high[one.column])
        if apart is Apart.PROVED:
            found.proved.append((one.piece, one.standing))
        elif apart is not Apart.EXEMPT and one.pair is not None:
            found.asked.append(one.pair)
            if apart in _INNER:
                found.inside[one.pair] = _INNER[apart]
    return found


def own_pairs(cell: Cell) -> list[tuple[Piece, Obstacle]]:
    """Which pieces of the arm are measured against which others: all that no one joint joins.

    A joint holds two castings together, and what is on one link stands still to each other.
    The torch is measured against all castings but the one that carries it. A cable counts as
    what carries it: one on the last link as the torch, any other as a casting. Solids that
    stand for castings and share room by construction count as held together; the torch does not.
    """
    return list(_own_pairs(cell.arm_pieces, cell.shared_room.joined))


@lru_cache(maxsize=8)
def _own_pairs(pieces: tuple[Piece, ...], joined: tuple[tuple[int, int], ...]) -> tuple[Pair, ...]:
    """Return them; the same objects for the same pieces."""
    pairs, shared_room = [], SharedRoom(joined=joined)
    for held in pieces:
        if held.is_torch:
            continue
        thing = Obstacle(held.name, None, held.mesh, np.eye(4), carrier=held.link,
                         known_to=held.drawn_to)  # fmt: skip
        for piece in pieces:
            apart = 1 if piece.is_torch else 2
            is_joined = not piece.is_torch and shared_room.are_joined(held.link, piece.link)
            if piece.link - held.link >= apart and not is_joined:
                pairs.append((piece, thing))
    return tuple(pairs)


def engine_pairs(cell: Cell, tracks: Sequence[MoveTrack]) -> list[Pair]:
    """Return all pairs of the arm and the table themselves that an engine is asked about."""
    return [*own_pairs(cell), *joined_pairs(cell, tracks).asked]


@dataclass(frozen=True, eq=False)
class Mount:
    """A piece of the torch on the last link, which it never moves against."""

    piece: Piece
    range: JointRange


def mounts_of(cell: Cell) -> tuple[Mount, ...]:
    """Return how each piece of the torch sits on the link that carries it."""
    if cell.arm.dof in cell.approximate_links:
        return ()  # a solid holds more than the casting: the torch may well begin within it
    return _mounts(cell.arm, cell.link_meshes[-1], cell.torch)


@lru_cache(maxsize=8)
def _mounts(arm: Arm, mesh: Mesh | None, torch: Torch) -> tuple[Mount, ...]:
    T = arm.ends[-1]
    return tuple(
        Mount(
            Piece(piece.name, arm.dof, piece.mesh, is_torch=True),
            JointRange(Sides(mesh, piece.mesh, T, T, False, (0.0, 0.0), is_mount=True)),
        )
        for piece in torch.pieces
        if mesh is not None
    )


@lru_cache(maxsize=8)
def _joined(
    arm: Arm,
    base: bytes,
    meshes: tuple[Mesh | None, ...],
    solids: tuple[int, ...],
    cables: tuple[Cable, ...],
    bearing: tuple[Body, ...],
    turning: tuple[Body, ...],
    table: TurningTable | None,
    drawn_to: tuple[float, ...],
) -> tuple[Joined, ...]:
    found: list[Joined] = []
    T_world_base = np.frombuffer(base).reshape(4, 4)

    def join(
        piece: Piece,
        standing: Obstacle,
        T_axis_standing: Array,
        solids: bool = False,
        castings: JointRange | None = None,
    ) -> JointRange:
        column = piece.link - 1
        if piece.body is None:
            limits = float(arm.lower[column]), float(arm.upper[column])
            is_slide, T_axis_moving = bool(arm.prismatic[column]), arm.ends[column]
        else:
            assert table is not None  # noqa: S101 - it holds the body
            axis = table.axes[column - arm.dof]
            limits = float(axis.lower), float(axis.upper)
            is_slide, T_axis_moving = False, inverse(axis.T_world_axis)
        sides = Sides(
            standing.source, piece.mesh, T_axis_standing, T_axis_moving, is_slide, limits, solids,
            castings, grows=castings is None and not is_slide, rests=piece.body is not None,
        )  # fmt: skip
        joint = JointRange(sides)
        found.append(Joined(len(found), piece, standing, column, joint))
        return joint

    def off(link: int) -> float:
        return drawn_to[link] if drawn_to else 0.0

    def before(link: int) -> Array:
        """Pose of what carries a link's joint in the frame of its axis: a link, or the base."""
        ends = arm.ends[link - 2] if link > 1 else np.eye(4)
        return np.asarray(inverse(arm.fixed[link - 1]) @ ends)

    def carriers(link: int) -> list[tuple[Obstacle, Array]]:
        """Return what the joint of a link stands on: what is before it, or the bed of a rail."""
        mesh = meshes[link - 1]
        said = []
        if mesh is not None and link == 1:
            foot = Obstacle(ARM_BASE, None, mesh, T_world_base, known_to=off(0))
            said.append((foot, before(link)))
        elif mesh is not None:
            name = link_name(arm, link - 1)
            held = Obstacle(name, None, mesh, np.eye(4), carrier=link - 1, known_to=off(link - 1))
            said.append((held, before(link)))
        for body in bearing if link == 1 else ():
            if body.bears == "arm":
                bed = _standing(body)
                T = before(link) @ inverse(T_world_base) @ body.T_world_body
                said.append((bed, np.asarray(T)))
        return said

    for link in range(1, arm.dof + 1):
        castings = None
        mesh = meshes[link]
        for standing, T in carriers(link):
            if mesh is not None:
                piece = Piece(link_name(arm, link), link, mesh, is_torch=False, drawn_to=off(link))
                are_solids = link in solids or link - 1 in solids
                castings = join(piece, standing, T, are_solids)
            for cable in cables:
                if cable.link == link < arm.dof:
                    piece = Piece(cable.name, link, cable.core, is_torch=False, cable=cable)
                    join(piece, standing, T, castings=castings)
        for cable in cables:
            if mesh is not None and cable.link == link - 1:
                piece = Piece(link_name(arm, link), link, mesh, is_torch=False, drawn_to=off(link))
                held = Obstacle(cable.name, None, cable.core, np.eye(4), carrier=link - 1)
                join(piece, held, before(link), castings=castings)
    for piece, standing in _on_its_bearing(arm, bearing, turning, table):
        axis = table.axes[piece.link - arm.dof - 1]  # type: ignore[union-attr]
        join(piece, standing, np.asarray(inverse(axis.T_world_axis) @ standing.T_ref_mesh))
    return tuple(found)


def _standing(body: Body) -> Obstacle:
    return Obstacle(
        body.name, body.role, body.mesh, body.T_world_body, False, body.bears, on_tilt=body.on_tilt
    )


def _on_its_bearing(
    arm: Arm, bearing: tuple[Body, ...], turning: tuple[Body, ...], table: TurningTable | None
) -> Iterator[Pair]:
    """Give what the table's axes carry, with what bears it: the plate and its stand, say."""
    for stand in bearing if table is not None else ():
        for body in turning:
            assert table is not None  # noqa: S101 - asked above
            # What turns is behind the last of the table's axes, what tilts alone behind the first.
            link = arm.dof + (1 if body.on_tilt else len(table.axes))
            mesh = body.mesh.moved(body.T_world_body)
            pair = Piece(body.name, link, mesh, is_torch=False, body=body), _standing(stand)
            if are_joined(*pair):
                yield pair
