"""The small plan of a first-run sheet, as plain shapes."""

from __future__ import annotations

from dataclasses import dataclass

Place = tuple[float, float]
Places = tuple[Place, ...]


@dataclass(frozen=True)
class Plan:
    """A plan of width 1 and so much ``height``, y up: the arm's front to the right, left above.

    ``areas``: outlines with their grey, from below upwards. ``seams``: lines of welds. ``arm``:
    where it stands, and how large its base is. ``marks``: numbers of moments with their places.
    ``scale``: m for the width of the plan.
    """

    height: float
    areas: tuple[tuple[Places, float], ...]
    seams: tuple[Places, ...]
    arm: tuple[Place, float]
    marks: tuple[tuple[str, Place], ...]
    scale: float

    @property
    def sides(self) -> tuple[tuple[str, Place], ...]:
        """Words at the middle of each edge, where that side is."""
        middle = self.height / 2
        return (("front", (1.0, middle)), ("left", (0.5, self.height)), ("right", (0.5, 0.0)),
                ("behind", (0.0, middle)))  # fmt: skip

    @property
    def words(self) -> str:
        """Say the plan for whoever cannot see it."""
        where = "; ".join(f"moment {number} {self._side(place)}" for number, place in self.marks)
        return (
            f"Plan from above, {self.scale:.1f} m wide. The front of the arm is to the right, its "
            f"left above.{' Places: ' + where + '.' if where else ''}"
        )

    def _side(self, place: Place) -> str:
        (x, y), _ = self.arm
        ahead, left = self.scale * (place[0] - x), self.scale * (place[1] - y)
        along = f"{abs(ahead):.2f} m {'in front' if ahead >= 0 else 'behind'}"
        return f"{along}, {abs(left):.2f} m to the {'left' if left >= 0 else 'right'}"

    @property
    def arm_word(self) -> Place:
        """Where the word for the arm stands: over it."""
        (x, y), size = self.arm
        return x, y + 1.6 * size

    def words_apart(self, size: float) -> tuple[tuple[str, Place], ...]:
        """Return all words so that no mark covers one: along its edge a word gives way."""
        marks = [place for _, place in self.marks_apart(2.2 * size)]

        def is_free(place: Place) -> bool:
            return all(abs(place[0] - a) > 2.6 * size or abs(place[1] - b) > 1.5 * size
                       for a, b in marks)  # fmt: skip

        found = []
        for word, (x, y) in (*self.sides, ("arm", self.arm_word)):
            steps = [0.0, 1.6, -1.6, 3.2, -3.2, 4.8, -4.8]
            is_upright = x in (0.0, 1.0)
            places = [
                self.inside((x, y + step * size) if is_upright else (x + 2 * step * size, y), size)
                for step in steps
            ]
            found.append((word, next(filter(is_free, places), places[0])))
        return tuple(found)

    def inside(self, place: Place, size: float) -> Place:
        """Return a place so far inside that a word of type ``size`` there is not cut."""
        x, y = place
        return (min(max(x, 2.1 * size), 1 - 2.1 * size),
                min(max(y, 0.8 * size), self.height - 0.8 * size))  # fmt: skip

    def marks_apart(self, size: float) -> tuple[tuple[str, Place], ...]:
        """Return the marks so that none covers another: near ones stand side by side."""
        found: list[tuple[str, Place]] = []
        for number, place in self.marks:
            x, y = self.inside(place, size / 2)
            steps = (x + step * size for step in (0, 1, -1, 2, -2, 3, -3, 4, -4))
            free = [
                near for near in steps if size / 2 <= near <= 1 - size / 2
                and all(abs(near - a) >= size - 1e-9 or abs(y - b) >= size - 1e-9
                        for _, (a, b) in found)
            ]  # fmt: skip
            found.append((number, (free[0] if free else x, y)))
        return tuple(found)
