"""The small plan of a sheet as a drawing inside an HTML page."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from pathsim.report.plan_records import Place, Plan

#: Units across a drawing; a number in a mark is so high.
_ACROSS, _TYPE = 400.0, 24.0


def plan_as_svg(plan: Plan) -> str:
    """Return a plan as SVG, with a text for whoever cannot see it."""

    def at(place: Place) -> tuple[float, float]:
        return place[0] * _ACROSS, (plan.height - place[1]) * _ACROSS

    def points(places: Iterable[Place]) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, places))

    parts = []
    for outline, grey in plan.areas:
        shade = round(255 * grey)
        parts.append(
            f'<polygon points="{points(outline)}" fill="rgb({shade},{shade},{shade})" '
            'stroke="#777" stroke-width="1"/>'
        )
    parts += [
        f'<polyline points="{points(seam)}" fill="none" stroke="#111" stroke-width="4"/>'
        for seam in plan.seams
    ]
    (x, y), radius = at(plan.arm[0]), plan.arm[1] * _ACROSS
    parts.append(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="#fff" stroke="#111" '
        f'stroke-width="2"/><path d="M{x:.1f} {y:.1f}h{2 * radius:.1f}m-8 -5l8 5l-8 5" '
        'fill="none" stroke="#111" stroke-width="2"/>'
    )
    for word, place in plan.words_apart(_TYPE / _ACROSS):
        parts.append(_word(word, *at(place)))
    for number, place in plan.marks_apart(2.2 * _TYPE / _ACROSS):
        cx, cy = at(place)
        parts.append(
            f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="{0.72 * _TYPE:.1f}" fill="#fff" '
            f'stroke="#111" stroke-width="2"/>{_word(number, cx, cy, bold=True)}'
        )
    return (
        f'<svg class="plan" role="img" aria-label="{escape(plan.words)}" '
        f'viewBox="0 0 {_ACROSS:.0f} {plan.height * _ACROSS:.0f}">{"".join(parts)}</svg>'
    )


def _word(text: str, x: float, y: float, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{_TYPE:.0f}" text-anchor="middle" '
        f'dominant-baseline="central" fill="#111" stroke="#fff" stroke-width="5" '
        f'paint-order="stroke"{weight}>{text}</text>'
    )
