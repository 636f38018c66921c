"""Chains that carry a piece relative to what it is measured against.

Two things that both move are one relative chain: seen from the turning table, the arm hangs
on one joint more, the table turned backwards (or two, where the table tilts too). The clearance
engine then only ever knows things that stand and pieces that a chain moves.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.forward import axis_frames, joint_batch, last_frames
from pathsim.geometry.mesh import Mesh
from pathsim.model.lever import chain_levers
from pathsim.model.turning_table import TiltAxis, TurningTable
from pathsim.transforms import Array, BoolArray, IntArray, inverse


@dataclass(frozen=True, eq=False)
class Linkage:
    """A chain in the frame of what stands: ``fixed``, ``ends``, ``prismatic`` as in ``Arm``.

    Its joints are the cell's axes ``columns`` times ``signs``. ``skip``: how many numbers the
    cell's links are behind the chain's (link 3 of the cell is link 3 - skip of the chain).
    """

    fixed: Array
    ends: Array
    prismatic: BoolArray
    columns: tuple[int, ...]
    signs: Array
    skip: int

    def __repr__(self) -> str:
        return f"Linkage({len(self.columns)} axes)"

    @cached_property
    def content(self) -> tuple[object, ...]:
        """All that it is made of, to find what was worked out of one that is the same."""
        arrays = (self.fixed, self.ends, self.prismatic, self.signs)
        return (*(array.tobytes() for array in arrays), self.columns, self.skip)

    def joints(self, q: Array) -> Array:
        """Chain joints ``(n, k)`` of axes ``q (n, axes)``."""
        return np.asarray(q[:, self._picked] * self.signs)

    @cached_property
    def _picked(self) -> slice | list[int]:
        """``columns`` as an index; neighbours as a slice, which copies nothing."""
        first = min(self.columns, default=0)
        behind = first + len(self.columns)
        is_row = self.columns == tuple(range(first, behind))
        return slice(first, behind) if is_row else list(self.columns)

    def link_poses(self, q: Array) -> Array:
        """Poses ``(n, links, 4, 4)`` of all links that move, the chain's link 1 first."""
        return np.asarray(axis_frames(self.fixed, self.joints(q), self.prismatic) @ self.ends)

    def poses_of(self, link: int, q: Array) -> Array:
        """Poses ``(n, 4, 4)`` of the cell's ``link`` alone, which moves."""
        count = link - self.skip
        qs = np.ascontiguousarray(self.joints(q)[:, :count])
        T = last_frames(self.fixed[:count], qs, self.prismatic[:count])
        return np.asarray(T @ self.ends[count - 1])

    def end_points(self, q: Array, point: Array) -> Array:
        """Where ``point (3,)`` of the last link is, ``(n, 3)``, at axes ``q (n, axes)``.

        Straight there: at hundreds of postures products of whole poses take most of the time.
        """
        qs, _ = joint_batch(self.joints(q), len(self.columns))
        T = last_frames(self.fixed, qs, self.prismatic)
        end = self.ends[-1]
        return np.asarray(T[:, :3, :3] @ (end[:3, :3] @ point + end[:3, 3]) + T[:, :3, 3])

    def for_tip(self, point: Array) -> tuple[Array, BoolArray, IntArray, Array, Array]:
        """Return what kernels must know to tell where ``point (3,)`` of the last link is.

        ``fixed (k, 4, 4)``, ``prismatic``, ``columns``, ``signs`` ``(k,)``, and the point on the
        last axis ``(3,)``.
        """
        end = self.ends[-1]
        return (*self._for_kernels, end[:3, :3] @ point + end[:3, 3])

    @cached_property
    def _for_kernels(self) -> tuple[Array, BoolArray, IntArray, Array]:
        columns = np.array(self.columns, np.int64)
        return np.array(self.fixed), np.array(self.prismatic), columns, np.array(self.signs)

    def levers(self, link: int, mesh: Mesh, stroke: Array) -> Array:
        """Levers ``(k,)`` of the chain's joints on a mesh of the cell's ``link``.

        ``stroke (axes,)``: how far sliding axes go (``Axes.stroke``).
        """
        strokes = stroke[list(self.columns)]
        return chain_levers(
            self.fixed, self.ends, self.prismatic, link - self.skip, mesh.corners, strokes
        )


