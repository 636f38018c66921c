"""How many triangles a mesh file says it has, told without the library that reads it.

Readers drop what they do not understand; held against this number, nothing is lost in silence.
"""

from __future__ import annotations

import json
import struct
from typing import Any

from pathsim.errors import MeshError

#: glTF extensions that only change how a surface looks. Any other that a file requires may
#: change where its triangles are (compression, quantisation, instancing).
_LOOKS_ONLY = ("KHR_materials_", "KHR_texture_", "EXT_texture_")
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
_DEEPEST = 64


def announced_triangles(raw: bytes, ending: str) -> int | None:
    """Return the least number of triangles a reader must find; None when it cannot be told.

    Raises MeshError where the file contradicts itself.
    """
    counts = {".stl": _stl_count, ".ply": _ply_count, ".glb": _glb_count}
    return counts[ending](raw) if ending in counts else None


def is_binary_stl(raw: bytes) -> bool:
    """Tell whether the length is the one that a binary STL's count of triangles asks for."""
    return len(raw) >= 84 and len(raw) == 84 + 50 * int.from_bytes(raw[80:84], "little")


def _stl_count(raw: bytes) -> int:
    """Return triangles a binary or text STL announces."""
    if is_binary_stl(raw):
        return int.from_bytes(raw[80:84], "little")
    text = raw.lower()
    if not text.lstrip().startswith(b"solid"):
        raise MeshError("its length does not fit the number of triangles it announces (cut off?)")
    if text.count(b"endfacet") != text.count(b"outer loop"):
        raise MeshError("a facet is not closed (cut off?)")
    return text.count(b"endfacet")


def _ply_count(raw: bytes) -> int | None:
    """Return faces that a PLY's header announces (each makes at least one triangle).

    A text PLY must also have a line for each of its vertices and faces: a cut one whose faces
    have four corners would still give triangles enough.
    """
    head, _, tail = raw.partition(b"end_header")
    if b"format ascii" in head:
        wanted = sum(
            int(words[2])
            for words in (line.split() for line in head.splitlines())
            if words[:1] == [b"element"] and len(words) == 3 and words[2].isdigit()
        )
        lines = sum(bool(line.strip()) for line in tail.splitlines())
        if lines < wanted:
            raise MeshError(f"its header announces {wanted} lines but {lines} follow (cut off?)")
    for line in head.splitlines():
        words = line.split()
        if words[:2] == [b"element", b"face"] and len(words) == 3:
            return int(words[2]) if words[2].isdigit() else None
    return None


def _glb_count(raw: bytes) -> int:
    """Return the triangles of all nodes of the scene that a GLB shows (glTF 2.0)."""
    try:
        tree = _glb_tree(raw)
        needed = [str(name) for name in tree.get("extensionsRequired", [])]
        scene = tree["scenes"][tree.get("scene", 0)]
        total = sum(_node_count(tree, node, 0) for node in scene.get("nodes", []))
    except MeshError:
        raise
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, struct.error) as error:
        name = type(error).__name__
        raise MeshError(f"it cannot be read as GLB (cut off or broken: {name})") from error
    for name in needed:
        if not name.startswith(_LOOKS_ONLY):
            raise MeshError(f"it needs the glTF extension {name}, which is not read")
    return total


def _glb_tree(raw: bytes) -> dict[str, Any]:
    """Return the JSON part of a GLB; MeshError when the file is no whole GLB."""
    magic, version, length = struct.unpack_from("<4sII", raw)
    size, kind = struct.unpack_from("<I4s", raw, 12)
    if magic != b"glTF" or kind != b"JSON" or version != 2 or length > len(raw):
        raise MeshError("it cannot be read as GLB (cut off, or another format)")
    tree: dict[str, Any] = json.loads(raw[20 : 20 + size])
    return tree


def _node_count(tree: dict[str, Any], index: int, depth: int) -> int:
    """Return the triangles of a node and everything below it."""
    if depth > _DEEPEST:
        raise MeshError("its nodes go in circles or are nested too deeply")
    node = tree["nodes"][index]
    total = sum(_node_count(tree, child, depth + 1) for child in node.get("children", []))
    if "skin" in node:
        raise MeshError("it bends a mesh by a skin, which is not read")
    if "mesh" in node:
        total += sum(_primitive_count(tree, p) for p in tree["meshes"][node["mesh"]]["primitives"])
    return total


def _primitive_count(tree: dict[str, Any], primitive: dict[str, Any]) -> int:
    """Return the triangles of one primitive; points and lines have none."""
    accessor = primitive.get("indices", primitive["attributes"]["POSITION"])
    used = [tree["accessors"][accessor], tree["accessors"][primitive["attributes"]["POSITION"]]]
    if "targets" in primitive or any("sparse" in entry for entry in used):
        raise MeshError("it moves its vertices by sparse values or targets, which are not read")
    corners = int(used[0]["count"])
    mode = primitive.get("mode", _TRIANGLES)
    if mode == _TRIANGLES:
        return corners // 3
    return max(corners - 2, 0) if mode in (_STRIP, _FAN) else 0
