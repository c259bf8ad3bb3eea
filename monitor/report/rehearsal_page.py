"""Rehearsal page: all of a rehearsal as one HTML file that needs no script, picture or network."""

from collections.abc import Iterator, Sequence
from html import escape

from monitor.report import chart_svg
from monitor.report.chart_style import sheet
from monitor.report.rehearsal import Raising, Rehearsal
from monitor.report.rehearsal_reading import behind, lines
from monitor.report.rehearsal_summary import TallyRow, headline, line_of, period, tally_rows
from monitor.report.rehearsal_words import back, count, duration, ending, extreme, sight, stamp

#: Rows of the list of alarms; a page of more than that is read by nobody.
MOST_ROWS = 1000
_WIDE, _NARROW = 1040.0, 360.0

#: How a page of tables and charts looks, for light and dark, wide and narrow.
STYLE = """
*{box-sizing:border-box} body{margin:0;background:var(--paper);color:var(--ink);
font:15px/1.5 ui-sans-serif,system-ui,"Segoe UI","DejaVu Sans",sans-serif}
main{max-width:1120px;margin:0 auto;padding:28px 20px 60px}
h1{font-size:26px;line-height:1.25;margin:0 0 4px;font-weight:650;text-wrap:balance}
h2{font-size:16px;margin:34px 0 10px} p{margin:0 0 8px} .soft{color:var(--soft)}
.card{background:var(--card);border:1px solid var(--rule);border-radius:10px;padding:14px 16px;margin-top:14px}
.card svg{display:block;width:100%;height:auto} .card svg.narrow{display:none}
.scroll{overflow-x:auto} table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
th,td{text-align:left;padding:6px 14px 6px 0;border-bottom:1px solid var(--rule);white-space:nowrap}
th{font-weight:600;color:var(--soft);font-size:13px} .r{text-align:right} tr:last-child td{border-bottom:0}
td.wrap{white-space:normal;min-width:13em} .big{font-size:17px;font-weight:650}
ul{padding-left:18px;margin:0} li{margin-bottom:4px}
@media (max-width:700px){.card svg.wide{display:none}.card svg.narrow{display:block}main{padding:18px 10px 40px}
h1{font-size:21px}.card{padding:10px}th,td{padding-right:10px;font-size:14px}}
@media print{.card{break-inside:avoid}}
"""


def page(rehearsals: Sequence[Rehearsal]) -> str:
    """The page of one rehearsal, or of several side by side, the one asked for first."""
    first = rehearsals[0]
    names = dict.fromkeys(name for one in rehearsals for name in one.collectors)
    body = [
        f"<h1>{escape(headline(rehearsals))}</h1>",
        f'<p class="soft">Rehearsal with recorded data: {escape(period(first))}</p>',
        *(_chart(rehearsals, name) for name in names),
        _legend(),
        f"<h2>Alarm by alarm</h2>{_tallies(rehearsals)}",
        *(_raisings(one) for one in rehearsals),
        _readings(rehearsals),
        f"<h2>The data</h2>{_data(rehearsals)}",
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>Rehearsal of {escape(first.site)}</title>\n"
        f"<style>{sheet(':root')}{STYLE.strip()}</style></head>\n"
        f"<body><main>{''.join(body)}</main></body></html>\n"
    )


def _chart(rehearsals: Sequence[Rehearsal], name: str) -> str:
    drawings = []
    for width, where in ((_WIDE, "wide"), (_NARROW, "narrow")):
        drawn, height = chart_svg.chart(rehearsals, name, width)
        drawings.append(_picture(drawn, width, height, where, f"DP and alarms of {name}"))
    return f'<div class="card">{"".join(drawings)}</div>'


def _picture(drawn: str, width: float, height: float, where: str, label: str) -> str:
    return (
        f'<svg class="rh {where}" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{escape(label)}">'
        f"{drawn}</svg>"
    )


