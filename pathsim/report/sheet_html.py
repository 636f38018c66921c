"""The first-run sheet as one HTML file: no scripts, no other files, made for A4 in grey."""

from __future__ import annotations

import base64
from collections.abc import Iterable

from pathsim.report.paper import Paper, escape
from pathsim.report.plan_svg import plan_as_svg
from pathsim.report.sheet_records import (
    ARC_ON,
    NUMBERS,
    PLAN,
    POINTS,
    REMARK_LINES,
    REMARKS,
    SEAMS,
    Line,
    Moment,
    Row,
    SheetContent,
)
from pathsim.report.sheet_style import STYLE

#: Said in so many words, since the table's rows stand in lines on a phone.
_ROLES = (("table ", "table"), ("thead", "rowgroup"), ("tbody", "rowgroup"), ("tr", "row"),
          ("th ", "columnheader"), ("td ", "cell"))  # fmt: skip
_SIGN = '<div class="sign"><span>Name</span><span>Signature</span><span>Date, time</span></div>'
#: Type on paper (pt) by how many lines of moves and findings the first of two sides has, at most.
_FRONT, _LEAST = ((10, 9.0), (16, 8.0)), 7.5
#: So many lines of moves, findings, points and numbers fit on one side with all else, about.
_ONE_SIDE = 12
#: Names of what is nearest stand on one line up to so many letters.
_BRIEF = 26


def sheet_as_html(content: SheetContent, paper: Paper = Paper.A4) -> str:
    """Return the whole page, to be printed on ``paper``."""
    stop = " stop" if content.is_stop else ""
    front = len(content.rows) + 2 * (len(content.findings) + len(content.doubts))
    behind = len(content.seams) + 2 * len(content.numbers) + len(content.points) // 2
    is_parted = front + behind > _ONE_SIDE
    is_brief = all(len(row.to) <= _BRIEF for row in content.rows)
    size = next((size for most, size in _FRONT if is_parted and front <= most), _LEAST)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport"
