"""Whether the torch is drawn in one size, is all there, and has its wire come out of the nozzle.

Told from the meshes alone, in the frame of the tool centre point: z runs along the wire.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.findings.bore import Outline, outline
from pathsim.findings.doubt import Doubt
from pathsim.findings.drawn_in import Guess, guesses, question
from pathsim.findings.finding import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.point_distance import surface_distance
from pathsim.model import Torch
from pathsim.transforms import Array, apply, frozen, pose
from pathsim.units import degrees, millimetres

#: A contact tip that is not drawn may stand out of the nozzle by so much (common practice: up to
#: 3 mm; one more for the drawing), m; farther out is looked for in steps, to say by how much.
_MAY_STAND_OUT = 0.004
_STANDS_OUT = np.arange(0.0, 0.0301, 0.0005)
#: Only what is so near to the wire is the torch's end, m.
_ROUND_WIRE = 0.04
#: Less wire than this in front of the nozzle, and the nozzle is on the work, m.
_LEAST_FREE = 0.002
#: The wire is in the middle when it keeps this share of the nozzle's radius on its near side.
_IN_THE_MIDDLE = 0.6
#: The nozzle's own line is told so far behind its mouth, where a cut is whole though the wire is
#: askew, and over so much of it, m; it may be askew by so much, rad.
_MOUTH = 0.010
_END = 0.015
_ASKEW = np.radians(15.0)
#: Gaps between flange and nozzle longer than this are pieces that were left out, m.
_GAP = 0.04
#: A tool centre point is not nearer to the flange than so much of what is farthest from it.
_FRONT = 0.7
#: Half the width of a flange, m.
_FLANGE = 0.06
#: Stick-outs of arc welding, m (common practice: 6 to 25 mm with solid wire, up to 75 mm with
#: self-shielded wire), wires, and pieces of a torch.
_STICK_OUT = (0.005, 0.075)
_LONG_STICK_OUT = 0.04
_WIRE = (0.0005, 0.005)
_PIECE = (0.008, 1.2)


def torch_doubts(torch: Torch) -> tuple[Doubt, ...]:
    """Return what is doubtful about a torch, told once; nothing where it is as torches are."""
    return _known(torch)


@lru_cache(maxsize=4)
def _known(torch: Torch) -> tuple[Doubt, ...]:
    return tuple(_doubts(torch))


def _doubts(torch: Torch) -> Iterator[Doubt]:
    yield from _wire(torch)
    low, high = _STICK_OUT
    if not low <= torch.wire_length <= high:
        said = f"The stick-out is {millimetres(torch.wire_length)}; 6 to 25 mm is common practice."
        wrong: _Fault | None = _Fault(said, "Is its unit right?")
    else:
        wrong = _fault(torch)
    if wrong is None:
        return
    for cure in _cures(torch):
        if low <= cure.torch.wire_length <= high and _fault(cure.torch) is None:
            text = f"{wrong.text} {cure.question}"
            yield _doubt(text, cure.pieces, factor=cure.factor)
            return
    yield _doubt(f"{wrong.text} {wrong.cure}", ())


def _doubt(text: str, pieces: tuple[str, ...], factor: float = 1.0) -> Doubt:
    numbers = {} if factor == 1.0 else {"factor": factor}
    kind = FindingKind.UNLIKELY_TORCH
    finding = Finding(Level.WATCH, kind, text, piece=pieces[0] if len(pieces) == 1 else None,
                      numbers=numbers)  # fmt: skip
    return Doubt(finding, pieces=frozenset(pieces))


def _wire(torch: Torch) -> Iterator[Doubt]:
    """Yield doubts of stick-out and wire that no mesh is needed for."""
    length, diameter = torch.wire_length, torch.wire_diameter
    if not _WIRE[0] <= diameter <= _WIRE[1]:
        low, high = millimetres(_WIRE[0]), millimetres(_WIRE[1])
        text = (
            f"The wire is {millimetres(diameter, 2)} thick; welding wires are {low} to {high} "
            "(common practice). Is its unit right?"
        )
        yield _doubt(text, ())
    if _LONG_STICK_OUT < length <= _STICK_OUT[1]:
        text = (
            f"The stick-out is {millimetres(length)}, long for solid wire (6 to 25 mm is common "
            "practice)."
        )
        yield Doubt(Finding(Level.NOTE, FindingKind.UNLIKELY_TORCH, text))


@dataclass(frozen=True)
class _Fault:
    """What is wrong with a torch, and what to look at when no unit explains it."""

    text: str
    cure: str


def _fault(torch: Torch) -> _Fault | None:
    """Return the first thing that cannot be so: sizes, then the wire's way out, then gaps."""
    for piece in torch.pieces:
        size = float(np.ptp(piece.mesh.bounds, axis=0).max())
        if not _PIECE[0] <= size <= _PIECE[1]:
            return _Fault(f"The {piece.name} is {millimetres(size)} long.", "Is its unit right?")
    return _way_out(torch) or _missing(torch)


