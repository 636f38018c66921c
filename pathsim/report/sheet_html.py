"""The first-run sheet as one HTML file: no scripts, no other files, made for A4 in grey."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from html import escape

from pathsim.report.sheet_records import Line, Moment, Row, SheetContent

_STYLE = """
@page { size: A4; margin: 12mm }
body { font: 9.5pt/1.35 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: #111;
       max-width: 186mm; margin: 8mm auto }
header { display: flex; justify-content: space-between; gap: 8mm; border-bottom: 1.5pt solid #111;
         padding-bottom: 2mm }
h1 { font-size: 17pt; margin: 0 } h1 small { display: block; font-size: 8pt; font-weight: normal;
     letter-spacing: .08em; text-transform: uppercase }
h2 { font-size: 9.5pt; margin: 3mm 0 1mm }
.hash { font: 7pt/1.4 ui-monospace, monospace; text-align: right; overflow-wrap: anywhere;
        max-width: 80mm }
.verdict { border: 1pt solid #111; padding: 1.5mm 3mm; margin: 3mm 0; font-weight: 600 }
.verdict.stop { border-width: 3pt; font-size: 13pt }
table { border-collapse: collapse; width: 100% } th { text-align: left; font-weight: 600 }
th, td { padding: .7mm 1.5mm; border-bottom: .4pt solid #999; vertical-align: top }
td.n, th.n { text-align: right; white-space: nowrap } tr.near td:first-child { font-weight: 700 }
.moments { display: grid; grid-template-columns: repeat(3, 1fr); gap: 4mm }
.moments img { width: 100%; border: .4pt solid #777; filter: grayscale(1) }
.moments p { margin: .5mm 0 } .columns { display: grid; grid-template-columns: 1fr 1fr; gap: 6mm }
ul { margin: 0; padding-left: 4mm } ul.boxes { list-style: none; padding: 0 }
ul.boxes li::before { content: ""; display: inline-block; width: 3mm; height: 3mm;
     border: .8pt solid #111; margin-right: 2mm; vertical-align: -0.5mm }
.files { font-size: 7.5pt; margin: 0; overflow-wrap: anywhere }
.sign { display: flex; gap: 6mm; margin-top: 6mm } .sign span { flex: 1; border-top: .8pt solid
        #111; padding-top: .5mm; font-size: 8pt }
footer { border-top: .8pt solid #111; margin-top: 4mm; padding-top: 1mm; font-size: 8pt }
"""


def sheet_as_html(content: SheetContent) -> str:
    """Return the whole page."""
    stop = " stop" if content.is_stop else ""
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>First-run sheet: {escape(content.title)}</title>
<style>{_STYLE}</style></head><body>
<header><h1><small>First-run sheet</small>{escape(content.title)}</h1>
<div class="hash">{escape(content.files)}<br>{escape(content.date)}<br>sha256
{escape(content.fingerprint)}</div></header>
<p class="verdict{stop}">{escape(content.verdict)}</p>
<p>{escape(content.totals)}.</p>
{_table(content.rows)}
<h2>Stand by the stop</h2>
{_moments(content)}
<div class="columns"><div>
{_list(content.findings_title, content.findings)}
<h2>Wrist zones</h2>{_items(content.wrist)}
<h2>The model does not know</h2>{_items(content.unknown)}
<h2>How far a body may be off</h2>{_items(content.placement)}
</div><div>
<h2>Files that must be equal</h2><p class="files">{escape(content.all_files)}</p>
<h2>Before and during the first run</h2>{_items(content.boxes, "boxes")}
<div class="sign"><span>Name</span><span>Signature</span><span>Date, time</span></div>
</div></div>
<footer>{escape(content.caution)}</footer>
</body></html>
"""


def _table(rows: tuple[Row, ...]) -> str:
    head = (
        '<tr><th class="n"></th><th>move</th><th>from &gt; to</th><th class="n">speed</th>'
        '<th class="n">s, slow</th><th class="n">guaranteed clear by</th><th class="n">at</th>'
        "<th>nearest</th></tr>"
    )
    return f"<table>{head}{''.join(map(_row, rows))}</table>"


def _row(row: Row) -> str:
    mark = "\N{BLACK RIGHT-POINTING TRIANGLE} " if row.is_near else ""
    cells = [
        f'<td class="n">{mark}{escape(row.number)}</td>',
        f"<td>{escape(row.kind)}</td><td>{escape(row.way)}</td>",
        *(f'<td class="n">{escape(text)}</td>'
          for text in (row.speed, row.seconds, row.clear_by, row.at)),
        f"<td>{escape(row.to)}</td>",
    ]  # fmt: skip
    return f'<tr class="{"near" if row.is_near else ""}">{"".join(cells)}</tr>'


def _moments(content: SheetContent) -> str:
    if not content.moments:
        return "<p>No moment is nearer than another.</p>"
    note = f"<p>{escape(content.no_stills)}</p>" if content.no_stills else ""
    return f'{note}<div class="moments">{"".join(map(_moment, content.moments))}</div>'


def _moment(moment: Moment) -> str:
    image = ""
    if moment.still is not None:
        data = base64.b64encode(moment.still).decode()
        image = f'<img alt="still {moment.number}" src="data:image/png;base64,{data}">'
    return (
        f"<div>{image}<p><b>{moment.number}. {escape(moment.when)}</b></p>"
        f"<p>{escape(moment.what)}</p><p>Watch {escape(moment.side)}.</p></div>"
    )


def _list(title: str, items: tuple[str | Line, ...]) -> str:
    return f"<h2>{escape(title)}</h2>{_items(items)}" if items else ""


def _items(items: Iterable[str | Line], kind: str = "") -> str:
    lines = "".join(f"<li>{_item(item)}</li>" for item in items)
    return f'<ul class="{kind}">{lines}</ul>'


def _item(item: str | Line) -> str:
    if isinstance(item, str):
        return escape(item)
    lead = f"<b>{escape(item.lead)}:</b> " if item.lead else ""
    return lead + escape(item.text)
