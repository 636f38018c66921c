"""Why something was found, for people who learn it: one idea a sentence, this cell's numbers."""

from __future__ import annotations

import numpy as np

from pathsim.advice.explain_posture import about_posture
from pathsim.advice.rule_texts import RULES, UNKNOWN
from pathsim.arm.forward import axis_frames
from pathsim.check import CheckResult
from pathsim.clearance import PairClearance
from pathsim.clearance.contact_rules import Zone
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import Obstacle, obstacles
from pathsim.clearance.relative_chain import chain_id, frame_of, linkage_of
from pathsim.findings import Finding
from pathsim.findings.axis_words import axis_name
from pathsim.findings.detour import why_it_meets
from pathsim.findings.finding import move_name
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell, MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, apply, inverse
from pathsim.units import degrees, guaranteed_millimetres, millimetres, percent

_NEAR = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
#: Surfaces as near as this are told from contact by nobody, m.
_CONTACT = 1e-5
#: An axis is said to do most of it from this share on, and from this turn or slide in all.
_MOST, _WORTH_A_TURN, _WORTH_A_SLIDE = 0.5, np.radians(5.0), 0.01


def explain(result: CheckResult, finding: Finding) -> tuple[str, ...]:
    """Return sentences that say why a finding came about; pure text, no cure."""
    track = None if finding.move is None else result.trajectory.tracks[finding.move - 1]
    said = [finding.text]
    if finding.kind in _NEAR and track is not None:
        said += _about_pair(result, finding, track)
    elif finding.kind == FindingKind.WRIST_ALIGNED and track is not None:
        said += _about_wrist(finding, track)
    elif track is not None:
        said += about_posture(result.cell, finding, track)
    if finding.kind in _NEAR and track is not None and track.fault is not None:
        said.append(
            f"Only the first {percent(track.fault.share)} of the move could be worked out and "
            "looked at; what comes behind is not known."
        )
    else:
        said += RULES.get(finding.kind, UNKNOWN)
    return tuple(said)


def _about_pair(result: CheckResult, finding: Finding, track: MoveTrack) -> list[str]:
    """Say how the move runs, and what brings the two together."""
    is_joint = track.move.kind is MoveKind.JOINT
    pair = _worst_pair(result, finding)
    said = [*_how_it_travels(result.cell, track, finding)]
    if pair is None or finding.time is None:
        return said
    if finding.kind == FindingKind.NEAR_HIT and not pair.stretch.corner and is_joint:
        said += why_it_meets(result.cell, track, pair, finding.straight)
    time = finding.time
    when = f"{percent(track.share(time))} of the move, {time:.1f} s after the program's start"
    if pair.clearance.inner is not None:
        inner, outer = pair.inner_and_outer(pair.clearance.inner)
        said.append(f"The {inner} is inside the {outer} from the start of the stretch on.")
        return said
    part = _part_in_words(result.cell, track, pair)
    if part:
        said.append(f"The numbers below hold for the move {part}.")
    is_contact = pair.clearance.upper <= _CONTACT and pair.stretch.corner == ""
    how = "touch first" if is_contact else "are nearest"
    said.append(f"{'There they' if part else 'They'} {how} at {when}.")
    if is_detour(finding) and track.detour > 0.001:
        said.append(_aside_then(result.cell, track, time))
    if pair.clearance.on_moving is not None and pair.stretch.corner == "":
        said += _what_drives(result.cell, pair, track, time)
    if pair.clearance.touches:
        said.append(
            f"The number that counts is the guaranteed one: there is none left between the "
            f"{pair.piece} and the {pair.body}."
        )
    else:
        short = millimetres(pair.margin - pair.clearance.lower)
        said.append(
            f"{guaranteed_millimetres(pair.clearance.lower)} are guaranteed "
            f"{part or _whole(track)}, {short} less than the margin of "
            f"{millimetres(pair.margin)}."
        )
    return said


