"""Page tables: hours, days, excursions and downtime of the printable page."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import tzinfo
from html import escape

from monitor.report.permit.averages import Average, AverageState
from monitor.report.permit.excursions import Excursion
from monitor.report.permit.hour import HourState, PermitHour
from monitor.report.permit.local_days import day_of, grouped, local
from monitor.report.permit.printing import count, dp, hours, length, percent, stamp
from monitor.report.permit.records import Records, total_by_cause
from monitor.report.permit.sources import Alarmed, Entry
from monitor.report.permit.tally import Tally
from monitor.report.permit.wording import LACKS, STATES, actions_told, cause, causes, causes_told, side

#: How a column is set, by the first sign of its head: numbers, what stays on one line, what needs room.
_CLASSES = {">": "r n", "!": "n", "~": "words"}
#: Rows of a list on the page; the CSV files have all.
MOST_ROWS = 1000
_MARKS = {HourState.INVALID: "×", HourState.NOT_OPERATING: "–", HourState.NOT_KEPT: ""}


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of cells that are HTML already; the first sign of a head may say how its column is set."""
    classes = [_CLASSES.get(head[0], "") for head in heads]
    head = "".join(
        f'<th class="{name}">{escape(words.lstrip(">!~"))}</th>'
        for name, words in zip(classes, heads, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f'<td class="{name}">{cell}</td>' for name, cell in zip(classes, row, strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="card scroll"><table class="data"><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def hour_tables(averages: Sequence[Average], zone: tzinfo) -> Iterator[tuple[str, str]]:
    """For each month its name and its table: a row for each day, a column for each hour of the clock."""
    outside = {hour.start_utc_s for one in averages if one.beyond is not None for hour in one.hours}
    all_hours = [hour for one in averages for hour in one.hours]
    for month, some in grouped(all_hours, lambda hour: f"{local(hour.start_utc_s, zone):%B %Y}"):
        yield month, _month(some, outside, zone)


def _month(some: Sequence[PermitHour], outside: set[int], zone: tzinfo) -> str:
    heads = "".join(f"<th>{number:02d}</th>" for number in range(24))
    rows = "".join(
        f'<tr><th scope="row">{day.day} {day:%a}</th>{_day(hours_of, outside, zone)}</tr>'
        for day, hours_of in grouped(some, lambda hour: day_of(hour.start_utc_s, zone))
    )
    return (
        f'<div class="card scroll"><table class="hours"><thead><tr><th></th>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div>"
    )


def _day(some: Sequence[PermitHour], outside: set[int], zone: tzinfo) -> str:
    """An hour that comes twice, in autumn, has both averages in its cell; one that never comes has none."""
    by_clock: defaultdict[int, list[PermitHour]] = defaultdict(list)
    for hour in some:
        by_clock[local(hour.start_utc_s, zone).hour].append(hour)
    return "".join(_cell(by_clock.get(number, []), outside, zone) for number in range(24))


def _cell(some: Sequence[PermitHour], outside: set[int], zone: tzinfo) -> str:
    words = "<br>".join(dp(one.mean_inh2o) if one.state is HourState.VALID else _MARKS[one.state] for one in some)
    if any(one.start_utc_s in outside for one in some):
        return f'<td class="out" title="{escape(_readings(some, zone))}">{words}</td>'
    left_out = [one for one in some if one.state is not HourState.VALID]
    if left_out or not some:
        title = "; ".join(LACKS[one.lack] or STATES[one.state] for one in left_out) or "no such hour"
        return f'<td class="no" title="{escape(title)}">{words}</td>'
    return f'<td title="{escape(_readings(some, zone))}">{words}</td>'


def _readings(some: Sequence[PermitHour], zone: tzinfo) -> str:
    """What the averages of a cell are made of."""
    return "; ".join(
        f"{count(one.points, 'reading')}, {local(one.first_utc_s, zone):%H:%M:%S} to "
        f"{local(one.last_utc_s, zone):%H:%M:%S}"
        for one in some
        if one.first_utc_s is not None and one.last_utc_s is not None
    )


def tally_table(label: str, rows: Sequence[Tally], least: float) -> str:
    """Days or months."""
    heads = (
        *(f"!{label}", ">operating hours", ">valid", ">not valid", ">not operating", ">available"),
        *(">mean, inH2O", ">lowest hour", ">highest hour", ">readings"),
    )
    return table(heads, (_tally(row, least) for row in rows))


def _tally(row: Tally, least: float) -> Sequence[str]:
    share = percent(row.available)
    available = f'<span class="warn">{share} !</span>' if row.is_enough(least) is False else share
    missing = f" ({row.not_kept} h unknown)" if row.not_kept else ""
    figures = (dp(row.mean_inh2o), dp(row.lowest_inh2o), dp(row.highest_inh2o))
    numbers = (str(one) for one in (row.operating, row.valid, row.invalid, row.not_operating))
    return (f"{row.label}{missing}", *numbers, available, *figures, f"{row.points:,}")


def excursion_table(records: Records) -> str:
    """Every excursion, with what people recorded of it."""
    zone = records.sources.zone
    heads = (
        *("!begins", "!ends", ">lasted", "!average, inH2O"),
        *("~cause", "~corrective action", "!alarms"),
    )
    rows = (
        (
            stamp(one.span.start_utc_s, zone),
            stamp(one.span.end_utc_s, zone),
            _lasted(one),
            f"{side(one)}:<br>worst {dp(one.worst_inh2o)}",
            escape(causes_told(one.entries)),
            escape(actions_told(one.entries)),
            "<br>".join(_alarm(alarm, zone) for alarm in one.alarms) or "–",
        )
        for one in records.excursions[:MOST_ROWS]
    )
    return table(heads, rows) + _rest(len(records.excursions))


def _lasted(one: Excursion) -> str:
    """How long, and how much of it was operation where that is less."""
    ran = f"<br>ran {length(one.operating_s)}" if one.operating_s < one.span.length_s else ""
    return f"{length(one.span.length_s)}{ran}"


def _alarm(one: Alarmed, zone: tzinfo) -> str:
    return f"{escape(one.tag)}<br>{stamp(one.span.start_utc_s, zone)}"


def downtime_tables(records: Records) -> str:
    """Every downtime, and the sum of each cause."""
    zone = records.sources.zone
    rows = (
        (
            stamp(one.span.start_utc_s, zone),
            stamp(one.span.end_utc_s, zone),
            length(one.span.length_s),
            escape(causes(one)),
            escape(_told(one.entries)),
        )
        for one in records.downtimes[:MOST_ROWS]
    )
    sums = (
        (escape(cause(why)), f"{number:,}", hours(seconds))
        for why, number, seconds in total_by_cause(records.downtimes)
    )
    return (
        table(("!begins", "!ends", ">lasted", "~cause", "~recorded"), rows)
        + _rest(len(records.downtimes))
        + table(("sum of each cause", ">incidents", ">hours"), sums)
    )


def entry_table(entries: Sequence[Entry], zone: tzinfo) -> str:
    """What people recorded of other times."""
    rows = (
        (stamp(one.about_utc_s, zone), escape(one.cause), escape(one.action), escape(one.by)) for one in entries
    )
    return table(("!about", "~cause", "~action", "by"), rows)


def _told(entries: Sequence[Entry]) -> str:
    return f"{causes_told(entries)}. Action: {actions_told(entries)}" if entries else "none recorded"


def _rest(found: int) -> str:
    more = found - MOST_ROWS
    return f'<p class="soft">And {count(more, "more")}, which the CSV files have.</p>' if more > 0 else ""


def not_over(averages: Sequence[Average]) -> bool:
    """Whether the last block is still running."""
    return bool(averages) and averages[-1].state is AverageState.NOT_OVER
