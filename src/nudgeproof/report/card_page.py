"""The card as one page of HTML that needs nothing else: it can be opened, printed or put on a site as it is."""

from __future__ import annotations

from html import escape

from nudgeproof.report.card import EMPTY, Card, Row

_STYLE = """
:root { color-scheme: light; }
body { font: 11pt/1.4 system-ui, sans-serif; color: #1a1a1a; background: #fff; }
body { max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.5em; margin: 0 0 1em; }
h2 { font-size: 1.05em; margin: 1.6em 0 .4em; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #777; padding: .45em .6em; text-align: left; vertical-align: top; overflow-wrap: anywhere; }
thead th { background: #ececec; }
tbody th { width: 22%; }
dl { margin: 0; display: grid; grid-template-columns: max-content 1fr; gap: .3em 1em; }
dt { font-weight: 600; max-width: 14rem; overflow-wrap: anywhere; }
dd { margin: 0; }
ul { margin: 0; padding-left: 1.2em; }
tr, li, dt, dd { break-inside: avoid; }
@page { size: A4; margin: 15mm; }
@media print { body { margin: 0; padding: 0; max-width: none; } thead { display: table-header-group; } }
"""


def to_page(card: Card) -> str:
    """The whole page; every word of the spec is escaped."""
    title = escape(card.device)
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>",
        f"<style>{_STYLE}</style>",
        "</head>",
        "<body>",
        f"<h1>{title}</h1>",
    ]
    if card.gestures:
        parts += ["<h2>How to</h2>", "<dl>"]
        parts += [f"<dt>{escape(name)}</dt><dd>{escape(how)}</dd>" for name, how in card.gestures]
        parts += ["</dl>", "<h2>What it does</h2>", "<table>", '<thead><tr><th scope="col">you see</th>']
        parts += [f'<th scope="col">{escape(name)}</th>' for name, _ in card.gestures]
        parts += ["</tr></thead>", "<tbody>", *(_row(row) for row in card.rows), "</tbody>", "</table>"]
        parts += [f"<p>{EMPTY}</p>"] if any("" in row.cells for row in card.rows) else []
    timed = [(row, text) for row in card.rows for text in row.by_itself]
    if timed:
        parts += ["<h2>By itself</h2>", "<ul>"]
        parts += [f"<li><b>{escape(row.seen)}</b>: {escape(text)}</li>" for row, text in timed]
        parts.append("</ul>")
    if card.values:
        parts += ["<h2>Order</h2>", "<ul>"]
        parts += [f"<li><b>{escape(name)}</b>: {escape(order)}</li>" for name, order in card.values]
        parts.append("</ul>")
    return "\n".join([*parts, "</body>", "</html>"]) + "\n"


def _row(row: Row) -> str:
    cells = "".join(f"<td>{'<br>'.join(escape(line) for line in cell.splitlines())}</td>" for cell in row.cells)
    return f'<tr><th scope="row">{escape(row.seen)}</th>{cells}</tr>'