def _whole(track: MoveTrack) -> str:
    return "over the whole move" if track.fault is None else "as far as the move could be laid"


def _part_in_words(cell: Cell, track: MoveTrack, pair: PairClearance) -> str:
    """Say for which part of a move a pair's numbers hold; empty when for all of it.

    By the weld another margin holds, and the wire's end may touch the part there.
    """
    stretch = pair.stretch
    if stretch.corner:
        return f"over all ways of rounding '{stretch.corner}'"
    if stretch.start <= track.t[0] and stretch.end >= track.t[-1]:
        return ""
    if stretch.touching_end:
        return "while the tip is so near the weld that the wire's end may touch the part"
    where = "within" if stretch.zone is Zone.SEAM else "farther than"
    wire = millimetres(cell.torch.wire_length)
    return f"while the tip is {where} {wire}, the wire's length, from the weld"


def is_detour(finding: Finding) -> bool:
    """Tell whether the cause is that a joint move is not straight: a straight one was clear."""
    touched = finding.kind == FindingKind.CONTACT
    return finding.straight is not None and finding.straight.serves(touched=touched)


def _how_it_travels(cell: Cell, track: MoveTrack, finding: Finding) -> list[str]:
    name = move_name(track)
    if track.move.kind is not MoveKind.JOINT:
        return [
            f"In {name} the tip travels straight or on its arc, as it is seen on the sheet.",
            "What passes close is not the tip alone: nozzle, neck and arm come along behind it.",
        ]
    tips = cell.tool_poses(track.q[[0, -1]])[:, :3, 3]
    straight = millimetres(float(np.linalg.norm(tips[1] - tips[0])), 0)
    way = millimetres(track.tip_length, 0)
    there = f"From '{track.start}' to '{track.move.target}'"
    if not is_detour(finding):
        return [f"{there} it is {straight} in a straight line; the tip travels {way}."]
    return [
        f"{there} it is {straight} in a straight line.",
        "A joint move does not follow that line: every joint turns evenly from its first value to "
        "its last, and the tip goes where that takes it.",
        f"Here the tip travels {way} and leaves the straight line by up to "
        f"{millimetres(track.detour, 0)}, at {percent(track.share(track.detour_time))} of the "
        "move.",
    ]


def _aside_then(cell: Cell, track: MoveTrack, time: float) -> str:
    """Say where the tip is against the straight line at the moment in question."""
    start, end = cell.tool_poses(track.q[[0, -1]])[:, :3, 3]
    tip = cell.tool_poses(track.q_at(time))[0, :3, 3]
    way = end - start
    size = float(way @ way)
    along = float(np.clip((tip - start) @ way / size, 0, 1)) if size > 0 else 0.0
    aside = tip - start - along * way
    said = f"At that moment the tip is {millimetres(float(np.linalg.norm(aside)), 0)} off the line"
    drop = float(aside[2])
    if abs(drop) > 0.002:
        word = "below" if drop < 0 else "above"
        said += f", {millimetres(abs(drop), 0)} of that {word} it"
    return said + "."


def _what_drives(cell: Cell, pair: PairClearance, track: MoveTrack, time: float) -> list[str]:
    """Say which axis moves the place that comes near, where one does most of it."""
    shares = driving_shares(cell, track, time, pair)
    if shares is None:
        return []
    column = int(np.argmax(shares))
    turn = abs(float(track.q[-1, column] - track.q[0, column]))
    slides = bool(cell.axes.prismatic[column])
    # Half of a creep is no cause, nor is the largest of many small shares.
    if shares[column] < _MOST or turn < (_WORTH_A_SLIDE if slides else _WORTH_A_TURN):
        return []
    amount = millimetres(turn, 0) if slides else degrees(turn, 0)
    word = "slides" if slides else "turns"
    return [
        f"{axis_name(cell, column)} does most of it: from end to end of this move it {word} by "
        f"{amount}.",
        f"At that instant {axis_name(cell, column).lower()} causes "
        f"{percent(float(shares[column]))} of the {pair.piece}'s motion towards the {pair.body}.",
    ]


