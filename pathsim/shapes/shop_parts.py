"""What stands in a shop and was never drawn: benches, pedestals, stop blocks.

Each is a few blocks that hold the thing, if it is as large as its numbers say.
"""

from __future__ import annotations

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.geometry.solids import together
from pathsim.shapes.blocks import block_at
from pathsim.shapes.outline import drawn_out
from pathsim.shapes.sections import _RUNS, Along
from pathsim.shapes.standing import require_less, require_sizes, stood
from pathsim.transforms import apply, pose


def bench(
    length: float, width: float, height: float, thickness: float, leg: float,
    slots: int = 0, slot_width: float = 0.0, slot_depth: float = 0.0,
) -> Mesh:  # fmt: skip
    """Bench on four square legs; slots run along x, evenly over its width.

    ``height`` is that of its top's upper face. A slot is drawn as wide as its mouth: wider room
    below it (as in a T slot) counts as filled.
    """
    require_sizes(
        "a bench", length=length, width=width, height=height, thickness=thickness, leg=leg
    )
    require_less("a bench", "thickness", thickness, height, "its height")
    require_less("a bench", "leg", leg, min(length, width) / 2, "half its narrow side")
    top = _slotted_top(length, width, thickness, slots, slot_width, slot_depth)
    under = height - thickness
    parts = [Mesh(top.vertices + np.array([0, 0, under]), top.faces)]
    x, y = length / 2, width / 2
    for low_x in (-x, x - leg):
        parts += [block_at((leg, leg, under), (low_x, low_y, 0.0)) for low_y in (-y, y - leg)]
    return stood(together(parts))


def _slotted_top(
    length: float, width: float, thickness: float, slots: int, mouth: float, depth: float
) -> Mesh:
    if slots < 0 or slots > 50:
        raise MeshError(f"a bench with {slots} slots; expected 0 to 50")
    y = width / 2
    outline = [[-y, 0.0], [y, 0.0], [y, thickness]]
    if slots:
        require_sizes("a bench", slot_width=mouth, slot_depth=depth)
        pitch = width / (slots + 1)
        require_less("a bench", "slot width", mouth, pitch, "the way from slot to slot")
        require_less("a bench", "slot depth", depth, thickness, "the thickness of its top")
        for k in range(slots, 0, -1):
            middle = -y + k * pitch
            right, left = middle + mouth / 2, middle - mouth / 2
            floor = thickness - depth
            outline += [[right, thickness], [right, floor], [left, floor], [left, thickness]]
    outline.append([-y, thickness])
    flat = drawn_out(np.array(outline), length)
    return stood(Mesh(apply(pose(_RUNS[Along.X], np.zeros(3)), flat.vertices), flat.faces))


def pedestal(height: float, column: float, plate: float, thickness: float) -> Mesh:
    """Square column with a square plate at its foot and one on top; ``height`` over all."""
    require_sizes("a pedestal", height=height, column=column, plate=plate, thickness=thickness)
    require_less("a pedestal", "thickness", thickness, height / 2, "half its height")
    require_less("a pedestal", "column", column, plate * (1 + 1e-9), "the width of its plates")
    parts = [
        block_at((plate, plate, thickness), (-plate / 2, -plate / 2, 0.0)),
        block_at((column, column, height), (-column / 2, -column / 2, 0.0)),
        block_at((plate, plate, thickness), (-plate / 2, -plate / 2, height - thickness)),
    ]
    return stood(together(parts))


def stop_block(length: float, width: float, height: float, thickness: float) -> Mesh:
    """Foot plate with an upright at its end of greatest x, which the part is pushed against."""
    require_sizes("a stop block", length=length, width=width, height=height, thickness=thickness)
    require_less("a stop block", "thickness", thickness, min(length, height), "length and height")
    t = thickness
    outline = np.array([[0, 0], [length, 0], [length, height], [length - t, height],
                        [length - t, t], [0, t]])  # fmt: skip
    flat = drawn_out(outline, width)
    # The outline's x stays x, its y goes up; the width runs along -y.
    R = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], dtype=float)
    return stood(Mesh(apply(pose(R, np.zeros(3)), flat.vertices), flat.faces))