def _way_out(torch: Torch) -> _Fault | None:
    """Return why the wire cannot come out of the torch where it is said to."""
    ends = []
    for piece in torch.pieces:
        triangles = apply(torch.T_tcp_flange, piece.mesh.vertices)[piece.mesh.faces]
        found = _round_wire(triangles, torch.wire_length)
        if found is not None:
            ends.append((_end_of(triangles), piece.name, triangles, found))
    if not ends:
        return _beside(torch)
    end, name, triangles, out = max(ends, key=lambda one: one[0])
    free = -end
    if out > _MAY_STAND_OUT:
        away = free - torch.wire_length
        return _Fault(
            f"The wire begins {millimetres(away)} in front of the {name}, in the air: what of it "
            "lies behind is not measured.",
            f"Is the stick-out {millimetres(free)} or more? Else draw the contact tip.",
        )
    if free < _LEAST_FREE:
        if free < 0:
            said = f"The tool centre point lies {millimetres(-free)} inside the {name}."
        else:
            said = f"Only {millimetres(free)} of the wire stand out of the {name}."
        return _Fault(said, "Check the tool centre point and the stick-out.")
    front = outline(triangles, end - _MOUTH, _ROUND_WIRE)
    behind = outline(triangles, end - _MOUTH - _END, _ROUND_WIRE)
    if front is None or behind is None:
        return None
    return _aside(name, front, behind)


def _round_wire(triangles: Array, length: float) -> float | None:
    """Return how far the contact tip stands out of a piece round it; None where it is not."""
    low, high = -length - np.max(_STANDS_OUT), -length - np.min(_STANDS_OUT)
    z = triangles[:, :, 2]
    triangles = triangles[(z.min(axis=1) <= high) & (z.max(axis=1) >= low)]
    if not len(triangles):
        return None
    for out in _STANDS_OUT:
        found = outline(triangles, -length - out)
        if found is not None and found.depth > 0:
            return float(out)
    return None


def _end_of(triangles: Array) -> float:
    """Return how far a piece goes along the wire, close round it, m from the tool centre point."""
    points = triangles.reshape(-1, 3)
    near = np.hypot(points[:, 0], points[:, 1]) <= _ROUND_WIRE
    return float(points[near, 2].max(initial=-np.inf))


def _aside(name: str, front: Outline, behind: Outline) -> _Fault | None:
    way = front.middle - behind.middle
    angle = float(np.arctan2(np.hypot(way[0], way[1]), _END))
    if angle > _ASKEW:
        return _Fault(
            f"The wire leaves the {name} {degrees(angle, 0)} askew of it.",
            "Check 'turned' of the tool centre point.",
        )
    if front.depth < _IN_THE_MIDDLE * front.radius:
        return _Fault(
            f"The wire leaves the {name} {millimetres(front.radius - front.depth)} beside its "
            f"middle, in a radius of {millimetres(front.radius)}.",
            "Check the place of the tool centre point.",
        )
    return None


def _beside(torch: Torch) -> _Fault:
    """Say how far the contact tip is from all of the torch."""
    tip = apply(torch.T_flange_tcp, np.array([[0.0, 0.0, -torch.wire_length]]))[0]
    away, name = min((surface_distance(Shape(p.mesh), tip), p.name) for p in torch.pieces)
    return _Fault(
        f"The wire does not come out of the torch: it begins {millimetres(away)} from the "
        f"{name}, with nothing round it.",
        "Check tool centre point, its 'turned', stick-out and unit.",
    )


