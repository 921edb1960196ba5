"""The look of a page: text, tables and the boxes that drawings scroll in."""

from reefguard.report.look import STYLE

PAGE_STYLE = (
    STYLE
    + """\
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem 1rem 3rem;max-width:62rem;background:var(--paper);color:var(--ink);\
font:1rem/1.55 system-ui,sans-serif;overflow-wrap:break-word}
h1{font-size:1.5rem;line-height:1.25;margin:.5rem 0 1rem}
h2{font-size:1.15rem;line-height:1.3;margin:2.25rem 0 .5rem}
p,ul{margin:.5rem 0;max-width:44rem}
ul{padding-left:1.25rem}
.lead{font-size:1.1rem}
.scroll{overflow-x:auto;margin:.75rem 0}
.scroll:focus-visible{outline:2px solid var(--series-1);outline-offset:2px}
figure{margin:1rem 0}
figcaption,caption{color:var(--quiet);font-size:.9rem;text-align:left}
caption{padding-bottom:.35rem}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{padding:.3rem 1rem .3rem 0;text-align:left;vertical-align:top;min-width:4.5rem}
td:not(.number){min-width:8rem}
thead th{border-bottom:1px solid var(--quiet);font-weight:600}
tbody th{font-weight:400}
tbody tr+tr>*{border-top:1px solid var(--grid)}
.number{text-align:right}
td.number{white-space:nowrap}
code{font:.95em ui-monospace,monospace}
footer{margin-top:3rem;color:var(--quiet);font-size:.9rem}
@media print{
:root{--paper:#fff}
body{max-width:none;padding:0;font-size:10pt}
.scroll{overflow:visible}
.drawing{max-width:100%;max-height:10.5cm;width:auto;height:auto}
figure,tr{break-inside:avoid}
h2{break-after:avoid}
}
"""
)
"""One style sheet for the whole page; drawings included."""
