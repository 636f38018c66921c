"""3MF: a zip with XML in it; objects, objects made of others, and what is to be built of them.

The unit is the file's own and is applied. What the core of the format does not define and the file
requires is refused: it may change where triangles are.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from pathsim.errors import MeshError
from pathsim.transforms import Array, IntArray, apply

#: The format's units (3MF core specification, 3.4), m.
UNITS = {
    "micron": 1e-6, "millimeter": 1e-3, "centimeter": 1e-2, "inch": 0.0254, "foot": 0.3048,
    "meter": 1.0,
}  # fmt: skip
_CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
_PRODUCTION = "{http://schemas.microsoft.com/3dmanufacturing/production/2015/06}"
#: Required extensions that move no triangle, or whose placements are read here.
_READ = (_PRODUCTION, "{http://schemas.microsoft.com/3dmanufacturing/material/2015/02}")
#: Unpacked, bytes: its XML takes several times as much memory.
_LARGEST, _DEEPEST, _MOST_PLACED = 300_000_000, 32, 20_000


class Part(NamedTuple):
    """One object of a file where it is placed: ``vertices (n, 3)``, ``faces (m, 3)``."""

    name: str
    vertices: Array
    faces: IntArray


def three_mf_parts(raw: bytes) -> tuple[list[Part], str]:
    """Return what a 3MF builds, in metres, and the unit it says; MeshError where it is none."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            package = _Package(archive)
            root = package.model(package.start())
            parts = list(root.built())
            return parts, root.unit
    except MeshError:
        raise
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, OSError) as error:
        what = type(error).__name__
        raise MeshError(f"it cannot be read as 3MF (cut off, or another format: {what})") from error


