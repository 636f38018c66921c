"""``pathsim mesh``: what a mesh file is, before it stands in a cell."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.errors import CannotCheck
from pathsim.mesh_files.measured import UNITS, USUAL, MeasuredMesh, measured_mesh
from pathsim.units import factor, millimetres

if TYPE_CHECKING:
    from rich.console import Console

#: More parts than this are counted, not named.
_PARTS = 60
#: What is thinner in most places is most likely read in a wrong unit, m.
_THINNEST = 0.5e-3


def print_mesh(path: Path, unit: str, up: str, console: Console) -> MeasuredMesh:
    """Print what a file is, and the line with which it stands in a cell; return what was read."""
    if unit and unit not in UNITS:
        raise CannotCheck(f"--unit '{unit}' is not known; give one of {', '.join(UNITS)}")
    if up not in ("", "y", "z"):
        raise CannotCheck(f"--up '{up}' is not known; give y or z")
    found = measured_mesh(path, unit)
    for line in mesh_lines(found, unit, up):
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    return found


def mesh_lines(found: MeasuredMesh, asked: str = "", up: str = "") -> list[str]:
    """Return the report on a mesh file, a line each. ``asked``, ``up``: as the user said."""
    triangles = f"{len(found.mesh.faces):,}".replace(",", " ")
    lines = [f"{found.path.name}: {triangles} triangles"]
    lines += _parts(found)
    lines += _size(found, asked)
    if found.open_edges:
        lines.append(
            f"  Not closed: {found.open_edges} open edges. Distances hold; what lies inside of it "
            "may not be seen. Better: export it as a solid."
        )
    else:
        lines.append("  Closed: it has an inside.")
    if found.flat:
        lines.append(f"  {found.flat} triangles are no more than a line; they do no harm.")
    if found.thickness is not None:
        least, median = found.thickness
        lines.append(f"  Thickness in 200 places: {millimetres(least)} at least, "
                     f"{millimetres(median)} in the middle.")  # fmt: skip
        lines += _thin(found, median, asked)
    if found.drawn_to:
        off = millimetres(found.drawn_to)
        lines.append(f"  Cut into triangles to {off}: margins to it will be {off} wider.")
    return [
        *lines,
        "  In cell.yaml, under bodies (the file's path counts from there):",
        f"  - {_entry(found, up)}",
        *_of_one_part(found, up),
    ]


def _thin(found: MeasuredMesh, median: float, asked: str) -> list[str]:
    """Doubt a unit that the longest side alone told, where the rest is thinner than sheet."""
    if asked or median >= _THINNEST:
        return []
    once = median / factor(found.unit or "m", "length")
    others = [f"{unit} {millimetres(once * factor(unit, 'length'))}" for unit in found.plausible
              if unit != found.unit and once * factor(unit, "length") >= _THINNEST]  # fmt: skip
    if not others:
        return []
    return [
        f"  Too thin in {found.unit} for what is welded or clamped; its thickness with others: "
        f"{', '.join(others)}. Measure it, then give '--unit'."
    ]


def _of_one_part(found: MeasuredMesh, up: str) -> list[str]:
    if len(found.parts) < 2:
        return []
    return [
        "  That is all parts together. One of them alone, all at the same place:",
        f"  - {_entry(found, up, found.parts[0].name)}",
    ]


def _parts(found: MeasuredMesh) -> list[str]:
    """Name each part with its size, so that a cell can ask for one of them."""
    if len(found.parts) < 2:
        return [f"  One part: '{part.name}'." for part in found.parts]
    lines = [f"  {len(found.parts)} parts:"]
    for part in found.parts[:_PARTS]:
        size = " x ".join(f"{1e3 * side:.1f}" for side in part.size)
        lines.append(f"    '{part.name}': {size} mm, {part.triangles} triangles")
    if len(found.parts) > _PARTS:
        lines.append(f"    {len(found.parts) - _PARTS} more")
    return lines


def _size(found: MeasuredMesh, asked: str) -> list[str]:
    size = " x ".join(f"{1e3 * side:.1f}" for side in found.size)
    if not found.plausible and not asked:
        if found.unit:  # no unit makes it a usual size
            each = [f"{unit} {_long(found, unit)}" for unit in UNITS]
            low, high = USUAL
            return [
                f"  No unit fits: its longest side is {', '.join(each)}. Things in a cell have "
                f"{millimetres(low, 0)} to {millimetres(high, 0)}."
            ]
        return [f"  Size {size} mm, by the file's own unit."]
    lines = [f"  Size {size} mm, read in {found.unit}."]
    others = [f"{unit} {_long(found, unit)}" for unit in found.plausible if unit != found.unit]
    if asked and found.plausible and asked not in found.plausible:
        lines.append(f"  Unusual in {asked}. Longest side with others: {', '.join(others)}.")
    elif others:
        lines.append(f"  Could be as well, longest side: {', '.join(others)}. Measure one edge.")
    return lines


def _long(found: MeasuredMesh, unit: str) -> str:
    """Longest side if the file's numbers were in ``unit``."""
    longest = float(found.size.max()) / factor(found.unit or "m", "length")
    return millimetres(longest * factor(unit, "length"), 0)


def _entry(found: MeasuredMesh, up: str, part: str = "") -> str:
    name = (part or found.path.stem).replace("_", " ").replace("-", " ")
    unit = f", unit: {found.unit}" if found.unit else ""
    if found.path.suffix.lower() == ".glb":
        unit, up = ", unit: m", up or "y"
    stands = f", up: {up}" if up else ""
    where = found.path.name if found.path.is_absolute() else found.path.as_posix()
    one = f", part: {_quoted(part)}" if part else ""
    mesh = f"mesh: {_quoted(where)}{one}{unit}{stands}"
    return f"{{name: {_quoted(name)}, role: fixture, {mesh}, at: 0 0 0 mm}}"


def _quoted(text: str) -> str:
    """Return a text as YAML reads it again within braces."""
    plain = re.fullmatch(r"[A-Za-z][A-Za-z0-9 _./-]*", text) and text == text.strip()
    is_a_word = text.casefold() in ("true", "false", "null", "yes", "no", "on", "off")
    if plain and not is_a_word:
        return text
    return "'" + text.replace("'", "''") + "'"