def _missing(torch: Torch) -> _Fault | None:
    """Return the gap that parts the nozzle from the flange; None where pieces lead from it to it.

    By boxes, which are never farther apart than the pieces.
    """
    flange = np.array([[-_FLANGE, -_FLANGE, -_FLANGE], [_FLANGE, _FLANGE, 0.0]])
    boxes = [flange, *(piece.mesh.bounds for piece in torch.pieces)]
    names = ["flange", *(piece.name for piece in torch.pieces)]
    held, loose = {0}, set(range(1, len(boxes)))
    while loose:
        gap, start, end = min((_gap(boxes[i], boxes[k]), i, k) for i in held for k in loose)
        if gap > _GAP:
            return _Fault(
                f"Between the {names[start]} and the {names[end]} there is {millimetres(gap, 0)} "
                "of nothing.",
                "Add the pieces between them: they are not measured.",
            )
        held.add(end)
        loose.remove(end)
    return None


def _gap(a: Array, b: Array) -> float:
    return float(np.linalg.norm(np.maximum(0, np.maximum(a[0] - b[1], b[0] - a[1]))))


@dataclass(frozen=True)
class _Cure:
    """A torch as it may have been meant, and what to ask then."""

    torch: Torch
    question: str
    pieces: tuple[str, ...]
    factor: float


def _cures(torch: Torch) -> Iterator[_Cure]:
    """Yield torches in which one length has another unit: stick-out, point, a piece, all pieces."""
    names = tuple(piece.name for piece in torch.pieces)
    for guess in guesses(""):
        length = torch.wire_length * guess.factor
        if _STICK_OUT[0] <= length <= _LONG_STICK_OUT:
            asks = f"A stick-out of {millimetres(length)} would fit: is its unit right?"
            yield _Cure(replace(torch, wire_length=length), asks, (), guess.factor)
    farthest = max(float(np.linalg.norm(p.mesh.vertices, axis=1).max()) for p in torch.pieces)
    for guess in guesses(""):
        T = torch.T_flange_tcp
        if np.linalg.norm(T[:3, 3]) * guess.factor < _FRONT * farthest:
            continue  # the point is in front of the torch, not behind it
        there = frozen(pose(T[:3, :3], T[:3, 3] * guess.factor))
        asks = f"A point {_farther(guess)} the flange would fit: is the unit of its place right?"
        yield _Cure(replace(torch, T_flange_tcp=there), asks, (), guess.factor)
    for which in (*((name,) for name in names), names):
        for guess in guesses(torch.unit):
            if not _is_possible(torch, which, guess.factor):
                continue
            who = "all pieces" if len(which) > 1 else f"the {which[0]}"
            asks = f"With {who} {_times(guess)} it would fit: {_are(which)} {question([guess])}?"
            yield _Cure(_resized(torch, which, guess.factor), asks, which, guess.factor)


def _are(which: tuple[str, ...]) -> str:
    return "are they" if len(which) > 1 else "is it"


def _times(guess: Guess) -> str:
    if guess.factor > 1:
        return f"{guess.factor:.4g} times as large"
    return f"{1 / guess.factor:.4g} times smaller"


def _is_possible(torch: Torch, which: tuple[str, ...], factor: float) -> bool:
    sizes = [np.ptp(p.mesh.bounds, axis=0).max() for p in torch.pieces if p.name in which]
    return all(_PIECE[0] <= size * factor <= _PIECE[1] for size in sizes)


def _farther(guess: Guess) -> str:
    if guess.factor > 1:
        return f"{guess.factor:.4g} times as far from"
    return f"{1 / guess.factor:.4g} times nearer to"


def _resized(torch: Torch, which: tuple[str, ...], factor: float) -> Torch:
    scale = np.diag([factor, factor, factor, 1.0])
    pieces = tuple(
        replace(piece, mesh=piece.mesh.moved(scale)) if piece.name in which else piece
        for piece in torch.pieces
    )
    return replace(torch, pieces=pieces)
