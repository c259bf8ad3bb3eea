"""Text: the records of one collector in 80 columns, for a person at a terminal."""

import textwrap
from collections.abc import Iterable, Iterator

from monitor.report.permit.notes import brief, record
from monitor.report.permit.printing import Printing, count, dp, hours, least, length, percent, stamp
from monitor.report.permit.records import Records, total_by_cause
from monitor.report.permit.tally import Tally
from monitor.report.permit.wording import actions_told, averaging, bounds, cause, causes, causes_told, side

WIDTH = 80
#: So many lines of a list are shown; the other forms have all.
LONGEST_LIST = 15


def text(records: Records, printing: Printing) -> str:
    """The whole document, ending with a line break."""
    lines = [
        *_head(records, printing),
        *_figures(records),
        *_tallies(records),
        *_excursions(records, printing),
        *_downtimes(records),
        "",
        *_wrapped(brief(records, printing)),
        "By which rules the figures came about: --html, --csv or --json tell.",
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def period(records: Records) -> str:
    """From when until when: ``2026-10-01 00:00 EDT to 2026-11-01 00:00 EDT``."""
    zone = records.sources.zone
    return " to ".join(stamp(one, zone) for one in records.sources.period)


def _head(records: Records, printing: Printing) -> Iterator[str]:
    sources = records.sources
    what = f" ({sources.description})" if sources.description else ""
    yield from textwrap.wrap(f"Records of {sources.collector}{what}, {printing.site}", WIDTH)
    yield period(records)
    settings = sources.settings
    yield f"{averaging(settings).capitalize()} of {sources.dp_tag}; indicator range {bounds(settings)}"
    yield ""


def _figures(records: Records) -> Iterator[str]:
    whole, settings = records.whole, records.sources.settings
    yield from (f"{name:<34} {value}" for name, value in figures(records))
    if whole.is_enough(settings.least_available) is False:
        yield f"FEWER than {least(settings.least_available)} of the operating hours are valid."


def figures(records: Records) -> Iterator[tuple[str, str]]:
    """The figures of the whole period, each with its name."""
    whole = records.whole
    missing = f", {whole.not_kept:,} not in the history" if whole.not_kept else ""
    yield "Hours", f"{whole.hours:,} ({whole.not_operating:,} not operating{missing})"
    yield "Operating hours", f"{whole.operating:,} (the unit ran for {hours(whole.operating_s)} h)"
    yield "Valid hours", f"{whole.valid:,} of {whole.operating:,}"
    yield "Data availability", percent(whole.available)
    yield (
        "Hourly averages, inH2O",
        f"mean {dp(whole.mean_inh2o)}, lowest {dp(whole.lowest_inh2o)}, highest {dp(whole.highest_inh2o)}",
    )
    yield "Good readings in them", f"{whole.points:,}"
    yield "Excursions", _amount(len(records.excursions), records.excursion_s, records)
    yield "Monitor downtime", _amount(len(records.downtimes), records.downtime_s, records)


def _amount(number: int, seconds: float, records: Records) -> str:
    if not number:
        return "none"
    return f"{number:,}, {length(seconds)}, {percent(records.share_of_operation(seconds))} of operating time"


def _tallies(records: Records) -> Iterator[str]:
    """Days of a period of up to about a month, months of a longer one."""
    rows = records.days if len(records.days) <= 31 else records.months
    yield ""
    yield f"{'':<10} {'operating':>9} {'valid':>6} {'available':>9} {'mean':>7} {'lowest':>7} {'highest':>7}"
    yield from (_tally(row) for row in rows)


def _tally(row: Tally) -> str:
    figures_of = f"{dp(row.mean_inh2o):>7} {dp(row.lowest_inh2o):>7} {dp(row.highest_inh2o):>7}"
    return f"{row.label:<10} {row.operating:>9} {row.valid:>6} {percent(row.available):>9} {figures_of}"


def _excursions(records: Records, printing: Printing) -> Iterator[str]:
    sources = records.sources
    lines = [
        f"{stamp(one.span.start_utc_s, sources.zone)}, {length(one.span.length_s)}, {side(one)}, worst "
        f"{dp(one.worst_inh2o)} inH2O. Cause: {causes_told(one.entries)}. Action: {actions_told(one.entries)}."
        for one in records.excursions
    ]
    yield from _list(f"Excursions: {count(len(lines), 'excursion')}", lines)
    untold = next((one for one in records.excursions if not one.entries), None)
    if untold is not None:
        yield from _wrapped([f"To record one: {record(sources, printing, untold.span.start_utc_s)}"])


def _downtimes(records: Records) -> Iterator[str]:
    zone = records.sources.zone
    lines = [
        f"{stamp(one.span.start_utc_s, zone)}, {length(one.span.length_s)}: {causes(one)}"
        + (f". Recorded: {causes_told(one.entries)}" if one.entries else "")
        for one in records.downtimes
    ]
    yield from _list(f"Monitor downtime: {count(len(lines), 'incident')}", lines)
    sums = total_by_cause(records.downtimes)
    if len(sums) < sum(number for _, number, _ in sums):
        for why, number, seconds in sums:
            yield from _wrapped([f"{length(seconds)} in {count(number, 'incident')}: {cause(why)}"], indent="  = ")


def _list(title: str, lines: list[str]) -> Iterator[str]:
    yield ""
    yield title
    yield from _wrapped(lines[:LONGEST_LIST], indent="  ")
    if len(lines) > LONGEST_LIST:
        yield f"  and {len(lines) - LONGEST_LIST} more (--csv, --html and --json have all)"


def _wrapped(lines: Iterable[str], indent: str = "") -> Iterator[str]:
    for line in lines:
        yield from textwrap.wrap(
            line,
            WIDTH,
            initial_indent=indent,
            subsequent_indent="    ",
            break_on_hyphens=False,
            break_long_words=False,
        )