def driving_shares(cell: Cell, track: MoveTrack, time: float, pair: PairClearance) -> Array | None:
    """Return each axis' share ``(axes,)`` of the speed of a pair's near place, at ``time``.

    Seen from what the pair's piece comes near, be it in the world, on the turning table or a link
    of the arm. A turning axis moves the place by ``a x (p - o) dq``, a sliding one by ``a dq`` (the
    columns of the Jacobian); shares are of the sum of their sizes. None where nothing moves.
    """
    moving = next((p for p in cell.pieces if p.name == pair.piece), None)
    standing = _standing(cell, pair.body)
    place = pair.clearance.on_moving
    span = float(track.t[-1] - track.t[0])
    if place is None or moving is None or standing is None or span <= 0:
        return None
    early = max(time - 1e-3 * span, float(track.t[0]))
    late = min(time + 1e-3 * span, float(track.t[-1]))
    q = track.q_at([early, time, late])
    rate = q[2] - q[0]
    linkage = linkage_of(cell, chain_id(moving, standing))
    frames = axis_frames(linkage.fixed, linkage.joints(q[1:2]), linkage.prismatic)[0]
    seen = apply(inverse(frame_of(cell, standing, q[1])), place)
    sizes = np.zeros(cell.axes.count)
    for i in range(moving.link - linkage.skip):
        axis, origin = frames[i, :3, 2], frames[i, :3, 3]
        arm = axis if linkage.prismatic[i] else np.cross(axis, seen - origin)
        sizes[linkage.columns[i]] = np.linalg.norm(arm) * abs(rate[linkage.columns[i]])
    total = sizes.sum()
    return sizes / total if total > 0 else None


def _standing(cell: Cell, name: str) -> Obstacle | None:
    """Return what a pair's piece comes near: a body, the arm's base, or a link of the arm."""
    things = [*obstacles(cell), *(held for _, held in own_pairs(cell))]
    return next((thing for thing in things if thing.name == name), None)


def _worst_pair(result: CheckResult, finding: Finding) -> PairClearance | None:
    """Return the stretch of a finding's pair that the finding was made from."""
    assert finding.move is not None  # noqa: S101 - asked for findings of moves only
    pairs = [p for p in result.moves[finding.move - 1].noteworthy
             if (p.piece, p.body) == (finding.piece, finding.body)]  # fmt: skip
    # The one that the finding speaks of: near a weld a touch is nearer to its margin than some
    # near hit in the air is to its own.
    if finding.kind == FindingKind.CONTACT:
        touching = [p for p in pairs if p.clearance.touches]
        return min(touching, key=lambda p: (not p.clearance.is_inside, p.clearance.upper),
                   default=None)  # fmt: skip
    return min(pairs, key=lambda p: p.clearance.lower - p.margin, default=None)


def _about_wrist(finding: Finding, track: MoveTrack) -> list[str]:
    """Say what a wrist in line costs, from its angle."""
    angle = finding.numbers.get("angle", 0.0)
    said = [
        "The axes of joints 4 and 6 lie nearly in one line there.",
        "Joints 4 and 6 then do the same thing; the wrist can hardly tilt the torch sideways.",
    ]
    if angle > 1e-3:
        factor = 1.0 / np.sin(angle)
        said.append(
            f"At {degrees(float(angle))} from the line, a tilt to the side by 1 deg takes "
            f"{factor:.0f} deg of joint 4: 1 divided by the sine of that angle."
        )
    share = finding.numbers.get("joint speed share", 0.0)
    if track.move.kind is MoveKind.JOINT:
        said.append("A joint move asks for no tilt, so it goes through without harm.")
    elif share > 0:
        said.append(
            f"On this move the fastest wrist joint needs {percent(float(share))} of what it can do."
        )
    return said
