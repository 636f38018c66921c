"""Cables of a cell file, put into the frames of the links that carry them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from pathsim.arm import Arm
from pathsim.errors import PathsimError
from pathsim.files.cable_schema import SPAN, CableEntry
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.torch_file import ARMS_OWN
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Cable
from pathsim.model.piece import link_name
from pathsim.model.torch import WIRE
from pathsim.transforms import Array, apply, inverse

#: Points nearer than this to each other are one place, m.
_ONE_PLACE = 1e-4
#: Words for what the torch is fixed to.
_LAST = ("torch", "flange")


def read_cables(
    entries: Iterable[CableEntry],
    source: YamlSource,
    arm: Arm,
    taken: Iterable[str],
    faults: FaultList,
) -> tuple[Cable, ...]:
    """Return the cables of a cell; ``taken``: names that bodies and pieces of the torch have."""
    reader = _Reader(source, arm, taken, faults)
    found = [reader.cable(index, entry) for index, entry in enumerate(entries)]
    return tuple(cable for cable in found if cable is not None)


class _Reader:
    """Reads one cable after the other and notes what is wrong with each."""

    def __init__(
        self, source: YamlSource, arm: Arm, taken: Iterable[str], faults: FaultList
    ) -> None:
        self._source, self._arm, self._faults = source, arm, faults
        self._names = {name.casefold(): "something else in the cell" for name in (WIRE, *taken)}
        self._zero = arm.link_poses(np.zeros(arm.dof))
        self._links = {link_name(arm, i): i for i in range(1, arm.dof + 1)}

    def cable(self, index: int, entry: CableEntry) -> Cable | None:
        """Return a cable; None after noting its faults."""
        before = len(self._faults)
        self._check_name(index, entry.name)
        link = self._link(index, entry.on)
        self._check_points(index, entry.points)
        if link is None or len(self._faults) > before:
            return None
        points: Array = np.array(entry.points)
        if entry.drawn_in == "base frame at zero":
            points = apply(inverse(self._zero[link]), points)
        try:
            return Cable(entry.name, link, points, entry.radius, entry.slack, entry.margin)
        except PathsimError as error:
            self._add(index, "points", str(error), "places that make a cable")
            return None

    def _check_name(self, index: int, name: str) -> None:
        said = name.casefold()
        if ARMS_OWN.match(name):
            rule = "a name that is not the arm's own"
            self._add(index, "name", f"the name '{name}' is taken by the arm", rule)
        elif said in self._names:
            came = f"the name '{name}' is taken by {self._names[said]}"
            rule = "a name that no body, no piece of the torch and no other cable has"
            self._add(index, "name", came, rule)
        line = self._source.line(("cables", index))
        self._names.setdefault(said, f"the cable in line {line}")

    def _link(self, index: int, on: str) -> int | None:
        """Return the number of the link that a cable is fixed on."""
        word = on.casefold()
        if word in _LAST:
            return self._arm.dof
        if word in self._links:
            return self._links[word]
        known = ("torch", *self._links)
        expected = "one of: " + ", ".join(known)
        cure = did_you_mean(on, known)
        if word in (link_name(self._arm, 0), "link 0"):
            expected = "a link that moves, " + expected
            cure = "What stays with the base stands still: give it as a body with a mesh."
        elif any(mark in word for mark in (" to ", " and ", ",", ">")):
            expected, cure = SPAN, ""
        self._add(index, "on", f"came '{on}'", expected, cure)
        return None

    def _check_points(self, index: int, points: list[tuple[float, float, float]]) -> None:
        if len(points) < 2:
            count = "no point" if not points else "one point"
            cure = "A cable needs the place where it starts and the place where it ends."
            self._add(index, "points", f"came {count}", "at least two places", cure)
        apart = np.linalg.norm(np.diff(np.array(points).reshape(-1, 3), axis=0), axis=1)
        for k in np.flatnonzero(apart < _ONE_PLACE):
            came = f"points {k + 1} and {k + 2} are at one place"
            cure = "Leave one of them out, or mend a number."
            rule = f"places at least {1e3 * _ONE_PLACE:g} mm apart"
            self._add(index, f"points[{k + 2}]", came, rule, cure)

    def _add(self, index: int, key: str, came: str, expected: str, cure: str = "") -> None:
        line = self._source.line(("cables", index, *_parts(key)))
        self._faults.add(
            self._source.shown, line, f"cables[{index + 1}].{key}", came, expected, cure
        )


def _parts(key: str) -> tuple[str | int, ...]:
    """Split a key such as ``points[2]``, counted from 1, into a place of the file."""
    name, _, number = key.partition("[")
    return (name, int(number.rstrip("]")) - 1) if number else (name,)
