"""What solids in place of castings share by construction, whatever the posture."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SharedBall:
    """Room of ``other`` that goes with the flange, since both turn about its centre.

    ``centre (3,)`` in the flange frame and ``radius``, m.
    """

    other: int
    centre: tuple[float, float, float]
    radius: float


@dataclass(frozen=True)
class SharedRoom:
    """Which solids of an arm cannot be told apart where a joint holds two of them together.

    ``within``: ``(link, other)``, the room of a link is part of the other's solid, and the link
    has none of its own. ``joined``: ``(link, farther link)``, two solids that hold the room
    round one joint both: their distance says nothing of the castings. ``ball``: the end of the
    forearm round the wrist.
    """

    within: tuple[tuple[int, int], ...] = ()
    joined: tuple[tuple[int, int], ...] = ()
    ball: SharedBall | None = None

    def behind(self, count: int) -> SharedRoom:
        """Return the same with ``count`` links more in front."""
        within = tuple((a + count, b + count) for a, b in self.within)
        ball = self.ball
        if ball is not None:
            ball = SharedBall(ball.other + count, ball.centre, ball.radius)
        return SharedRoom(within, tuple((a + count, b + count) for a, b in self.joined), ball)

    def are_joined(self, link: int, other: int) -> bool:
        """Tell whether two links hold the room round one joint both."""
        return (min(link, other), max(link, other)) in self.joined
