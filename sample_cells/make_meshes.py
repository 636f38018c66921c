"""Write the meshes of the sample cells, or check that the stored ones are up to date.

STL, OBJ and PLY files are in millimetres; GLB is in metres, as its standard asks, but keeps z up
because pathsim reads coordinates as they are written.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from mesh_source import (
    arm_shapes,
    part_shapes,
    shop_shapes,
    sized_arm_shapes,
    torch_shapes,
    turning_shapes,
)
from mesh_source.solids import Solid, finished

HERE = Path(__file__).resolve().parent
MOST_TRIANGLES = 2500
SMALLEST_AREA = 1e-12
METRES_PER_MM = 0.001

MESHES: dict[str, Callable[[], Solid]] = {
    "shop_arm/base.stl": arm_shapes.base,
    "shop_arm/link1.stl": arm_shapes.link1,
    "shop_arm/link2.stl": arm_shapes.link2,
    "shop_arm/link3.stl": arm_shapes.link3,
    "shop_arm/link4.stl": arm_shapes.link4,
    "shop_arm/link5.stl": arm_shapes.link5,
    "shop_arm/link6.stl": arm_shapes.link6,
    "shop_arm/torch_body.stl": torch_shapes.torch_body,
    "shop_arm/torch_neck.stl": torch_shapes.torch_neck,
    "shop_arm/torch_nozzle.stl": torch_shapes.torch_nozzle,
    "shop/table.stl": shop_shapes.table,
    "shop/pedestal.stl": shop_shapes.pedestal,
    "shop/fixture_plate.stl": shop_shapes.fixture_plate,
    "shop/toggle_clamp.stl": shop_shapes.toggle_clamp,
    "shop/stop_block.stl": shop_shapes.stop_block,
    "gate_hinge/gate_post.stl": part_shapes.gate_post,
    "gate_hinge/hinge_plate.obj": part_shapes.hinge_plate,
    "collar_seam/collar_base.stl": part_shapes.collar_base,
    "collar_seam/collar_pipe.ply": part_shapes.collar_pipe,
    "deep_channel/channel.glb": part_shapes.channel,
    "three_passes/bevelled_plate.stl": part_shapes.bevelled_plate,
    "three_passes/backing_bar.stl": part_shapes.backing_bar,
    "skewed_web/skewed_web.stl": part_shapes.skewed_plate,
    "skewed_web/web_base.stl": part_shapes.web_base,
    "turned_collar/turning_stand.stl": turning_shapes.turning_stand,
    "turned_collar/turning_plate.stl": turning_shapes.turning_plate,
    "tilted_pipe/tilt_stand.stl": turning_shapes.tilt_stand,
    "tilted_pipe/tilt_frame.stl": turning_shapes.tilt_frame,
    "tilted_pipe/slanted_block.stl": turning_shapes.slanted_block,
    "hanging_rail/rail_bed.stl": turning_shapes.rail_bed,
    "hanging_rail/girder.stl": turning_shapes.girder,
    "hanging_rail/trestle.stl": turning_shapes.trestle,
}

SIZED_ARMS = {
    "bench_arm": sized_arm_shapes.BENCH,
    "long_arm": sized_arm_shapes.LONG,
    "offset_wrist_arm": sized_arm_shapes.OFFSET_WRIST,
}

MESHES |= {
    f"{folder}/{link.__name__}.stl": partial(link, size)
    for folder, size in SIZED_ARMS.items()
    for link in sized_arm_shapes.LINKS
}


def as_stl(solid: Solid, name: str) -> bytes:
    """Binary STL; the name goes into its header."""
    header = f"{name}, millimetres, z up".encode("ascii").ljust(80)
    return header + trimesh.exchange.stl.export_stl(solid)[80:]


def as_obj(solid: Solid, name: str) -> bytes:
    """Plain OBJ with one object."""
    lines = ["# millimetres, z up", f"o {name}"]
    lines += ["v " + " ".join(f"{value:.10g}" for value in point) for point in solid.vertices]
    lines += ["f " + " ".join(str(corner + 1) for corner in face) for face in solid.faces]
    return ("\n".join(lines) + "\n").encode("ascii")


def as_ply(solid: Solid, name: str) -> bytes:
    """Binary PLY, little end first."""
    header = [
        "ply",
        "format binary_little_endian 1.0",
        f"comment {name}, millimetres, z up",
        f"element vertex {len(solid.vertices)}",
        *(f"property float {axis}" for axis in "xyz"),
        f"element face {len(solid.faces)}",
        "property list uchar int vertex_indices",
        "end_header",
    ]
    faces = np.empty(len(solid.faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, solid.faces
    points = np.asarray(solid.vertices, dtype="<f4")
    return ("\n".join(header) + "\n").encode("ascii") + points.tobytes() + faces.tobytes()


def as_glb(solid: Solid, name: str) -> bytes:
    """GLB with one node; metres, z up."""

    def sign(tree: dict[str, Any]) -> None:
        tree["asset"]["generator"] = "pathsim sample cells"

    scaled = Solid(solid.vertices * METRES_PER_MM, solid.faces, process=False)
    scene = trimesh.Scene()
    scene.add_geometry(scaled, node_name=name, geom_name=name)
    return trimesh.exchange.gltf.export_glb(scene, tree_postprocessor=sign)


WRITERS: dict[str, Callable[[Solid, str], bytes]] = {
    ".stl": as_stl,
    ".obj": as_obj,
    ".ply": as_ply,
    ".glb": as_glb,
}


def fault_of(data: bytes, kind: str) -> str | None:
    """Say what is wrong with a written file, reading it back the way a user would."""
    mesh = trimesh.load(io.BytesIO(data), file_type=kind, force="mesh")
    to_metres = 1.0 if kind == "glb" else METRES_PER_MM
    smallest = mesh.area_faces.min() * to_metres**2
    if not (mesh.is_watertight and mesh.is_winding_consistent):
        return "is not closed"
    if mesh.volume <= 0:
        return "is inside out"
    if smallest < SMALLEST_AREA:
        return f"has a triangle of only {smallest:.1e} square metres"
    if len(mesh.faces) > MOST_TRIANGLES:
        return f"has {len(mesh.faces)} triangles"
    return None


def generated(name: str) -> tuple[bytes, Solid]:
    """Draw one mesh and return the bytes of its file."""
    path = Path(name)
    solid = finished(MESHES[name]())
    data = WRITERS[path.suffix](solid, path.stem)
    fault = fault_of(data, path.suffix[1:])
    if fault:
        raise SystemExit(f"{name} {fault}")
    return data, solid


def main() -> int:
    """Write every mesh, or compare with `--check`; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare only, write nothing")
    check = parser.parse_args().check
    differing = []
    for name in MESHES:
        data, solid = generated(name)
        path = HERE / name
        if check:
            if not path.is_file() or path.read_bytes() != data:
                differing.append(name)
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        print(f"{name}: {len(solid.faces)} triangles, {len(data)} bytes")
    for name in differing:
        print(f"{name} differs from what the script draws", file=sys.stderr)
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main())
