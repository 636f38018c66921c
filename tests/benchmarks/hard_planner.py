"""Whether a hard cell can be cured at all, by a planner that knows nothing of the advice.

Legs from the weld, then two trees in joint space (RRT-Connect) whose edges are sampled densely
with python-fcl; what it finds is put in the program and checked. It is slow, plain, and may miss
a way: what it finds is a lower bound of what can be cured.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import fcl
import numpy as np

from pathsim.clearance.contact_rules import are_wire_and_part, pairs_to_measure
from pathsim.clearance.obstacle import obstacles
from pathsim.findings import Level
from pathsim.findings.places import joints_at
from pathsim.model import Move, MoveKind, Point
from pathsim.transforms import frozen, rotation_about

#: Farthest that a joint turns between two samples, rad; longest edge of the trees, rad.
STEP, EDGE = np.radians(1.5), 0.7
HEIGHTS = (0.03, 0.05, 0.08, 0.12, 0.16, 0.2, 0.25, 0.3)
SPARE = 2e-4
UP = np.array([0.0, 0.0, 1.0])
HITS = ("contact", "near-hit")


@dataclass(frozen=True, eq=False)
class Section:
    """Air moves ``first`` to ``last`` between two seams, or between a seam and an end."""

    first: int
    last: int
    leaves: bool
    comes: bool


def sections(cell):
    """The air sections of a program, in order."""
    moves, found, first = cell.program.moves, [], None
    for k, move in enumerate(moves):
        if move.arc_on:
            if first is not None:
                found.append(Section(first, k - 1, first > 0, comes=True))
            first = None
        elif first is None:
            first = k
    if first is not None:
        found.append(Section(first, len(moves) - 1, first > 0, comes=False))
    return found


def air_hits(result, section):
    """Contacts and near-hits, stop or watch, on the moves of a section."""
    return [f for f in result.findings if f.kind in HITS and f.level.at_least(Level.WATCH)
            and f.move is not None and section.first <= f.move - 1 <= section.last]  # fmt: skip


class Sampler:
    """Distances of everything on the arm from everything that stands, at single postures."""

    def __init__(self, cell, track, bodies=None):
        self.cell, self.dof = cell, cell.arm.dof
        self.pairs = [
            (piece, thing, are_wire_and_part(piece, thing))
            for piece, thing in pairs_to_measure(cell, track, obstacles(cell))
            if bodies is None or thing.name in bodies
        ]
        self.moving = {piece: _object(piece.mesh) for piece, _, _ in self.pairs}
        self.still = {thing: _object(thing.mesh) for _, thing, _ in self.pairs}
        self.balls = {piece: _ball(piece.mesh) for piece in self.moving}
        self.boxes = {t: (t.mesh.vertices.min(axis=0), t.mesh.vertices.max(axis=0))
                      for t in self.still}  # fmt: skip
        self.last = 0

    def keeps(self, q, margin, wire_margin):
        """Tell whether all pairs keep a margin, wire and part their own (None: not asked)."""
        links = self.cell.T_world_base @ self.cell.arm.link_poses(q[: self.dof])
        placed = {}
        order = [*self.pairs[self.last :], *self.pairs[: self.last]]
        for k, (piece, thing, is_weld) in enumerate(order):
            asked = wire_margin if is_weld else margin
            if asked is None:
                continue
            T = links[piece.link]
            centre, radius = self.balls[piece]
            here = T[:3, :3] @ centre + T[:3, 3]
            low, high = self.boxes[thing]
            off = np.maximum(np.maximum(low - here, here - high), 0.0)
            if np.sqrt(off @ off) - radius > asked:
                continue
            if piece not in placed:
                self.moving[piece].setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))
                placed[piece] = True
            if fcl.distance(self.moving[piece], self.still[thing]) <= asked + SPARE:
                self.last = (self.last + k) % len(self.pairs)
                return False
        return True


def _object(mesh):
    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(mesh.vertices, mesh.faces)
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform())


def _ball(mesh):
    centre = 0.5 * (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0))
    return centre, float(np.linalg.norm(mesh.vertices - centre, axis=1).max())


class Planner:
    """Looks for a clear way through one section, within a number of edges and CPU seconds."""

    def __init__(self, session, result, section, seconds=10.0, edges=1500):
        self.session, self.before, self.cell, self.section = session, result, result.cell, section
        tracks = result.trajectory.tracks
        self.sampler = Sampler(self.cell, tracks[section.first])
        self.a, self.b = tracks[section.first].q[0], tracks[section.last].q[-1]
        self.until, self.left = time.process_time() + seconds, edges
        self.rng = np.random.default_rng(7)
        straight = [m.speed for m in self.cell.program.moves
                    if m.kind is MoveKind.LINEAR and not m.arc_on]  # fmt: skip
        self.slow = straight[-1] if straight else 0.1
        self.fast = next(m.speed for m in self.cell.program.moves if m.kind is MoveKind.JOINT)
        self.known = {}

    def solve(self):
        """Return (need, added seconds, points on the way); None where no way was found."""
        roots = [self._legs(self.a) if self.section.leaves else [(True, self.a)],
                 self._legs(self.b) if self.section.comes else [(True, self.b)]]  # fmt: skip
        if not roots[0] or not roots[1]:
            return None
        best = None
        for plain in (True, False):
            ways = [(a, b) for p, a in roots[0] for r, b in roots[1]
                    if (p and r) == plain]  # fmt: skip
            ways.sort(key=lambda way: float(np.abs(way[1] - way[0]).max()))
            for a, b in ways[:60]:
                if self.edge(a, b):
                    added = self.added([a, b])
                    if added is not None:
                        best = ("plain leg" if plain else "other leg", added, 0)
                        break
            if best is not None:
                return best
        for _ in range(2):
            way = self._trees([q for _, q in roots[0]], [q for _, q in roots[1]])
            if way is None:
                continue
            way = self._cut(way)
            added = self.added(way) if len(way) <= 4 else None
            if added is not None and (best is None or added < best[1]):
                best = ("point on the way", added, len(way) - 2)
        return best

    def added(self, way):
        """Seconds that the program takes longer by a way; None when the check denies it."""
        cell, section = self.cell, self.section
        moves, points, names = [], dict(cell.points), []
        for k, q in enumerate(way):
            is_end = (k == 0 and not section.leaves) or (k == len(way) - 1 and not section.comes)
            if not is_end:
                names.append(f"planned {section.first} {k}")
                points[names[-1]] = Point(names[-1], frozen(q), None)
        todo = list(names)
        if section.leaves:
            moves.append(Move(MoveKind.LINEAR, todo.pop(0), self.slow))
        moves += [Move(MoveKind.JOINT, name, self.fast) for name in todo]
        end = cell.program.moves[section.last].target
        if section.comes:
            moves.append(Move(MoveKind.LINEAR, end, self.slow))
        else:
            moves.append(Move(MoveKind.JOINT, end, self.fast))
        old = cell.program.moves
        program = (*old[: section.first], *moves, *old[section.last + 1 :])
        other = replace(cell, points=points, program=replace(cell.program, moves=program))
        after = self.session.check(other)
        new = Section(section.first, section.first + len(moves) - 1, section.leaves, section.comes)
        rest = [f for f in after.findings if f.level.at_least(Level.WATCH) and f.move is not None
                and new.first <= f.move - 1 <= new.last]  # fmt: skip
        if rest:
            return None
        return after.trajectory.duration - self.before.trajectory.duration

    def edge(self, a, b):
        """Tell whether a joint move keeps the air margin at all of its samples."""
        count = max(int(np.ceil(np.abs(b - a).max() / STEP)), 1)
        shares = sorted(range(count + 1), key=lambda k: _bits(k, count))
        return all(self.free(a + (k / count) * (b - a)) for k in shares)

    def free(self, q):
        """Tell whether a posture keeps the air margin, and the arm its limits."""
        axes = self.cell.axes
        room = (axes.room(q) > np.where(axes.prismatic, 0.0, np.radians(1.0))).all()
        return bool(room) and self.sampler.keeps(q, self.cell.margins.air, self.cell.margins.air)

    def _legs(self, q):
        """Tips of clear straight legs from a weld point: (plain, q)."""
        T = self.cell.tool_poses(q[None])[0]
        wire = -T[:3, 2]
        ways = [(True, UP, 0.0), (True, wire, 0.0)]
        mixed = (UP + wire) / max(np.linalg.norm(UP + wire), 1e-9)
        ways.append((False, mixed, 0.0))
        for base in (UP, wire):
            side = np.cross(base, T[:3, 0]) if abs(base @ T[:3, 0]) < 0.9 else T[:3, 1]
            side = side / np.linalg.norm(side)
            for axis in (side, np.cross(base, side)):
                turns = [rotation_about(axis, np.radians(angle)) for angle in (-30, 30)]
                ways += [(False, turn @ base, 0.0) for turn in turns]
        ways += [(False, wire, 30.0), (False, wire, -30.0), (False, UP, 30.0), (False, UP, -30.0)]
        return [tip for way in ways for tip in self._leg(q, T, *way)]

    def _leg(self, q, T, plain, way, turn):
        margins, length = self.cell.margins, self.cell.torch.wire_length
        tips, near = [], q
        for k in range(1, round(HEIGHTS[-1] / 0.005) + 1):
            off = 0.005 * k
            pose = T.copy()
            pose[:3, 3] = T[:3, 3] + off * way
            near = joints_at(self.cell, pose, near)
            if near is None or not (self.cell.axes.room(near) > 0).all():
                break
            by_weld = off <= length
            asked = margins.seam if by_weld else margins.approach
            if not self.sampler.keeps(near, asked, None if by_weld else margins.approach):
                break
            if not any(abs(off - h) < 1e-6 for h in HEIGHTS):
                continue
            tip = near
            if turn:
                pose[:3, :3] = pose[:3, :3] @ rotation_about(UP, np.radians(turn))
                tip = joints_at(self.cell, pose, near)
            if tip is not None and self.free(tip):
                tips.append((plain, tip))
        return tips

    def _trees(self, starts, ends):
        low = np.minimum(np.min(starts, axis=0), np.min(ends, axis=0)) - 1.5
        high = np.maximum(np.max(starts, axis=0), np.max(ends, axis=0)) + 1.5
        axes = self.cell.axes
        low, high = np.maximum(low, axes.lower), np.minimum(high, axes.upper)
        for held in axes.held:
            low[held] = high[held] = starts[0][held]
        trees = [[(q, -1) for q in starts], [(q, -1) for q in ends]]
        side = 0
        while self.left > 0 and time.process_time() < self.until:
            target = self.rng.uniform(low, high)
            new = self._grow(trees[side], target)
            if new is not None and self._meets(trees[1 - side], trees[side][new][0]):
                parts = [_branch(trees[side], new), _branch(trees[1 - side], -1)]
                if side == 1:
                    parts.reverse()
                return [*parts[0][::-1], *parts[1][1:]]
            side = 1 - side
        return None

    def _grow(self, tree, target):
        nearest = int(np.argmin([np.abs(q - target).max() for q, _ in tree]))
        q = tree[nearest][0]
        size = float(np.abs(target - q).max())
        if size < 1e-9:
            return None
        step = target if size <= EDGE else q + (target - q) * (EDGE / size)
        self.left -= 1
        if not self.edge(q, step):
            return None
        tree.append((step, nearest))
        return len(tree) - 1

    def _meets(self, tree, place):
        while self.left > 0:
            new = self._grow(tree, place)
            if new is None:
                return False
            if np.array_equal(tree[new][0], place):
                return True
        return False

    def _cut(self, way):
        """Leave out points, then pull the rest towards the straight way at random places."""
        way = self._left_out(way)
        for _ in range(60):
            if len(way) < 3 or time.process_time() > self.until + 5:
                break
            k = int(self.rng.integers(1, len(way) - 1))
            middle = 0.5 * (way[k - 1] + way[k + 1])
            q = way[k] + self.rng.uniform(0.1, 0.9) * (middle - way[k])
            if self.edge(way[k - 1], q) and self.edge(q, way[k + 1]):
                way[k] = q
                way = self._left_out(way)
        return way

    def _left_out(self, way):
        k = 0
        while k + 2 < len(way):
            if self.edge(way[k], way[k + 2]):
                del way[k + 1]
                k = max(k - 1, 0)
            else:
                k += 1
        return way


def _bits(k, count):
    """Ends first, then halves, quarters: a hit in the middle is found early."""
    if k in (0, count):
        return 0
    half, depth, low, high = count / 2, 1, 0.0, float(count)
    while abs(k - half) > 0.5 and depth < 12:
        low, high = (low, half) if k < half else (half, high)
        half, depth = 0.5 * (low + high), depth + 1
    return depth


def _branch(tree, at):
    part, at = [], at % len(tree)
    while at >= 0:
        part.append(tree[at][0])
        at = tree[at][1]
    return part
