"""Findings explained as one HTML file: no scripts, no other files, for a tablet without a net."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

from pathsim.report.paper import escape

_STYLE = """
:root { color-scheme: light }
* { box-sizing: border-box }
body { font: 16px/1.5 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: #111;
       background: #fff; max-width: 1080px; margin: 0 auto; padding: 24px;
       overflow-wrap: anywhere }
header { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 8px 32px;
         border-bottom: 3px solid #111; padding-bottom: 8px }
h1 { font-size: 28px; line-height: 1.2; margin: 0 } h1 small { display: block; font-size: 12px;
     font-weight: normal; letter-spacing: .08em; text-transform: uppercase }
.hash { font: 11px/1.5 ui-monospace, monospace; max-width: 480px }
.verdict { border: 2px solid #111; padding: 8px 14px; font-weight: 600 }
.verdict.stop { border-width: 5px; font-size: 20px }
nav { border-bottom: 1px solid #999; padding-bottom: 12px } nav ol { margin: 0; padding: 0;
      list-style: none } nav a { color: #111; display: block; padding: 6px 0 }
section { border: 1px solid #111; margin: 28px 0 0; break-inside: avoid-page }
section > h2 { display: flex; gap: 14px; align-items: baseline; font-size: 18px; margin: 0;
     padding: 10px 14px; border-bottom: 1px solid #111 }
h2 b { border: 1.5px solid #111; padding: 0 9px; white-space: nowrap }
.stop h2 b { background: #111; color: #fff } .note h2 b { border-style: dashed }
.body { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 0 22px;
        padding: 14px } figure { margin: 0 } img { display: block; width: 100%;
        border: 1px solid #777 } figcaption { font-size: 13px; margin-top: 4px }
h3 { font-size: 14px; margin: 0 0 4px } .why p { margin: 0 0 8px }
.cure { border-top: 1px solid #111; padding: 12px 14px } .cure p { margin: 0 0 6px }
.cure .teach { font-weight: 600 } .files { font-size: 13px }
table { border-collapse: collapse; width: 100%; margin: 4px 0 10px } th { text-align: left;
        font-weight: 600; width: 9em } th, td { padding: 4px 8px 4px 0; vertical-align: top;
        border-bottom: 1px solid #bbb }
footer { border-top: 1px solid #111; margin-top: 28px; padding-top: 8px; font-weight: 600 }
@media screen and (max-width: 860px) { .body { grid-template-columns: minmax(0, 1fr) }
     .why { margin-top: 12px } body { padding: 14px } section > h2 { flex-wrap: wrap;
     font-size: 16px; gap: 6px 14px } h2 b { font-size: 15px } }
@page { size: A4; margin: 12mm }
@media print { body { font-size: 9.5pt; line-height: 1.35; padding: 0; max-width: none }
     h1 { font-size: 18pt } section { margin-top: 5mm } section > h2 { font-size: 11pt;
     padding: 4px 8px } .body { padding: 6px 8px; grid-template-columns: 78mm minmax(0, 1fr) }
     .cure { padding: 6px 8px } .why p, .cure p { margin: 0 0 3px }
     th, td { padding: 1px 6px 1px 0 } section { break-inside: auto }
     .body, .cure { break-inside: avoid } section > h2 { break-after: avoid }
     h1 small, .hash, figcaption, .files { font-size: 8pt } h3 { font-size: 9.5pt }
     nav a { padding: 1px 0 } footer { margin-top: 5mm }
     .stop h2 b { background: none; color: #111; border: 3px solid #111 } }
"""


@dataclass(frozen=True)
class Explained:
    """One finding: ``why`` one idea a sentence; ``still`` PNG or None.

    ``cure``: what to teach, None where no point cures it; ``numbers``: (what, value) rows beside
    it; ``more``: further sentences, or why there is no cure.
    """

    number: int
    level: str
    text: str
    moment: str
    why: tuple[str, ...]
    still: bytes | None
    cure: str | None
    numbers: tuple[tuple[str, str], ...]
    more: tuple[str, ...]


@dataclass(frozen=True)
class ExplainPage:
    """What stands on the page; ``no_stills``: why there are no pictures, empty when there are.

    ``not_checked``: what the check leaves open, empty when nothing.
    """

    title: str
    files: str
    all_files: str
    fingerprint: str
    date: str
    verdict: str
    is_stop: bool
    findings: tuple[Explained, ...]
    no_stills: str
    cautions: tuple[str, ...]
    not_checked: str = ""


def explain_page_as_html(page: ExplainPage) -> str:
    """Return the whole page; every name is escaped."""
    stop = " stop" if page.is_stop else ""
    note = f"<p>{escape(page.no_stills)}</p>" if page.no_stills else ""
    left_open = f"<p>{escape(page.not_checked)}</p>" if page.not_checked else ""
    links = "".join(
        f'<li><a href="#finding-{one.number}">{one.number}. {escape(one.level)}: '
        f"{escape(one.text)}</a></li>"
        for one in page.findings
    )
    nav = f"<nav><ol>{links}</ol></nav>" if len(page.findings) > 1 else ""
    cautions = " ".join(escape(text) for text in page.cautions)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="generator" content="pathsim explain">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Findings explained: {escape(page.title)}</title>
<style>{_STYLE}</style></head><body><main>
<header><h1><small>Findings explained</small>{escape(page.title)}</h1>
<div class="hash">{escape(page.files)}<br>{escape(page.date)}<br>sha256
{escape(page.fingerprint)}</div></header>
<p class="verdict{stop}">{escape(page.verdict)}</p>
<p class="caution">{cautions}</p>{note}{left_open}
{nav}
{"".join(_section(one) for one in page.findings)}
<p class="files"><b>Files this page belongs to:</b> {escape(page.all_files)}</p>
</main><footer>{cautions}</footer>
</body></html>
"""


def _section(one: Explained) -> str:
    figure = ""
    if one.still is not None:
        data = base64.b64encode(one.still).decode()
        figure = f'<img alt="{escape(one.text)}" src="data:image/png;base64,{data}">'
    moment = f"<figcaption>{escape(one.moment)}</figcaption>" if one.moment else ""
    return (
        f'<section id="finding-{one.number}" class="{escape(one.level)}">'
        f"<h2><b>{one.number} {escape(one.level)}</b><span>{escape(one.text)}</span></h2>"
        f'<div class="body"><figure>{figure}{moment}</figure>'
        f'<div class="why"><h3>Why it came about</h3>{_paragraphs(one.why)}</div></div>'
        f"{_cure(one)}</section>"
    )


def _cure(one: Explained) -> str:
    if one.cure is None:
        return f'<div class="cure"><h3>What can be done</h3>{_paragraphs(one.more)}</div>'
    rows = "".join(
        f'<tr><th scope="row">{escape(what)}</th><td>{escape(value)}</td></tr>'
        for what, value in one.numbers
    )
    return (
        f'<div class="cure"><h3>What cures it</h3><p class="teach">{escape(one.cure)}</p>'
        f"<table>{rows}</table>{_paragraphs(one.more)}</div>"
    )


def _paragraphs(sentences: Sequence[str]) -> str:
    return "".join(f"<p>{escape(sentence)}</p>" for sentence in sentences)