def arm_in_world(arm: Arm, T_world_base: Array) -> Linkage:
    """Return the arm as it moves in the world; the same object for the same arm and place."""
    return _arm_in_world(arm, np.asarray(T_world_base, float).tobytes())


@lru_cache(maxsize=8)
def _arm_in_world(arm: Arm, base: bytes) -> Linkage:
    fixed = np.array(arm.fixed)
    fixed[0] = np.frombuffer(base).reshape(4, 4) @ fixed[0]
    columns = tuple(range(arm.dof))
    return Linkage(fixed, arm.ends, arm.prismatic, columns, np.ones(arm.dof), 0)


def arm_on_table(arm: Arm, T_world_base: Array, table: TurningTable) -> Linkage:
    """Return the arm as it moves seen from the turning table, whose axes turn the other way."""
    return _seen_from(arm, T_world_base, table.axes)


def arm_on_tilt(arm: Arm, T_world_base: Array, table: TurningTable) -> Linkage:
    """Return the arm as it moves seen from the tilt frame of a table of two axes."""
    return _seen_from(arm, T_world_base, table.axes[:-1])


def _seen_from(arm: Arm, T_world_base: Array, axes: tuple[TiltAxis | TurningTable, ...]) -> Linkage:
    """Return the arm as it moves seen from what the last of ``axes`` carries, the floor's first.

    The chain's first links are what that axis stands on, and so on down to the floor; the cell's
    links follow.
    """
    down = axes[::-1]
    places = [axis.T_world_axis for axis in down]
    between = [inverse(T) @ below for T, below in itertools.pairwise(places)]
    first = inverse(places[-1]) @ T_world_base @ arm.fixed[0]
    fixed = np.concatenate([[places[0], *between, first], arm.fixed[1:]])
    ends = np.concatenate([[inverse(T) for T in places], arm.ends])
    signs = np.append([-1.0] * len(down), np.ones(arm.dof))
    columns = (*(arm.dof + len(axes) - 1 - k for k in range(len(axes))), *range(arm.dof))
    slides = np.append([False] * len(down), arm.prismatic)
    return Linkage(fixed, ends, slides, columns, signs, -len(axes))


def table_in_world(arm: Arm, table: TurningTable) -> Linkage:
    """Return the table as it moves in the world; its links are the cell's behind the flange."""
    return _carried_by_axes(table.axes, arm.dof)


def table_on_tilt(arm: Arm, table: TurningTable) -> Linkage:
    """Return the table as it turns seen from the tilt frame that carries it."""
    return _carried_by_axes(table.axes[-1:], arm.dof + len(table.axes) - 1)


def _carried_by_axes(axes: tuple[TiltAxis | TurningTable, ...], first: int) -> Linkage:
    """Return a chain of axes, each on the one before; ``first``: column of the first of them."""
    places = [axis.T_world_axis for axis in axes]
    fixed = [places[0], *(inverse(T) @ above for T, above in itertools.pairwise(places))]
    ends = np.array([inverse(T) for T in places])
    count = len(axes)
    columns = tuple(first + k for k in range(count))
    no_slides = np.zeros(count, dtype=bool)
    return Linkage(np.array(fixed), ends, no_slides, columns, np.ones(count), first)


@lru_cache(maxsize=64)
def arm_on_link(arm: Arm, link: int) -> Linkage:
    """Return what follows ``link`` (from 1) as it moves seen from that link.

    It depends on the arm alone, and a cell is made anew with each point that is dragged.
    """
    first = inverse(arm.ends[link - 1]) @ arm.fixed[link]
    fixed = np.concatenate([first[None], arm.fixed[link + 1 :]])
    columns = tuple(range(link, arm.dof))
    return Linkage(
        fixed, arm.ends[link:], arm.prismatic[link:], columns, np.ones(len(columns)), link
    )
