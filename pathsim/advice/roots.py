"""Where an air section may leave a weld, or come to it: tips of straight legs that are clear."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.proposal import off_habit
from pathsim.advice.section import SectionEnd, far_from
from pathsim.findings.places import joints_beside_each, plain_ways, up
from pathsim.model import Cell, Move
from pathsim.transforms import Array, rotation_about

#: Lengths of legs that are tried, m: what a programmer would teach, to 10 mm.
LENGTHS = (0.03, 0.05, 0.08, 0.11, 0.15, 0.20, 0.25, 0.30, 0.40)
#: How far legs lean to a side, and how far the torch is turned about its wire, rad.
LEAN = np.radians(30.0)
#: What a leg counts for besides that goes neither along the wire nor straight up, s.
UNPLAIN = 0.25
#: A tip that is no nearer to a joint limit than this is roomy, rad.
_ROOMY = np.radians(5.0)
#: The tip of a leg keeps so much over the margin of the air, m.
SPARE = 5e-4


@dataclass(frozen=True, eq=False)
class Direction:
    """A way out of a weld: ``way (3,)``, in words, with the torch turned about its wire by rad.

    ``is_plain``: along the wire or straight up, as most are taught.
    """

    words: str
    way: Array
    turn: float = 0.0
    is_plain: bool = False

    @property
    def off_habit(self) -> float:
        """What it counts for besides that it is not the trade's habit, s."""
        return off_habit(self.words) if self.is_plain else UNPLAIN


@dataclass(frozen=True, eq=False)
class Root:
    """Where the joint moves of a section may start or end: axes ``q (axes,)``.

    ``seconds``: what the leg takes, s. ``direction``, ``length`` m: of a leg to teach; None and 0
    where there is nothing to teach. ``seam``: the weld's move where the joint move itself is by it.
    """

    q: Array
    seconds: float = 0.0
    direction: Direction | None = None
    length: float = 0.0
    seam: Move | None = None

    @property
    def is_taught(self) -> bool:
        """True when its point has to be taught."""
        return self.direction is not None


def directions(cell: Cell, q: Array) -> Iterator[Direction]:
    """Yield the directions in which a weld may be left at axes ``q``, plain ones first."""
    T, bases = cell.tool_poses(q[None])[0], plain_ways(cell, q)
    for words, way in bases:
        yield Direction(words, way, is_plain=True)
    if len(bases) > 1:
        mixed = bases[0][1] + bases[1][1]
        if np.linalg.norm(mixed) > 0.2:
            yield Direction("half way between up and the wire", mixed / np.linalg.norm(mixed))
    for words, way in bases:
        side = T[:3, 1] - (T[:3, 1] @ way) * way
        if np.linalg.norm(side) < 0.2:
            side = np.cross(way, T[:3, 0])
        side = side / np.linalg.norm(side)
        for axis in (side, np.cross(way, side)):
            for angle in (LEAN, -LEAN):
                turned = rotation_about(axis, angle) @ way
                yield Direction(f"{words}, leaning {_towards(turned - way)}", turned)
    for words, way in bases:
        for angle in (LEAN, -LEAN):
            sign = "+" if angle > 0 else "-"
            turn = f"{words} with the torch turned {sign}{np.degrees(LEAN):.0f} deg about its wire"
            yield Direction(turn, way, angle)


def _towards(lean: Array) -> str:
    """Say along which axis of the world a leg leans."""
    column = int(np.argmax(np.abs(lean)))
    return f"30 deg towards {'+' if lean[column] > 0 else '-'}{'xyz'[column]}"


def tool_at_length(T: Array, direction: Direction, length: float) -> Array:
    """Return the tool's pose ``(4, 4)`` at a leg's tip, as at the weld (``T``) but for its turn."""
    T = T.copy()
    T[:3, 3] += length * direction.way
    if direction.turn:
        T[:3, :3] = T[:3, :3] @ rotation_about(up(), direction.turn)
    return T


def roots(cell: Cell, prover: EdgeProver, end: SectionEnd, *, leaves: bool) -> list[Root]:
    """Return where the joint moves may start (``leaves``) or end, beside one end of a section."""
    if end.seam is None:
        is_clear = prover.spare([Edge(end.q, end.q)])[0] >= 0
        return [Root(end.q)] if is_clear else []  # no way there is clear at its end
    found = []
    if end.leg_q is None:
        found.append(Root(end.q, seam=end.seam))
    else:
        leg = _leg(end, end.leg_q, leaves=leaves)
        if (prover.spare([leg, Edge(end.leg_q, end.leg_q)]) >= 0).all():
            found.append(Root(end.leg_q, prover.seconds(leg)))
    return [*found, *_legs(cell, prover, end, leaves=leaves)]


