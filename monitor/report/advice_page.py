"""Advice page: all of an advice as one HTML file that needs no script, picture or network."""

from collections.abc import Sequence
from html import escape

from monitor.interpret.advice.advising import Advice
from monitor.report import advice_chart
from monitor.report.advice import AdviceStory, SiteAdvice
from monitor.report.advice_rows import alarm_cells, rows
from monitor.report.advice_words import CAUTIONS, band_change, band_words, doubts, headline, reasons
from monitor.report.chart_style import sheet
from monitor.report.rehearsal_page import STYLE
from monitor.report.rehearsal_words import duration, sight, stamp

_WIDE, _NARROW = 1040.0, 360.0
_OURS = """
.caution{border-left:4px solid var(--limit)} h2{font-size:19px} h3{font-size:14px;margin:22px 0 6px;
color:var(--soft)}
.moved{font-weight:650} td.w{white-space:normal;min-width:105px} ul{max-width:100ch}
td small{display:block;font-size:12px;font-weight:400} td{vertical-align:top}
"""


def page(told: SiteAdvice, currencies: Sequence[str]) -> str:
    """The page; ``currencies`` are the moneys of the collectors, in their order."""
    length = duration(told.ends_utc_s - told.begins_utc_s)
    span = f"{stamp(told.begins_utc_s)} to {stamp(told.ends_utc_s)} UTC ({length})"
    body = [
        "<h1>Where set points and bands belong</h1>",
        f'<p class="soft">{escape(told.site)}, advised by what was recorded: {span}. Nothing was set.</p>',
        f'<div class="card caution">{_list(CAUTIONS)}</div>',
        *(_story(story, money) for story, money in zip(told.stories, currencies, strict=True)),
        f'<h2>The data</h2><div class="card">{_list(_data(told))}</div>',
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>Set-point advice for {escape(told.site)}</title>\n"
        f"<style>{sheet(':root')}{advice_chart.STYLE.strip()}{STYLE.strip()}{_OURS.strip()}</style></head>\n"
        f"<body><main>{''.join(body)}</main></body></html>\n"
    )


def _data(told: SiteAdvice) -> list[str]:
    return [*(sight(story.name, story.before.sight) for story in told.stories), *told.notes]


def _list(lines: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul>"


def _story(story: AdviceStory, currency: str) -> str:
    title = f"<h2>{escape(headline(story))}</h2>"
    if story.advice is None:
        return title
    return title + "".join(
        (
            f'<div class="card">{_chart(story, story.advice)}</div>',
            f"<h3>Why</h3>{_list(tuple(reasons(story.advice)))}",
            f"<h3>Before and after, a day of running</h3>{_figures(story.advice, currency)}",
            f"<h3>Warning bands</h3>{_bands(story.advice)}",
            f"<h3>Alarms, by the real judge</h3>{_alarms(story)}",
            f"<h3>How far to believe it</h3>{_list(tuple(doubts(story.advice)))}",
        )
    )


def _chart(story: AdviceStory, advice: Advice) -> str:
    drawings = []
    for width, where in ((_WIDE, "wide"), (_NARROW, "narrow")):
        drawn, height = advice_chart.chart(story, advice, width)
        label = f"DP of {escape(story.name)} now and as advised"
        drawings.append(
            f'<svg class="rh {where}" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{label}">'
            f"{drawn}</svg>"
        )
    key = "Line: the DP as replayed on the recorded dust. Grey behind it: the DP as it was recorded."
    return f'{"".join(drawings)}<p class="soft">{key}</p>'


def _figures(advice: Advice, currency: str) -> str:
    head = '<th></th><th class="r">now</th><th class="r">as advised</th>'
    lines = "".join(
        f'<tr><td class="w">{escape(row.name)}</td><td class="r">{escape(row.before)}</td>'
        f'<td class="r{" moved" if row.before != row.after else ""}">{escape(row.after)}'
        f"{_doubt(row.doubt)}</td></tr>"
        for row in rows(advice, currency)
    )
    return _table(head, lines)


def _doubt(words: str) -> str:
    return f'<small class="soft">{escape(words)}</small>' if words else ""


def _bands(advice: Advice) -> str:
    lines = "".join(
        f'<tr><td><b>{escape(band.now.tag)}</b></td><td class="w">{escape(band_words(band.now))}</td>'
        f'<td class="w{" moved" if band.advised != band.now else ""}">{escape(band_change(band))}</td></tr>'
        for band in advice.bands
    )
    return _table("<th>band</th><th>now</th><th>as advised</th>", lines)


def _alarms(story: AdviceStory) -> str:
    head = (
        '<th>alarm</th><th class="r">recording,<br>bands now</th><th class="r">recording,<br>bands advised</th>'
        '<th class="r">replay,<br>all now</th><th class="r">replay,<br>all advised</th>'
    )
    lines = "".join(f"<tr><td><b>{escape(row.tag)}</b></td>{_right(row[1:])}</tr>" for row in alarm_cells(story))
    note = (
        "Times raised, and how long active in all. The recording holds every trouble there was, under the present "
        "cleaning; the replay goes by the cleaning in question, and has the troubles as they were recorded."
    )
    return _table(head, lines) + f'<p class="soft">{note}</p>'


def _right(cells: Sequence[str]) -> str:
    return "".join(f'<td class="r">{escape(one)}</td>' for one in cells)


def _table(head: str, lines: str) -> str:
    return f'<div class="card scroll"><table><thead><tr>{head}</tr></thead><tbody>{lines}</tbody></table></div>'
