"""A result as a small table for notebooks: escaped, no script, never without the caution."""

from __future__ import annotations

from html import escape

from pathsim.caution import CAUTION
from pathsim.findings import Level
from pathsim.result.record import ResultRecord
from pathsim.result.words import closest, guaranteed, verdict, way_of, where

_HEADS = ("", "move", "", "s", "guaranteed clearance", "at % of move", "closest")


def as_html(result: ResultRecord) -> str:
    """Return moves, verdict, stop and watch findings, and the caution as HTML."""
    rows = [_row("th", _HEADS)]
    for move in result.moves:
        track = move.track
        way = way_of(track)
        said = (guaranteed(move, result.cap), where(move), closest(move))
        rows.append(
            _row("td", (str(track.number), track.move.label, way, f"{track.duration:.1f}", *said))
        )
    grave = [f for f in result.findings if f.level.at_least(Level.WATCH)]
    items = "".join(f"<li><b>{escape(f.level)}</b> {escape(f.text)}</li>" for f in grave)
    lacking = [item for item in result.left_out if not item.is_agreed]
    missing = "; ".join(f"{item.what} ({item.why})" for item in lacking)
    return (
        f"<p><b>{escape(result.cell.name)}</b>. {escape(verdict(result))}</p>"
        f"<table>{''.join(rows)}</table>"
        + (f"<ol>{items}</ol>" if items else "")
        + (f"<p>Not checked: {escape(missing)}.</p>" if missing else "")
        + (f"<p>{escape(result.engine_note)}</p>" if result.engine_note else "")
        + f"<p><i>{escape(CAUTION)}</i></p>"
    )


def _row(tag: str, cells: tuple[str, ...]) -> str:
    return f"<tr>{''.join(f'<{tag}>{escape(cell)}</{tag}>' for cell in cells)}</tr>"