content="width=device-width, initial-scale=1"><meta name="generator" content="pathsim sheet">
<title>First-run sheet: {escape(content.title)}</title>
<style>{STYLE.replace("PAPER", paper.css)}</style></head>
<body class="{"brief" if is_brief else "full"}" style="--paper: {size}pt">
<main><header><h1><small>First-run sheet</small>{escape(content.title)}</h1>
<div class="hash">{escape(content.files)}<br>{escape(content.date)}<br>sha256
{escape(content.fingerprint)}</div></header>
{_labels(content)}<p class="verdict{stop}">{escape(content.verdict)}</p>
<p>{escape(content.totals)}.</p>
{_paragraphs(content.notes)}
{_list("Doubts about the model", content.doubts)}
{_table(content)}
<h2>{escape(content.moments_title)}</h2>
{_moments(content)}
{_list(content.findings_title, content.findings)}
<div class="columns">
{_sections(_to_do(content))}
</div>
{_SIGN if content.boxes else ""}
<div class="{"background parted" if is_parted else "background"}">
{_list(NUMBERS, content.numbers)}
{_points(content)}
<div class="columns">
{_sections(_background(content))}
</div>
<h2>Files this sheet belongs to</h2><p class="files">{escape(content.all_files)}</p>
</div>
</main><footer>{escape(content.caution)}</footer>
</body></html>
"""


def _to_do(content: SheetContent) -> tuple[str, ...]:
    """Return what to tick or to cure, what else to look at, and remarks, as on the PDF."""
    return (
        _list(content.boxes_title, content.boxes, "boxes"),
        _list(content.boxes_title, content.to_cure),
        _list("Wrist zones", content.wrist),
        _list(ARC_ON, content.arc_on, "boxes"),
        f"<h2>{REMARKS}</h2>{_remarks(content)}",
    )


def _background(content: SheetContent) -> tuple[str, ...]:
    """Return what the check rests on."""
    return (
        _list("Torch and process", content.setup),
        _list(SEAMS, content.seams),
        _list("Placement tolerance before contact", content.placement),
        _list("The model does not know", content.unknown),
        "" if content.moments else _plan(content),
    )


def _sections(blocks: Iterable[str]) -> str:
    return "\n".join(f"<section>{block}</section>" for block in blocks if block)


def _table(content: SheetContent) -> str:
    head = (
        '<tr><th class="n">no.</th><th class="k">move</th><th>from &gt; to</th>'
        '<th class="n">speed</th>'
        f'<th class="n k">{escape(content.seconds_head)}</th><th class="n">tip mm/s</th>'
        '<th class="n">guaranteed clearance</th><th class="n">at %</th>'
        "<th>nearest</th><th>seen mm</th></tr>"
    )
    rows = "".join(_row(row, content.seconds_head) for row in content.rows)
    head = head.replace("<th", '<th scope="col"')
    table = f'<table class="moves"><thead>{head}</thead><tbody>{rows}</tbody></table>'
    for tag, role in _ROLES:
        table = table.replace(
            f"<{tag}", f'<{tag.rstrip()} role="{role}"' + tag[len(tag.rstrip()) :]
        )
    return _scrolled("Moves", table)


def _row(row: Row, seconds_head: str) -> str:
    """Return a row; on a phone it stands in lines, with the head of each number before it."""
    more = zip(("speed", seconds_head, "tip mm/s"), (row.speed, row.seconds, row.tip), strict=True)
    cells = [
        f'<td class="n first">{escape(row.mark)}</td>',
        f'<td class="k">{escape(row.kind)}</td><td class="way">{escape(row.way)}</td>',
        *(f'<td class="n more" data-head="{escape(head)}">{escape(text)}</td>'
          for head, text in more),
        f'<td class="n clear">{escape(row.clear_by)}</td>',
        f'<td class="n at" data-head="at">{escape(row.at)}</td>',
        f'<td class="to">{escape(row.to)}</td><td class="empty more" data-head="seen mm"></td>',
    ]  # fmt: skip
    kinds = " ".join(kind for kind in ("near" if row.is_near else "", row.level) if kind)
    return f'<tr class="{kinds}">{"".join(cells)}</tr>'


def _labels(content: SheetContent) -> str:
    said = "".join(f"<span>{word}: <b>{escape(text)}</b></span> " for word, text in content.labels)
    return f'<p class="labels">{said}</p>\n' if said else ""


def _points(content: SheetContent) -> str:
    if not content.points:
        return ""
    heads = "".join(f'<th scope="col" class="n">{escape(head)}</th>'
                    for head in content.points_heads)  # fmt: skip
    rows = "".join(
        f'<tr><th scope="row">{escape(point.mark)}</th>'
        + "".join(f'<td class="n">{value}</td>' for value in point.values)
        + "</tr>"
        for point in content.points
    )
    table = (
        f'<table class="points"><thead><tr><th scope="col">point</th>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )
    return f"<h2>{POINTS}</h2>{_scrolled('Points', table)}"


def _scrolled(name: str, table: str) -> str:
    """Return a table that is scrolled by itself on a phone, by keys too."""
    return f'<div class="wide" tabindex="0" role="region" aria-label="{name}">{table}</div>'


def _plan(content: SheetContent) -> str:
    return (
        ""
        if content.plan is None
        else f"<div>{plan_as_svg(content.plan)}<p><b>{PLAN}</b></p></div>"
    )


def _remarks(content: SheetContent) -> str:
    return _items(content.remarks) + '<div class="lines"></div>' * REMARK_LINES


def _moments(content: SheetContent) -> str:
    notes = _paragraphs(note for note in (content.moments_note, content.no_stills) if note)
    if not content.moments:
        return notes
    moments = "".join(map(_moment, content.moments))
    return f'{notes}<div class="moments">{moments}{_plan(content)}</div>'


def _paragraphs(texts: Iterable[str]) -> str:
    return "".join(f"<p>{escape(text)}</p>" for text in texts)


def _moment(moment: Moment) -> str:
    image = ""
    if moment.still is not None:
        data = base64.b64encode(moment.still).decode()
        alt = escape(f"{moment.when}. {moment.what}")
        image = f'<img alt="{alt}" src="data:image/png;base64,{data}">'
    return (
        f"<div>{image}<p><b>{moment.number}. {escape(moment.when)}</b></p>"
        f"<p>{_item(Line(moment.level, moment.what))} Watch {escape(moment.side)}.</p></div>"
    )


def _list(title: str, items: tuple[str | Line, ...], kind: str = "") -> str:
    return f"<h2>{escape(title)}</h2>{_items(items, kind)}" if items else ""


def _items(items: Iterable[str | Line], kind: str = "") -> str:
    lines = "".join(f"<li>{_item(item)}</li>" for item in items)
    if not lines:
        return ""
    return f'<ul class="{kind}">{lines}</ul>'


def _item(item: str | Line) -> str:
    if isinstance(item, str):
        return escape(item)
    lead = f"<b>{escape(item.lead)}:</b> " if item.lead else ""
    return lead + escape(item.text)
