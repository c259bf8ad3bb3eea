"""Page: the records as one HTML file to be read, printed and signed; it needs no script, picture or network."""

from collections.abc import Iterator, Sequence
from html import escape

from monitor.report.permit.averages import Average
from monitor.report.permit.local_days import grouped, local
from monitor.report.permit.notes import notes, record
from monitor.report.permit.page_chart import chart
from monitor.report.permit.page_style import style
from monitor.report.permit.page_tables import (
    downtime_tables,
    entry_table,
    excursion_table,
    hour_tables,
    not_over,
    tally_table,
)
from monitor.report.permit.printing import Printing, count, stamp
from monitor.report.permit.printing import least as asked
from monitor.report.permit.records import Records
from monitor.report.permit.text import figures, period
from monitor.report.permit.wording import RULES, averaging, bounds

#: Hours that one chart can show so that each is seen; a longer period has one for each month.
_CHART_HOURS = 45 * 24
_WIDE, _NARROW = 1040.0, 360.0
_LINES = ("name and title of the responsible person", "signature and date")


def page(records: Sequence[Records], printing: Printing) -> str:
    """The page of one collector or more."""
    title = f"Records of {', '.join(one.sources.collector for one in records)}, {printing.site}"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{escape(title)}</title>\n<style>{style()}</style></head>\n"
        f"<body><main>{''.join(_sheet(one, printing) for one in records)}</main></body></html>\n"
    )


def _sheet(records: Records, printing: Printing) -> str:
    """One collector: a table of one cell, because browsers repeat a table's head on every printed page."""
    body = "".join(
        (
            _head(records, printing),
            _figures(records),
            *_charts(records),
            *_excursions(records, printing),
            *_downtime(records),
            *_entries(records),
            *_tallies(records),
            *_hours(records),
            _notes(records, printing),
            _sign(),
        )
    )
    return (
        f'<table class="sheet" role="presentation"><thead><tr><td><div class="running">'
        f"{_running_head(records, printing)}</div></td></tr></thead>"
        f"<tbody><tr><td>{body}</td></tr></tbody></table>"
    )


def _running_head(records: Records, printing: Printing) -> str:
    sources = records.sources
    printed = stamp(printing.printed_utc_s, sources.zone)
    return escape(
        f"{printing.site} · {sources.collector} ({sources.dp_tag}) · {period(records)} · printed {printed} by "
        f"cakewatch {printing.version} · readings {records.readings_digest[:12]}…"
    )


def _head(records: Records, printing: Printing) -> str:
    sources = records.sources
    what = f" · {sources.description}" if sources.description else ""
    settings = sources.settings
    return (
        f"<h1>{escape(sources.collector)}: records of the pressure drop</h1>"
        f"<p>{escape(printing.site)}{escape(what)} · {escape(period(records))} ({escape(printing.zone_name)})</p>"
        f'<p class="soft">{escape(averaging(settings).capitalize())} of {escape(sources.dp_tag)}, inches of water '
        f"({escape(printing.inch_of_water)}). Indicator range: {escape(bounds(settings))}. Valid hour by "
        f"{escape(RULES[settings.valid_hour])}.</p>"
    )


def _figures(records: Records) -> str:
    parts = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in figures(records)
    )
    least = records.sources.settings.least_available
    short = ""
    if records.whole.is_enough(least) is False:
        short = f'<p class="warn">Fewer than {asked(least)} of the operating hours are valid.</p>'
    return f'<div class="card"><dl class="figures">{parts}</dl>{short}</div>'


def _charts(records: Records) -> Iterator[str]:
    """One for a month or so; of a longer period one for each month."""
    zone = records.sources.zone
    yield f"<h2>{escape(averaging(records.sources.settings).capitalize())}, inH2O</h2>"
    if not records.averages:
        yield "<p>No hour of this period is over yet.</p>"
        return
    if len(records.hours) <= _CHART_HOURS:
        yield _chart(records, records.averages)
    else:
        for month, some in grouped(records.averages, lambda one: f"{local(one.start_utc_s, zone):%B %Y}"):
            yield f"<h3>{month}</h3>{_chart(records, some)}"
    yield (
        '<p class="soft">Line: valid averages. Dashed: the range. Filled from the bound, and marked at the top: '
        "excursion. Grey from top to bottom: not valid. Low grey band: not operating. Nothing at all: not in the "
        "history.</p>"
    )


def _chart(records: Records, some: Sequence[Average]) -> str:
    settings, zone = records.sources.settings, records.sources.zone
    drawings = (
        chart(some, settings, zone, width, where) for width, where in ((_WIDE, "wide"), (_NARROW, "narrow"))
    )
    return f'<div class="card">{"".join(drawings)}</div>'


def _excursions(records: Records, printing: Printing) -> Iterator[str]:
    found = records.excursions
    yield f"<h2>Excursions: {count(len(found), 'excursion') if found else 'none'}</h2>"
    if not found:
        return
    yield excursion_table(records)
    untold = next((one for one in found if not one.entries), None)
    if untold is not None:
        line = record(records.sources, printing, untold.span.start_utc_s)
        yield f'<p class="soft screen">To record one: <span class="mono">{escape(line)}</span></p>'


def _downtime(records: Records) -> Iterator[str]:
    found = records.downtimes
    yield f"<h2>Monitor downtime: {count(len(found), 'incident') if found else 'none'}</h2>"
    if found:
        yield downtime_tables(records)


def _entries(records: Records) -> Iterator[str]:
    if records.loose:
        yield "<h2>Recorded of other times of this period</h2>"
        yield entry_table(records.loose, records.sources.zone)


def _tallies(records: Records) -> Iterator[str]:
    least = records.sources.settings.least_available
    if len(records.months) > 1:
        yield f"<h2>Month by month</h2>{tally_table('month', records.months, least)}"
    yield f"<h2>Day by day</h2>{tally_table('day', records.days, least)}"


def _hours(records: Records) -> Iterator[str]:
    yield "<h2>Hour by hour: averages in inH2O</h2>"
    yield (
        '<p class="soft hint">The column is the hour in which it begins on the site\'s clock. ×: not valid; –: '
        "not operating; underlined: in an excursion; empty: not in the history, or no such hour. How many "
        "readings each is made of, the first and the last of them, stand in hours.csv.</p>"
    )
    if not_over(records.averages):
        yield "<p>The last averaging block is not over yet and is not compared with the range.</p>"
    for month, drawn in hour_tables(records.averages, records.sources.zone):
        yield f"<h3>{month}</h3>{drawn}"


def _notes(records: Records, printing: Printing) -> str:
    lines = "".join(f"<li>{escape(line)}</li>" for line in notes(records, printing))
    return f'<h2>How these figures came about</h2><div class="card"><ul class="notes">{lines}</ul></div>'


def _sign() -> str:
    lines = "".join(f"<div>{line}</div>" for line in _LINES * 2)
    return f'<div class="sign">{lines}</div>'