def _leg(end: SectionEnd, tip: Array, *, leaves: bool) -> Edge:
    if leaves:
        return Edge(end.q, tip, is_straight=True, leaves=end.seam)
    return Edge(tip, end.q, is_straight=True, comes=end.seam)


def _legs(cell: Cell, prover: EdgeProver, end: SectionEnd, *, leaves: bool) -> list[Root]:
    """Find how long each leg may be, and keep the tips that are well off everything.

    Looks at the tips come first: the longest leg that looks clear mostly is, and proves all shorter
    ones in its direction. Where it is not, how long a leg may be is found by halving.
    """
    ways = list(directions(cell, end.q))
    tips = _within_reach(cell, end.q, ways)
    # Looks are enough: the moves that start or end there are proved with their ends.
    off = _looks(prover, tips, SPARE)
    # Of each direction so many lengths are clear, and so many are not or are no use.
    clear = [0] * len(ways)
    margins = cell.margins
    is_open = _looks(prover, tips, min(margins.approach - margins.air, 0.0))
    beyond = [1 + _longest(prover, way, off[k], is_open[k]) for k, way in enumerate(ways)]
    at = [many - 1 for many in beyond]
    while True:
        asked = [k for k in range(len(ways)) if beyond[k] - clear[k] > 1]
        if not asked:
            break
        spares = prover.spare([_leg(end, tips[k][at[k] - 1], leaves=leaves) for k in asked])
        for k, spare in zip(asked, spares.tolist(), strict=True):
            if spare >= 0:
                clear[k] = at[k]
            else:
                beyond[k] = at[k]
            at[k] = (clear[k] + beyond[k]) // 2
    speed = prover.straight_speed
    return [
        Root(tips[k][n], LENGTHS[n] / speed + 0.1, way, LENGTHS[n])
        for k, way in enumerate(ways)
        for n in range(clear[k])
        if off[k][n]
    ]


def _longest(
    prover: EdgeProver, way: Direction, off: Sequence[bool], is_open: Sequence[bool]
) -> int:
    """Return how many lengths of a direction are of use: the last one's tip is well off everything.

    ``is_open``: where a tip is not seen too near for a leg. It goes by the tips of all shorter
    ones, but where the torch turns meanwhile; near the weld other margins hold.
    """
    count = len(off)
    if not way.turn:
        shut = (n for n in range(count) if not is_open[n] and LENGTHS[n] > prover.weld_radius)
        count = next(shut, count)
    return max((n + 1 for n in range(count) if off[n]), default=0)


def _looks(prover: EdgeProver, tips: Sequence[Sequence[Array]], need: float) -> list[list[bool]]:
    """Tell of each direction's tips whether they look ``need`` m off everything."""
    found = iter(prover.look_off([q for each in tips for q in each], need).tolist())
    return [[next(found) for _ in each] for each in tips]


def _within_reach(cell: Cell, q: Array, ways: Sequence[Direction]) -> list[list[Array]]:
    """Return tips of each direction from the shortest leg on, up to where one cannot be.

    That is the first out of reach, or without room. All directions at once, length by length.
    """
    tips: list[list[Array]] = [[] for _ in ways]
    axes, T = cell.axes, cell.tool_poses(q[None])[0]
    least = np.where(axes.prismatic, 0.0, np.minimum(_ROOMY, axes.room(q)))
    last, going = [q for _ in ways], list(range(len(ways)))
    for length in LENGTHS:
        if not going:
            break
        poses = np.stack([tool_at_length(T, ways[k], length) for k in going])
        # A search may start from the tip before, too.
        starts = [np.tile(q, (len(going), 1)), np.stack([last[k] for k in going])]
        found, on = joints_beside_each(cell, poses, starts), going
        going = []
        for k, tip in zip(on, found, strict=True):
            if tip is None or (axes.room(tip) < least).any() or far_from(tip, last[k]) > 1.5:
                continue
            tips[k].append(tip)
            last[k] = tip
            going.append(k)
    return tips
