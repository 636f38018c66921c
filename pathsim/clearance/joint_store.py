"""What was proved of a joint, on disk. A file that is damaged or foreign is never believed."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

from pathsim.clearance.joint_zone import RoundZone
from pathsim.kernels.cache_folder import cache_folder

#: Zones are made and proofs are led here: after any change to these nothing kept before holds.
_MADE_BY = (
    "contact_rules.py", "joint_pairs.py", "joint_range.py", "joint_store.py", "obstacle.py",
    "joint_zone.py", "reference/mesh_distance.py", "../geometry/bvh.py", "../geometry/bvh_file.py",
    "../geometry/bvh_split.py", "../geometry/closest_points.py",
    "../geometry/components_kernel.py", "../geometry/connected.py", "../geometry/containment.py",
    "../geometry/containment_kernel.py", "../geometry/cut_out.py", "../geometry/equal_rows.py",
    "../geometry/mesh.py", "../geometry/principal_axes.py", "../geometry/rays.py",
)  # fmt: skip
#: So many files are kept; those used longest ago go first.
_MOST_FILES = 2000


class Apart(StrEnum):
    """What is known of two things over a range of their joint's values."""

    PROVED = "proved"  # farther apart than OWN_CAP, by proof
    ASK = "ask"  # not proved: the engine has to tell
    INSIDE = "inside"  # where no surfaces meet, what moves lies in the other
    AROUND = "around"  # and here the other way round
    EXEMPT = "exempt"  # one of them is wholly where contact is by design


#: From which value of a joint to which, rad or m, and what is known over them.
Span = tuple[float, float, Apart]


@dataclass
class Known:
    """What is known of two things that a joint joins.

    ``zone``: where a turning joint holds them together, None for nowhere. ``is_parted``: they can
    never come near each other outside it. ``growth``: by how much the zone was widened, because
    outside the narrower one they touch over all the joint's values. ``spans``: what was found out
    over ranges of those values, rad or m.
    """

    zone: RoundZone | None
    is_parted: bool = False
    growth: float = 1.0
    spans: list[Span] = field(default_factory=list)

    def over(self, low: float, high: float) -> Apart | None:
        """Return what is known over a range of values; None where that is nothing.

        What holds at every value holds over all that it covers. That there is no proof, or that
        one lies in the other somewhere, is said of that range alone: of a part of it, as where a
        point is taught farther back, it need not be true.
        """
        for start, end, apart in self.spans:
            holds_within = apart in (Apart.PROVED, Apart.EXEMPT)
            if (start <= low and high <= end) if holds_within else (start, end) == (low, high):
                return apart
        return None

    def keep(self, found: Span) -> None:
        """Put what was found out over a range to the rest; proofs that meet become one."""
        start, end, apart = found
        if apart is Apart.PROVED:
            met = self.proved_within(start, end)
            start = min([start, *(s for s, _ in met)])
            end = max([end, *(e for _, e in met)])
            self.spans = [s for s in self.spans if s[2] is not apart or s[:2] not in met]
        self.spans.append((start, end, apart))

    def proved_within(self, low: float, high: float) -> list[tuple[float, float]]:
        """Return the ranges of proofs that have a value in common with a range, rising."""
        spans = self.spans
        return sorted((s, e) for s, e, a in spans if a is Apart.PROVED and s <= high and low <= e)

    def not_proved(self, low: float, high: float) -> list[tuple[float, float]]:
        """Return what of a range no proof covers, rising; a range may be a single value."""
        met, at, left = self.proved_within(low, high), low, []
        for start, end in met:
            if start > at:
                left.append((at, start))
            at = max(at, end)
        return [*left, (at, high)] if at < high or not met else left


def load_known(key: str) -> Known | None:
    """Return what was kept under a key, or None when there is nothing that can be believed."""
    path = _path(key)
    if path is None or not path.is_file():
        return None
    try:
        checksum, text = path.read_text(encoding="utf-8").split("\n", 1)
        if checksum != _checksum(key, text):
            return None
        kept = json.loads(text)
        zone = None
        if kept["zone"] is not None:
            radii, low, step = kept["zone"]
            zone = RoundZone(tuple(map(float, radii)), float(low), float(step))
        spans = [(float(low), float(high), Apart(apart)) for low, high, apart in kept["spans"]]
        return Known(zone, bool(kept["is_parted"]), float(kept["growth"]), spans)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def save_known(key: str, known: Known) -> None:
    """Keep what is known. What cannot be written is left: it will be worked out again."""
    path = _path(key)
    if path is None:
        return
    zone = known.zone
    numbers = None if zone is None else (zone.radii, zone.low, zone.step)
    kept = {
        "zone": numbers,
        "is_parted": known.is_parted,
        "growth": known.growth,
        "spans": known.spans,
    }
    text = json.dumps(kept)
    temporary = path.with_name(f".{path.stem}-{os.getpid()}.json")
    try:
        temporary.write_text(f"{_checksum(key, text)}\n{text}", encoding="utf-8")
        temporary.replace(path)
        _clear_out(path.parent)
    except OSError:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _path(key: str) -> Path | None:
    folder = cache_folder("joints")
    made_by = _made_by()
    return None if folder is None or made_by is None else folder / f"{_hash(made_by + key)}.json"


@lru_cache(maxsize=1)
def _made_by() -> str | None:
    """Return a hash over the sources; None where they cannot be read: then nothing is kept."""
    digest = hashlib.blake2b(digest_size=20)
    try:
        for name in _MADE_BY:
            digest.update((Path(__file__).parent / name).read_bytes())
    except OSError:
        return None
    return digest.hexdigest()


def _hash(text: str) -> str:
    return hashlib.blake2b(text.encode(), digest_size=20).hexdigest()


def _checksum(key: str, text: str) -> str:
    return _hash(f"{_made_by()} {key} {text}")


def _clear_out(folder: Path) -> None:
    files = list(folder.glob("*.json"))
    if len(files) > _MOST_FILES:
        files.sort(key=lambda path: path.stat().st_mtime)
        for path in files[: len(files) - _MOST_FILES]:
            path.unlink(missing_ok=True)
