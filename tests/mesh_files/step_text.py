"""STEP files written by hand: blocks and round bars, in mm, m or inch, placed in an assembly."""

from __future__ import annotations

import numpy as np

_UNITS = {
    "mm": "(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.))",
    "m": "(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.))",
}
_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('x','2026-01-01T00:00:00',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""
_TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"


class _Lines:
    def __init__(self):
        self.lines = []

    def add(self, text):
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def point(self, p):
        return self.add("CARTESIAN_POINT('',({}))".format(",".join(f"{float(v)!r}" for v in p)))

    def direction(self, d):
        return self.add("DIRECTION('',({}))".format(",".join(f"{float(v)!r}" for v in d)))

    def frame(self, at, z, x):
        parts = self.point(at), self.direction(z), self.direction(x)
        return self.add("AXIS2_PLACEMENT_3D('',{},{},{})".format(*parts))

    def vertex(self, p):
        return self.add(f"VERTEX_POINT('',{self.point(p)})")

    def face(self, loops, surface):
        bounds = [self.add(f"FACE_OUTER_BOUND('',{loop},.T.)") for loop in loops]
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},.T.)")

    def loop(self, edges):
        oriented = [self.add(f"ORIENTED_EDGE('',*,*,{e},{way})") for e, way in edges]
        return self.add(f"EDGE_LOOP('',({','.join(oriented)}))")


def _block(lines, size):
    size = np.asarray(size, float)
    places = {(i, j, k): np.array([i, j, k]) * size for i in (0, 1) for j in (0, 1) for k in (0, 1)}
    vertices = {key: lines.vertex(place) for key, place in places.items()}
    edges = {}

    def edge(a, b):
        if (b, a) in edges:
            return edges[b, a], ".F."
        if (a, b) not in edges:
            way = places[b] - places[a]
            along = lines.add(f"VECTOR('',{lines.direction(way / np.linalg.norm(way))},1.)")
            line = lines.add(f"LINE('',{lines.point(places[a])},{along})")
            edges[a, b] = lines.add(f"EDGE_CURVE('',{vertices[a]},{vertices[b]},{line},.T.)")
        return edges[a, b], ".T."

    faces = []
    for axis in range(3):
        for side in (0, 1):
            u, v = [k for k in range(3) if k != axis]
            normal = np.zeros(3)
            normal[axis] = 2 * side - 1
            ring = []
            for i, j in ((0, 0), (1, 0), (1, 1), (0, 1)):
                key = [0, 0, 0]
                key[axis], key[u], key[v] = side, i, j
                ring.append(tuple(key))
            sides = places[ring[1]] - places[ring[0]], places[ring[2]] - places[ring[1]]
            if np.cross(*sides)[axis] * normal[axis] < 0:
                ring.reverse()
            x = places[ring[1]] - places[ring[0]]
            plane = lines.frame(places[ring[0]], normal, x / np.linalg.norm(x))
            loop = lines.loop([edge(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)])
            faces.append(lines.face([loop], lines.add(f"PLANE('',{plane})")))
    return faces


def _bar(lines, radius, length):
    low, high = np.array([radius, 0, 0]), np.array([radius, 0, length])
    a, b = lines.vertex(low), lines.vertex(high)
    circles = []
    for z, vertex in ((0.0, a), (length, b)):
        frame = lines.frame((0, 0, z), (0, 0, 1), (1, 0, 0))
        circle = lines.add(f"CIRCLE('',{frame},{float(radius)!r})")
        circles.append(lines.add(f"EDGE_CURVE('',{vertex},{vertex},{circle},.T.)"))
    along = lines.add(f"VECTOR('',{lines.direction((0, 0, 1))},1.)")
    seam_line = lines.add(f"LINE('',{lines.point(low)},{along})")
    seam = lines.add(f"EDGE_CURVE('',{a},{b},{seam_line},.T.)")
    frame = lines.frame((0, 0, 0), (0, 0, 1), (1, 0, 0))
    side = lines.add(f"CYLINDRICAL_SURFACE('',{frame},{float(radius)!r})")
    around = lines.loop([(circles[0], ".T."), (seam, ".T."), (circles[1], ".F."), (seam, ".F.")])
    faces = [lines.face([around], side)]
    for z, circle, way in ((0.0, circles[0], ".F."), (length, circles[1], ".T.")):
        normal = (0, 0, -1) if z == 0 else (0, 0, 1)
        plane = lines.add(f"PLANE('',{lines.frame((0, 0, z), normal, (1, 0, 0))})")
        faces.append(lines.face([lines.loop([(circle, way)])], plane))
    return faces


def step(shape, numbers, unit="mm", name="a part"):
    """The text of a STEP file with one ``block`` (sizes) or ``bar`` (radius, length)."""
    return several([(shape, numbers, name)], unit)


def several(parts, unit="mm"):
    """The text of a STEP file with parts ``(shape, numbers, name)``, all at their origin."""
    lines = _Lines()
    for shape, numbers, name in parts:
        _product(lines, shape, numbers, unit, name)
    return (_HEAD + "\n".join(lines.lines) + "\n" + _TAIL).encode()


def _product(lines, shape, numbers, unit, name):
    faces = (_block if shape == "block" else _bar)(
        lines, *([numbers] if shape == "block" else numbers)
    )
    shell = lines.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    solid = lines.add(f"MANIFOLD_SOLID_BREP('{name}',{shell})")
    if unit == "in":
        metre = lines.add(_UNITS["mm"])
        dimensions = lines.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
        measure = lines.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{metre})")
        length = lines.add(
            f"(CONVERSION_BASED_UNIT('INCH',{measure}) LENGTH_UNIT() NAMED_UNIT({dimensions}))"
        )
    else:
        length = lines.add(_UNITS[unit])
    angle = lines.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))")
    solid_angle = lines.add("(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT())")
    about = lines.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{length},'a','b')")
    context = lines.add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({about})) "
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle})) "
        "REPRESENTATION_CONTEXT('','3D'))"
    )
    origin = lines.frame((0, 0, 0), (0, 0, 1), (1, 0, 0))
    shown = lines.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('{name}',({origin},{solid}),{context})")
    application = lines.add("APPLICATION_CONTEXT('automotive design')")
    product_context = lines.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    product = lines.add(f"PRODUCT('{name}','{name}','',({product_context}))")
    formation = lines.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    design = lines.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    definition = lines.add(f"PRODUCT_DEFINITION('design','',{formation},{design})")
    of = lines.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    lines.add(f"SHAPE_DEFINITION_REPRESENTATION({of},{shown})")
