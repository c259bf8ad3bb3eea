"""Alarm figures as text: 80 columns, for a person at a terminal or a printer."""

import textwrap
from collections.abc import Iterable, Iterator

from monitor.judge.performance.benchmarks import Benchmark, Verdict
from monitor.judge.performance.figures import AlarmFigures
from monitor.report.alarm_figures import Row, Section, sections
from monitor.report.alarm_figures_lists import lists
from monitor.report.alarm_figures_notes import length, moment, notes

WIDTH = 80
#: So many lines of a list are shown; the JSON form has all.
LONGEST_LIST = 15

_VERDICT = {
    Verdict.WITHIN: "within",
    Verdict.MANAGEABLE: "manageable",
    Verdict.ABOVE: "ABOVE",
    Verdict.BELOW: "TOO FEW",
    Verdict.TOO_FEW: "too few to say",
    Verdict.NOT_WATCHED: "not known",
    Verdict.NO_BENCHMARK: "",
}


def text(figures: AlarmFigures, site: str) -> str:
    """The whole document, ending with a line break.

    Args:
        figures: what to show.
        site: the site's name.
    """
    found = sections(figures)
    sources = _sources(found)
    lines = [*_head(figures, site), *_table(found, sources), "", *_legend(sources)]
    for title, items in lists(figures):
        lines += _list(title, items)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(figures: AlarmFigures, site: str) -> Iterator[str]:
    period = figures.coverage.period
    yield from textwrap.wrap(f"Alarm figures of {site}", WIDTH)
    yield f"{moment(period.start_utc_s)} to {moment(period.end_utc_s)} ({length(period.length_s)})"
    yield ""
    for note in notes(figures):
        yield from textwrap.wrap(note, WIDTH, break_on_hyphens=False)
    yield ""


def _sources(found: Iterable[Section]) -> dict[str, int]:
    names = (row.benchmark.source for section in found for row in section.rows if row.benchmark)
    return {name: number for number, name in enumerate(dict.fromkeys(names), 1)}


def _table(found: Iterable[Section], sources: dict[str, int]) -> Iterator[str]:
    yield _line("", "", "benchmark", "verdict")
    for section in found:
        yield f"{section.title} ".ljust(WIDTH, "-")
        for row in section.rows:
            yield _line(row.name, _value(row), _benchmark(row, sources), _VERDICT[row.verdict])


def _line(name: str, value: str, benchmark: str, verdict: str) -> str:
    return f"{name:<31} {value:>11}  {benchmark:<20} {verdict}"


def _value(row: Row) -> str:
    if row.value is None:
        return "-"
    if row.unit == "s":
        return length(row.value)
    return f"{_number(row.value)} {row.unit}".rstrip()


def _number(value: float) -> str:
    """At most two decimals; a share that is not nothing is never shown as 0."""
    if 0 < value < 0.005:
        return "<0.01"
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _benchmark(row: Row, sources: dict[str, int]) -> str:
    if row.benchmark is None:
        return ""
    return f"{_target(row.benchmark)}{' %' if row.unit == '%' else ''} [{sources[row.benchmark.source]}]"


def _target(benchmark: Benchmark) -> str:
    if benchmark.is_least:
        return f"about {benchmark.acceptable:g}"
    if benchmark.is_below:
        return f"below {benchmark.acceptable:g}"
    if benchmark.manageable > benchmark.acceptable:
        return f"{benchmark.acceptable:g}, at most {benchmark.manageable:g}"
    return f"{benchmark.acceptable:g}" if benchmark.acceptable == 0 else f"at most {benchmark.acceptable:g}"


def _legend(sources: dict[str, int]) -> Iterator[str]:
    for name, number in sources.items():
        yield f"[{number}] {name}"
    words = (
        "Benchmarks are for one operator and a long time: a reason to look, not a fault. 'Manageable' lies "
        "between 'very likely acceptable' and 'maximum manageable'. A figure without one has no published "
        "benchmark. Fleeting: gone within 10 s (ours; the standard says 'seconds'). Chattering: 3 times in a "
        "minute. Flood: from more than 10 in 10 minutes until fewer than 5."
    )
    yield from textwrap.wrap(words, WIDTH, break_on_hyphens=False)


def _list(title: str, lines: list[str]) -> Iterator[str]:
    if not lines:
        return
    yield ""
    yield title
    for line in lines[:LONGEST_LIST]:
        yield from textwrap.wrap(
            line, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
    if len(lines) > LONGEST_LIST:
        yield f"  and {len(lines) - LONGEST_LIST} more (--json has all)"