def _legend() -> str:
    drawings = []
    for width, where in ((_WIDE, "wide"), (_NARROW, "narrow")):
        drawn, height = chart_svg.legend(width, 0.0)
        drawings.append(_picture(drawn, width, height, where, "what the marks mean"))
    return f'<div class="card">{"".join(drawings)}</div>'


def _tallies(rehearsals: Sequence[Rehearsal]) -> str:
    """A table of every alarm, with a group of columns for each site file."""
    head = "<th>alarm</th>"
    for one in rehearsals:
        which = f" {escape(one.file)}" if len(rehearsals) > 1 else ""
        head += f'<th>set{which}</th><th class="r">raised</th><th class="r">active</th><th class="r">longest</th>'
    rows = "".join(f"<tr>{''.join(_tally(row))}</tr>" for row in tally_rows(rehearsals))
    total = "<td>all</td>" + "".join(
        f'<td></td><td class="r big">{len(one.raisings):,}</td><td></td><td></td>' for one in rehearsals
    )
    return (
        f'<div class="card scroll"><table><thead><tr>{head}</tr></thead><tbody>{rows}<tr>{total}</tr></tbody>'
        "</table></div>"
    )


def _tally(row: TallyRow) -> Iterator[str]:
    yield f"<td><b>{escape(row.tag)}</b></td>"
    for one in row.tallies:
        raised = f"{one.raised:,}" if one.raised else "–"
        yield f'<td class="soft">{escape(one.setting or "not there")}</td><td class="r">{raised}</td>'
        yield f'<td class="r">{duration(one.active_s) if one.raised else "–"}</td>'
        yield f'<td class="r">{duration(one.longest_s) if one.raised else "–"}</td>'


def _raisings(rehearsal: Rehearsal) -> str:
    found = rehearsal.raisings
    if not found:
        return f"<h2>No alarm with {escape(rehearsal.file)}</h2>"
    head = (
        '<th>alarm</th><th>raised (UTC)</th><th>back</th><th class="r">active for</th>'
        '<th class="r">extreme, inH2O</th><th>ended by</th>'
    )
    if _reads(rehearsal):
        head += "<th>what may be behind it</th>"
    rows = "".join(f"<tr>{_raising(rehearsal, one)}</tr>" for one in found[:MOST_ROWS])
    more = len(found) - MOST_ROWS
    rest = f'<p class="soft">And {count(more, "alarm")} more, which --json tells.</p>' if more > 0 else ""
    title = f"{count(len(found), 'alarm')} with {escape(rehearsal.file)}"
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return f'<h2>{title}</h2><div class="card scroll">{table}{rest}</div>'


def _raising(rehearsal: Rehearsal, one: Raising) -> str:
    line = line_of(rehearsal, one.collector, one.tag)
    return (
        f"<td><b>{escape(one.tag)}</b></td><td>{stamp(one.raised_utc_s)}</td><td>{back(one)}</td>"
        f'<td class="r">{duration(one.active_s(rehearsal.ends_utc_s))}</td><td class="r">{extreme(line, one)}</td>'
        f"<td>{escape(ending(one))}</td>"
        + (f'<td class="wrap">{escape(behind(one))}</td>' if _reads(rehearsal) else "")
    )


def _reads(rehearsal: Rehearsal) -> bool:
    return any(story.read is not None for story in rehearsal.collectors.values())


def _readings(rehearsals: Sequence[Rehearsal]) -> str:
    found = dict.fromkeys(line for one in rehearsals for story in one.collectors.values() for line in lines(story))
    items = "".join(f"<li>{escape(line)}</li>" for line in found)
    return f'<h2>What the curve says</h2><div class="card"><ul>{items}</ul></div>' if items else ""


def _data(rehearsals: Sequence[Rehearsal]) -> str:
    lines = dict.fromkeys(sight(story.name, story.sight) for story in rehearsals[0].collectors.values())
    for one in rehearsals:
        lines.update(dict.fromkeys(one.notes))
    return f'<div class="card"><ul>{"".join(f"<li>{escape(line)}</li>" for line in lines)}</ul></div>'
