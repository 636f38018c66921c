"""How the sheet's page looks: on a desk, on a phone, and as a browser prints it."""

#: ``PAPER`` stands for the size of the paper.
STYLE = """
@page { size: PAPER; margin: 8mm 11mm;
        @bottom-right { content: "page " counter(page) " of " counter(pages); font-size: 7.5pt } }
* { box-sizing: border-box }
html { background: #ddd }
body { font: 15px/1.4 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: #111;
       background: #fff; max-width: 1000px; margin: 16px auto; padding: 24px 28px;
       overflow-wrap: anywhere }
header { display: flex; justify-content: space-between; gap: 1em; border-bottom: 2px solid #111;
         padding-bottom: .5em; align-items: flex-end }
h1 { font-size: 1.8em; line-height: 1.15; margin: 0; flex: 1 } h1 small { display: block;
     font-size: .45em; font-weight: normal; letter-spacing: .08em; text-transform: uppercase }
h2 { font-size: 1em; margin: .9em 0 .25em; break-after: avoid }
p { margin: .3em 0 }
.hash { font-size: .68em; text-align: right; flex: 1.3 }
.verdict { border: 1px solid #111; padding: .35em .7em; margin: .7em 0; font-weight: 600 }
.verdict.stop { border-width: 4px; font-size: 1.2em }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums }
thead { display: table-header-group } tr { break-inside: avoid }
th { text-align: left; font-weight: 600; vertical-align: bottom }
th, td { padding: .22em .4em; border-bottom: 1px solid #999 } td { vertical-align: top }
thead th { border-bottom: 1.5px solid #111 }
td.n, th.n { text-align: right } td.n, .k { white-space: nowrap }
th, td { overflow-wrap: break-word } td.way { min-width: 11em } td.to { min-width: 7em }
tr.near td:first-child, tr.stop td.clear, tr.watch td.clear { font-weight: 700 }
.moments { display: grid; grid-template-columns: repeat(auto-fit, minmax(165px, 1fr));
     gap: 1em }
.moments > div { break-inside: avoid } .moments img { width: 100%; border: 1px solid #777 }
.columns { columns: 2; column-gap: 1.6em }
.columns section { break-inside: avoid } .columns h2 { margin-top: 0; padding-top: .5em }
ul { margin: 0; padding-left: 1.1em } ul.boxes { list-style: none; padding: 0 }
ul.boxes li { padding: .12em 0 .12em 1.7em; position: relative }
ul.boxes li::before { content: ""; position: absolute; left: 0; top: .3em; width: 1em; height: 1em;
     border: 1.5px solid #111 }
.labels { margin: .5em 0 } .labels span { margin-right: 1.6em; white-space: nowrap }
.plan { width: 100%; height: auto; display: block; border: 1px solid #777 }
.lines { border-bottom: 1px solid #777; height: 1.7em }
.points td, .points th { padding-top: .1em; padding-bottom: .1em }
.files { font-size: .85em; margin: 0 }
.sign { display: flex; gap: 1.5em; margin-top: 2.6em; break-inside: avoid }
.sign span { flex: 1; border-top: 1px solid #111; padding-top: .2em; font-size: .8em }
footer { border-top: 1px solid #111; margin-top: 1.2em; padding-top: .4em; font-size: .8em }
.wide { overflow-x: auto } td.empty { min-width: 4.5em }
@media screen and (max-width: 760px) { body { margin: 0; padding: 14px }
     header, .moments { display: block } .columns { columns: 1 }
     .hash { text-align: left; margin-top: .5em }
     .moments > div { margin-bottom: 1.2em } td, th { overflow-wrap: normal } }
@media screen and (max-width: 480px) { .wide { font-size: .85em } th, td { padding: .22em .25em }
     .moves, .moves tbody { display: block } .moves thead { position: absolute; width: 1px;
     height: 1px; overflow: hidden; clip-path: inset(50%) }
     .moves tr { display: flex; flex-wrap: wrap; align-items: baseline; column-gap: .8em;
     padding: .4em 0; border-bottom: 1px solid #999 }
     .moves tr.near { border-left: 4px solid #111; padding-left: .5em }
     .moves td { border: 0; padding: 0; white-space: normal; text-align: left; min-width: 0 }
     .moves td.first { font-weight: 700 } .moves td.way { flex: 1 1 38% }
     .moves td.n.clear { order: 1; font-size: 1.2em; white-space: nowrap }
     .moves td.at, .moves td.to { order: 2 } .moves td.to { flex: 1 1 66% }
     .moves td.more { order: 3; color: #444 }
     .moves td[data-head]::before { content: attr(data-head) " " } }
@media print { .parted { break-before: page } .wide { overflow: visible }
     .moments { grid-template-columns: repeat(4, 1fr) }
     td.way, td.to { min-width: 0 } td.empty { min-width: 3em } th.k { white-space: normal }
     .brief td.to { white-space: nowrap } html { background: none }
     body { font-size: var(--paper); line-height: 1.22; max-width: none; margin: 0;
     padding: 0 } th, td { padding: .05em .4em }
     h2 { margin: .35em 0 .1em } .sign { margin-top: 5mm }
     .moments p, p { margin: .1em 0 } h1 { font-size: 15pt } .verdict { margin: .4em 0 }
     footer { margin-top: .3em; font-size: 7.5pt } .files, .hash, .sign span { font-size: 7.5pt } }
"""
