"""Shapes without CAD: sections, shop parts and torches from numbers that a tape measure gives.

Every mesh is closed and holds the true shape: round outlines are drawn round their circle, bores
inside theirs, roundings of inner corners are filled. So a clearance to the mesh is never more
than to the thing. Lengths in m. Each stands on z = 0, with the middle of its foot at x = y = 0.
"""

from pathsim.shapes.blocks import box, cylinder
from pathsim.shapes.clamps import c_clamp, toggle_clamp
from pathsim.shapes.sections import Along, angle, beam, channel, pipe, tube
from pathsim.shapes.shop_parts import bench, pedestal, stop_block
from pathsim.shapes.standing import From, stood
from pathsim.shapes.torch import Barrel, BuiltTorch, Neck, Nozzle, TorchSizes, build_torch

__all__ = [
    "Along",
    "Barrel",
    "BuiltTorch",
    "From",
    "Neck",
    "Nozzle",
    "TorchSizes",
    "angle",
    "beam",
    "bench",
    "box",
    "build_torch",
    "c_clamp",
    "channel",
    "cylinder",
    "pedestal",
    "pipe",
    "stood",
    "stop_block",
    "toggle_clamp",
    "tube",
]
