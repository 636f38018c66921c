"""Clamps by what a tape measure gives: reach, height, width."""

from __future__ import annotations

from pathsim.geometry.mesh import Mesh
from pathsim.geometry.solids import together
from pathsim.shapes.blocks import block_at
from pathsim.shapes.standing import require_less, require_sizes


def toggle_clamp(
    reach: float, height: float, width: float, base: float, arm: float,
    pad: float | None = None, pad_height: float = 0.0,
) -> Mesh:  # fmt: skip
    """Toggle clamp, closed, in three blocks: body with handle, arm, spindle.

    It reaches along x; its place is the middle of its foot. ``reach``: from the foot's front
    edge to the farthest of the spindle. ``height``: of the highest of it, handle included, as
    it stands in the program. ``width``: of the widest. ``base``: length of the foot; the handle
    stays above it. ``arm``: height of the arm's underside at its lowest. ``pad``: diameter of
    the spindle's pad, else the width. ``pad_height``: how far above the foot its underside
    presses.
    """
    pad = width if pad is None else pad
    require_sizes(
        "a toggle clamp", reach=reach, height=height, width=width, base=base, arm=arm, pad=pad
    )
    require_less("a toggle clamp", "arm", arm, height, "its height")
    require_less("a toggle clamp", "pad height", pad_height, arm, "the arm's height")
    require_less("a toggle clamp", "pad", pad, reach * (1 + 1e-9), "its reach")
    front = base / 2
    return together(
        [
            block_at((base, width, height), (-front, -width / 2, 0.0)),
            block_at((reach, width, height - arm), (front, -width / 2, arm)),
            block_at((pad, pad, height - pad_height), (front + reach - pad, -pad / 2, pad_height)),
        ]
    )


def c_clamp(
    opening: float, throat: float, frame: float, width: float, screw: float, handle: float
) -> Mesh:
    """C-clamp with its screw upright from below: the frame's three sides, screw and handle.

    The jaws look along x; its place is the middle of the upper jaw's end, on the face that
    presses, so that it can be put where it clamps. ``opening`` between the jaws, ``throat`` from
    the screw's middle to the frame, ``frame``: the frame's depth, seen from the side; ``width``
    across it. ``screw``: how far the screw stands out below the frame; ``handle``: length of its
    handle, which may stand any way.
    """
    require_sizes(
        "a C-clamp", opening=opening, throat=throat, frame=frame, width=width, screw=screw,
        handle=handle,
    )  # fmt: skip
    half = max(frame, width) / 2
    back = -throat - frame
    length = throat + frame + half
    return together(
        [
            block_at((length, width, frame), (back, -width / 2, 0.0)),
            block_at((length, width, frame), (back, -width / 2, -opening - frame)),
            block_at((frame, width, opening + 2 * frame), (back, -width / 2, -opening - frame)),
            block_at((2 * half, width, opening), (-half, -width / 2, -opening)),
            block_at((handle, handle, screw), (-handle / 2, -handle / 2, -opening - frame - screw)),
        ]
    )