class _Package:
    """The files of a 3MF."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        if sum(info.file_size for info in archive.infolist()) > _LARGEST:
            raise MeshError(f"unpacked it has more than {_LARGEST} bytes")
        self._archive = archive
        self._models: dict[str, _Model] = {}
        #: Objects placed so far: a file of objects within objects may grow without end.
        self.placed = 0

    def start(self) -> str:
        """Return the path of the model that the package says to begin with."""
        tree, _ = _xml(self._archive.read("_rels/.rels"))
        for relation in tree:
            if str(relation.get("Type", "")).endswith("/3dmodel"):
                return str(relation.get("Target", ""))
        raise MeshError("it names no 3D model to begin with")

    def model(self, path: str) -> _Model:
        """Return one of its models."""
        name = path.lstrip("/")
        if name not in self._models:
            self._models[name] = _Model(self, *_xml(self._archive.read(name)))
        return self._models[name]


class _Model:
    """One model of a package: objects by number, and what is built of them."""

    def __init__(self, package: _Package, tree: Any, needed: list[str]) -> None:
        self._package, self._tree = package, tree
        if tree.tag != f"{_CORE}model":
            raise MeshError("its model is not one of the 3MF core format")
        self.unit = str(tree.get("unit", "millimeter"))
        if self.unit not in UNITS:
            raise MeshError(f"it says the unit '{self.unit}', which the format does not have")
        for space in needed:
            if f"{{{space}}}" not in _READ:
                raise MeshError(f"it needs the 3MF extension {space}, which is not read")
        self._objects = {
            str(one.get("id")): one for one in tree.iterfind(f"{_CORE}resources/{_CORE}object")
        }
        self._meshes: dict[str, tuple[Array, IntArray]] = {}

    def built(self) -> Iterator[Part]:
        """Give all that the model builds, in m."""
        build = self._tree.find(f"{_CORE}build")
        items = [] if build is None else build.findall(f"{_CORE}item")
        if not items:
            raise MeshError("it builds nothing")
        for item in items:
            yield from self._placed(item, np.eye(4), 0, UNITS[self.unit])

    def _placed(self, item: Any, T: Array, depth: int, scale: float) -> Iterator[Part]:
        """Give the parts of an item or component, placed by ``T (4, 4)`` in the root's unit."""
        if depth > _DEEPEST:
            raise MeshError("its objects go in circles or are nested too deeply")
        self._package.placed += 1
        if self._package.placed > _MOST_PLACED:
            raise MeshError(f"it places more than {_MOST_PLACED} objects")
        path = item.get(f"{_PRODUCTION}path")
        model = self if path is None else self._package.model(str(path))
        number = str(item.get("objectid"))
        if number not in model._objects:
            raise MeshError(f"it builds the object {number}, which it does not have")
        one = model._objects[number]
        here = T @ _transform(item.get("transform"))
        if model.unit != self.unit:
            raise MeshError("its models are in different units")
        if one.find(f"{_CORE}mesh") is not None:
            vertices, faces = model._mesh(number)
            turned = faces if np.linalg.det(here[:3, :3]) > 0 else faces[:, ::-1]
            name = str(one.get("name") or f"object {number}")
            yield Part(name, scale * apply(here, vertices), turned)
        components = one.findall(f"{_CORE}components/{_CORE}component")
        if not components and one.find(f"{_CORE}mesh/{_CORE}triangles/{_CORE}triangle") is None:
            # What an extension draws there, and the file does not say it needs, would be lost.
            raise MeshError(f"its object {number} has no triangles and no components")
        for component in components:
            yield from model._placed(component, here, depth + 1, scale)

    def _mesh(self, number: str) -> tuple[Array, IntArray]:
        """Return an object's own mesh in the model's unit."""
        if number not in self._meshes:
            mesh = self._objects[number].find(f"{_CORE}mesh")
            places = [
                (float(v.get("x")), float(v.get("y")), float(v.get("z")))
                for v in mesh.iterfind(f"{_CORE}vertices/{_CORE}vertex")
            ]
            corners = [
                (int(t.get("v1")), int(t.get("v2")), int(t.get("v3")))
                for t in mesh.iterfind(f"{_CORE}triangles/{_CORE}triangle")
            ]
            vertices = np.array(places, dtype=np.float64).reshape(-1, 3)
            faces = np.array(corners, dtype=np.int64).reshape(-1, 3)
            if not np.isfinite(vertices).all():
                raise MeshError("it has vertices that are not finite numbers")
            if len(faces) and not (faces.min() >= 0 and faces.max() < len(vertices)):
                raise MeshError("a triangle names a vertex that it does not have")
            self._meshes[number] = vertices, faces
        return self._meshes[number]


def _transform(text: str | None) -> Array:
    """Return the pose of a 3MF matrix: twelve numbers, rows of a matrix that acts from the left."""
    T = np.eye(4)
    if text is not None:
        numbers = np.array([float(word) for word in text.split()])
        if numbers.shape != (12,) or not np.isfinite(numbers).all():
            raise MeshError(f"it places an object by '{text}', which is no matrix of 12 numbers")
        T[:3] = numbers.reshape(4, 3).T
        if abs(np.linalg.det(T[:3, :3])) < 1e-12:
            raise MeshError("it flattens an object to nothing")
    return T


def _xml(raw: bytes) -> tuple[Any, list[str]]:
    """Return the root of an XML text and the extensions it needs; entities are refused."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import ParseError, iterparse

    spaces: dict[str, str] = {}
    root = None
    try:
        for event, node in iterparse(io.BytesIO(raw), ("start-ns", "start"), forbid_dtd=True):
            if event == "start-ns":
                spaces[node[0]] = node[1]
            elif root is None:
                root = node
    except (ParseError, DefusedXmlException, UnicodeError) as error:
        raise MeshError("its XML is cut off or broken") from error
    if root is None:
        raise MeshError("its XML is empty")
    prefixes = str(root.get("requiredextensions", "")).split()
    return root, [spaces.get(prefix, prefix) for prefix in prefixes]
