"""Where the wire's end is against the parts, all along the centre line of every seam.

The distance of a place from a surface changes by no more than the place moves, and so does the
signed distance: both are 1-Lipschitz. Two looks that are ``step`` of way apart and see ``d0`` and
``d1`` therefore hold everything in between within ``(d0 + d1 - step) / 2`` and
``(d0 + d1 + step) / 2``. Looks are added until no limit lies between what was seen and what may be.

Which side of the surface a place is on is told by the inside test that clearances use where the
surface is a millimetre off, and nearer than that by the faces' direction; so near, no limit asks
for the sign.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.contact_rules import stand_by
from pathsim.each_once import each_once
from pathsim.findings.centre_line import centre_tracks
from pathsim.findings.seam_place import DEEP, NOWHERE, Place, SeamOnPart, ToWork, Untold
from pathsim.geometry.containment import solid_of
from pathsim.geometry.containment_kernel import fast_solid_of
from pathsim.geometry.surface import PartSurface
from pathsim.model import Body, Cell, Role
from pathsim.model.turning_table import StandsOn
from pathsim.motion import PATH_ERROR, MoveTrack, Trajectory
from pathsim.transforms import Array, apply, inverse

#: Way from look to look, m, and the most looks that a seam begins with.
_STEP, _MOST_LOOKS = 2e-3, 400
#: A seam is first looked at this often; where all of that is far off, more says nothing.
_FIRST_LOOKS = 17
#: From this far on the side of the surface is told by the inside test, m.
_SIDE_TOLD = 1e-3
#: Two looks are not put closer together than this, m.
_CLOSEST = 5e-5
#: Farther behind the wire's end than this a part is not looked for along the wire, m.
_BEHIND = 50e-3
#: A part without edges or corners has its nearest joint this far off, m.
_NO_JOINT = 1.0
#: Nearer to what may touch than this the wire grazes a part and does not go through it, m.
_GRAZES = 1e-3
#: Of so many looks one is enough for what no limit is held against between them.
_SOME = 4


def seams_on_parts(cell: Cell, trajectory: Trajectory) -> tuple[SeamOnPart, ...]:
    """Return where each seam lies, in the order of the program; a later pass lies on beads too."""
    parts = [body for body in cell.standing if body.role is Role.PART]
    return tuple(
        _on_part(cell, track, [body for body in parts if stand_by(track, body)])
        for track in trajectory.tracks
        if track.move.arc_on
    )


def _on_part(cell: Cell, track: MoveTrack, parts: list[Body]) -> SeamOnPart:
    number, allowance = track.number, track.move.off_part
    stick_out = cell.torch.wire_length
    if not parts:
        return SeamOnPart(number, allowance, stick_out, Untold.NO_PART)
    plain = centre_tracks(cell).tracks[track.index]
    if len(plain.t) < 1:
        return SeamOnPart(number, allowance, stick_out, Untold.NO_LINE)
    looks = _Looks(cell, track, plain, parts, allowance)
    looks.close_in()
    return looks.record(number, stick_out)


class _Looks:
    """Places looked at along one seam, each by its share of the way."""

    def __init__(
        self,
        cell: Cell,
        track: MoveTrack,
        plain: MoveTrack,
        parts: list[Body],
        allowance: float,
    ) -> None:
        self._cell, self._track, self._plain = cell, track, plain
        self._parts, self._allowance = parts, allowance
        self._length = plain.tip_length
        #: Limits that what may be in between must not leave open.
        self._limits = (
            allowance, allowance + NOWHERE, -allowance, -(allowance + DEEP),
        )  # fmt: skip
        self.shares = self._distance = np.zeros(0)
        #: Tips as seen from all that parts can stand on, (n, frames, 3).
        self._frames = cell.frames
        self._tips = np.zeros((0, len(cell.frames), 3))
        #: Of all parts, (n, parts): signed distance, and the normal of the face nearest to it.
        self._signed_all = np.zeros((0, len(parts)))
        self._normals = np.zeros((0, len(parts), 3))
        self._part = np.zeros(0, np.int64)
        self._look(np.linspace(0.0, 1.0, _FIRST_LOOKS) if self._length > 0 else np.zeros(1))

    def close_in(self) -> None:
        """Look where it is near a part from step to step, and closer where a limit is near."""
        if len(self.shares) < 2:
            return
        _, lower, upper = self._between()
        far = min(lower.min(), self._distance.min()) > self._allowance + NOWHERE
        if not far:
            count = int(np.ceil(min(max(self._length / _STEP, _FIRST_LOOKS), _MOST_LOOKS)))
            self._look(np.linspace(0.0, 1.0, count + 1))
        while True:
            steps, lower, upper = self._between()
            least, most = self._distance.min(), self._distance.max()
            is_open = np.zeros(len(steps), dtype=bool)
            for limit in self._limits:
                if limit > 0 and most <= limit:
                    is_open |= upper > limit
                if limit < 0 and least >= limit:
                    is_open |= lower < limit
            is_open &= steps > _CLOSEST
            if not is_open.any():
                return
            middle = (self.shares[:-1] + self.shares[1:]) / 2
            self._look(middle[is_open])

    def record(self, number: int, stick_out: float) -> SeamOnPart:
        """Return what was seen."""
        low, high = int(self._distance.argmin()), int(self._distance.argmax())
        _, lower, upper = self._between()
        which, met = self._met(stick_out)
        return SeamOnPart(
            number,
            self._allowance,
            stick_out,
            least=self._place(low),
            most=self._place(high),
            start=self._place(0),
            end=self._place(-1),
            lower=min(float(lower.min(initial=np.inf)), float(self._distance[low])),
            upper=max(float(upper.max(initial=-np.inf)), float(self._distance[high])),
            to_work=_to_work(met.min(axis=0)),
            beside=self._beside(),
            through=self._through(stick_out, which, met),
            is_surfacing=self._track.move.surfacing,
            is_whole=self._track.fault is None and self._plain.fault is None,
            parts={
                body.name: float(nearest)
                for body, nearest in zip(
                    self._parts, np.abs(self._signed_all).min(axis=0), strict=True
                )
            },
        )

    def _place(self, k: int) -> Place:
        share = float(self.shares[k])
        time = self._track.travel_start + share * max(self._track.travel_seconds, 0.0)
        return Place(float(self._distance[k]), share, time, self._parts[self._part[k]].name)

    def _q(self, shares: Array) -> Array:
        start, seconds = self._plain.travel_start, max(self._plain.travel_seconds, 0.0)
        return self._plain.q_at(start + shares * seconds)

    def _between(self) -> tuple[Array, Array, Array]:
        """Return of each two neighbouring looks the way between them, and what may be there, m."""
        chords = np.linalg.norm(np.diff(self._tips, axis=0), axis=-1).max(axis=-1)
        steps = np.maximum(chords, np.diff(self.shares) * self._length) + 2 * PATH_ERROR
        both = self._distance[:-1] + self._distance[1:]
        return steps, (both - steps) / 2, (both + steps) / 2

    def _look(self, shares: Array) -> None:
        """Look at these places as well."""
        new = np.setdiff1d(shares, self.shares)
        q = self._q(new)
        seen = {frame: self._cell.tips_seen_from(frame, q) for frame in self._frames}
        each = [self._signed(body, seen[body.stands_on]) for body in self._parts]
        signed = np.stack([one for one, _ in each], axis=1)
        normals = np.stack([one for _, one in each], axis=1)
        shares = np.concatenate([self.shares, new])
        order = np.argsort(shares)
        self.shares = shares[order]
        self._tips = np.concatenate([self._tips, np.stack(list(seen.values()), axis=1)])[order]
        self._signed_all = np.concatenate([self._signed_all, signed])[order]
        self._normals = np.concatenate([self._normals, normals])[order]
        self._part = self._signed_all.argmin(axis=1)
        self._distance = self._signed_all[np.arange(len(self.shares)), self._part]

    def _signed(self, body: Body, tips: Array, *, placed: bool = False) -> tuple[Array, Array]:
        """Signed distance ``(n,)`` of ``tips (n, 3)`` from a body, and the nearest faces' normals.

        Neighbours follow each other; ``placed``: they are in the body's frame already.
        Normals ``(n, 3)`` are in the body's frame. A bead is drawn
        larger than it is: within it the wire's end is on it.
        """
        places = tips if placed else apply(inverse(body.T_world_body), tips)
        found = PartSurface.of(body.mesh).nearest(places)
        inside = found.height < 0
        steps = np.linalg.norm(np.diff(places, axis=0), axis=-1)
        # Nothing gets to the other side without passing the surface.
        room = found.distance[:-1] + found.distance[1:]
        is_same = np.append(False, room > 1.05 * steps + 2 * PATH_ERROR)
        for k in np.flatnonzero(found.distance >= _SIDE_TOLD).tolist():
            if is_same[k] and found.distance[k - 1] >= _SIDE_TOLD:
                inside[k] = inside[k - 1]
            else:
                solid = fast_solid_of if body.bead_top else solid_of
                inside[k] = solid(body.mesh).holds(places[k : k + 1])
        depth = 0.0 if body.bead_top else -1.0
        return np.where(inside, depth * found.distance, found.distance), found.normal

    def _some(self) -> np.ndarray:
        """Return which looks are enough for what no limit is held against, both ends among them."""
        count = len(self.shares)
        return each_once(np.append(np.arange(0, count, _SOME), count - 1))

    def _beside(self) -> Place:
        """Return where the seam is farthest from any joint of the parts."""
        which = self._some()
        joint = np.full(len(which), _NO_JOINT)
        for k, body in enumerate(self._parts):
            away = np.abs(self._signed_all[which, k])
            own = np.flatnonzero(self._part[which] == k)
            if len(own):
                at = which[own]
                tips = self._tips[at, self._frames.index(body.stands_on)]
                places = apply(inverse(body.T_world_body), tips)
                surface = PartSurface.of(body.mesh)
                away[own] = surface.to_other_face(places, self._normals[at, k])
            if body.bead_top:  # an earlier pass is in the joint
                away = np.where(self._signed_all[which, k] <= self._allowance, 0.0, _NO_JOINT)
            joint = np.minimum(joint, away)
        worst = int(joint.argmax())
        return self._place(int(which[worst]))._replace(distance=float(joint[worst]))

    def _through(self, stick_out: float, which: np.ndarray, met: Array) -> Place | None:
        """Return where the wire goes through a part, and out of it again, on the way to its end.

        ``which (n,)``, ``met (parts, n)``: as ``_met`` tells them.
        """
        touching = self._track.move.touching_end + self._allowance + _GRAZES
        inside = self._signed_all[which].T < -_SIDE_TOLD
        inside |= np.array([[bool(body.bead_top)] for body in self._parts])  # no obstacle to a weld
        before = np.where(np.isfinite(met) & ~inside, stick_out - met, 0.0)
        part, look = np.unravel_index(int(before.argmax()), before.shape)
        if before[part, look] <= touching:
            return None
        place = self._place(int(which[look]))
        name = self._parts[int(part)].name
        return place._replace(distance=float(before[part, look]), part=name)

    def _met(self, stick_out: float) -> tuple[np.ndarray, Array]:
        """Return some looks, and how far from the contact tip the wire meets each part there.

        ``(parts, n)``, m; inf where it does not within 50 mm behind its end.
        """
        which = self._some()
        q = self._q(self.shares[which])
        poses = self._cell.tool_poses(q)
        seen = {f: inverse(self._cell.frame_motion(f, q)) @ poses for f in self._frames[1:]}
        seen[StandsOn.FLOOR] = poses
        met = []
        for body in self._parts:
            T = inverse(body.T_world_body) @ seen[body.stands_on]
            along = T[:, :3, 2]
            starts = T[:, :3, 3] - stick_out * along
            surface = PartSurface.of(body.mesh)
            way = surface.first_met(starts, along, stick_out + _BEHIND)
            if body.bead_top:  # drawn larger than it is: the wire's end may be within it
                way = np.where(self._signed(body, T[:, :3, 3], placed=True)[0] > 0, way, stick_out)
            met.append(way)
        return which, np.array(met)


def _to_work(met: Array) -> ToWork:
    """Tell of looks how far from the contact tip the wire meets anything ``(n,)``, m or inf."""
    is_met = met[np.isfinite(met)]
    start, end = (None if np.isinf(way) else float(way) for way in (met[0], met[-1]))
    least, most = (None, None) if not len(is_met) else (float(is_met.min()), float(is_met.max()))
    return ToWork(start, end, least, most)
