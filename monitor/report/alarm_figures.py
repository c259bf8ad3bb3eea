"""Alarm figures: how the alarm system did in a period, figure by figure, each beside its benchmark and verdict.

What the rows say is said once, here; ``alarm_figures_text`` and ``alarm_figures_json`` write it down.
"""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.judge.performance import benchmarks as published
from monitor.judge.performance.benchmarks import Benchmark, Verdict
from monitor.judge.performance.figures import AlarmFigures, HeldTime
from monitor.judge.performance.span import DAY_S, HOUR_S, TEN_MINUTES_S
from monitor.words import AlarmState


class Row(NamedTuple):
    """One figure.

    Attributes:
        key: its name for a machine, with the unit where it has one.
        value: a count, a share in per cent, or seconds; None where there is nothing to say.
        unit: ``""``, ``"%"`` or ``"s"``.
    """

    key: str
    name: str
    value: float | None
    verdict: Verdict
    benchmark: Benchmark | None = None
    unit: str = ""


class Section(NamedTuple):
    """Rows that belong together."""

    title: str
    rows: tuple[Row, ...]


def sections(figures: AlarmFigures) -> tuple[Section, ...]:
    """Every figure of the period."""
    one = "one operator" if figures.operators == 1 else f"each of {figures.operators} operators"
    return (
        Section(f"How many, for {one}", tuple(_load(figures))),
        Section("By priority", tuple(_split(figures))),
        Section("What wears people out", tuple(_nuisance(figures))),
        Section("Answers", tuple(_answers(figures))),
        Section("Held back", tuple(_holds(figures))),
    )


_AVERAGES = (
    ("10_min", "in 10 minutes", TEN_MINUTES_S, published.TEN_MINUTES),
    ("hour", "in an hour", HOUR_S, published.HOUR),
    ("day", "in a day", DAY_S, published.DAY),
)


def _load(figures: AlarmFigures) -> Iterator[Row]:
    load, people = figures.load, figures.operators
    yield _plain("raised", "alarms raised, all operators", load.raised)
    for key, words, per_s, benchmark in _AVERAGES:
        yield _judged(f"average_per_{key}", f"average {words}", figures.average(per_s), benchmark)
    most = load.peak_ten_minutes.raised / people
    yield _judged("most_in_10_min", "most in any 10 minutes", most, published.PEAK_TEN_MINUTES)
    yield _plain("most_in_an_hour", "most in any hour", load.peak_hour.raised / people)
    yield _plain("most_in_a_day", "most in any 24 hours", load.peak_day.raised / people)
    tens, hours = load.full_ten_minutes.percent, load.full_hours.percent
    yield _judged("hours_above_30_percent", "hours with more than 30", hours, published.HOURS_ABOVE, "%")
    ten_minutes = "10-minute periods with over 10"
    yield _judged("10_min_above_10_percent", ten_minutes, tens, published.TEN_MINUTES_ABOVE, "%")
    yield _judged("flood_percent", "time in flood", figures.flood_percent, published.TIME_IN_FLOOD, "%")
    yield _plain("floods", "floods", len(load.floods))


def _split(figures: AlarmFigures) -> Iterator[Row]:
    too_few = figures.load.raised < published.FEWEST_FOR_A_SPLIT
    for name, priorities, benchmark in published.SPLIT:
        percent = figures.load.percent_of(*priorities)
        verdict = _verdict(percent, benchmark, too_few=too_few)
        yield Row(f"{name.replace(' ', '_')}_percent", name, percent, verdict, benchmark, "%")


def _nuisance(figures: AlarmFigures) -> Iterator[Row]:
    found, people, load = figures.nuisance, figures.operators, figures.load
    yield _judged("chattering_alarms", "chattering alarms", len(found.chattering), published.CHATTERING)
    yield _plain("chattering_bursts", "bursts of chattering", sum(one.times for one in found.chattering))
    yield _judged("fleeting", "fleeting alarms", sum(one.times for one in found.fleeting), published.FLEETING)
    standing = len(found.standing)
    verdict = published.STANDING.verdict(standing / people)
    yield Row("active_at_end", "active at the end", standing, verdict, published.STANDING)
    stale = sum(one.is_stale for one in found.standing)
    yield _judged("stale_at_end", "stale at the end (over 24 h)", stale, published.STALE)
    worst = found.stale_day.alarms if found.stale_day else 0
    yield _judged("stale_on_worst_day", "stale on the worst day", worst, published.STALE)
    too_few = load.tags_raised < published.FEWEST_FOR_TOP_TEN
    verdict = _verdict(load.top_ten_percent, published.TOP_TEN, too_few=too_few)
    name = "the ten most frequent"
    yield Row("top_ten_percent", name, load.top_ten_percent, verdict, published.TOP_TEN, "%")


def _answers(figures: AlarmFigures) -> Iterator[Row]:
    found = figures.answers
    yield _plain("acknowledged", "acknowledged", found.acknowledged)
    yield _plain("time_to_acknowledge_median_s", "half of them within", found.median_s, "s")
    yield _plain("time_to_acknowledge_90_percent_s", "nine in ten within", found.ninetieth_s, "s")
    yield _plain("time_to_acknowledge_longest_s", "the longest took", found.longest_s, "s")
    yield _plain("waiting_at_end", "still not acknowledged", len(found.waiting))
    yield _plain("never_acknowledged", "ended and never acknowledged", found.never)
    yield _plain("cleared_unseen", "cleared by timer, never seen", len(found.unseen))
    yield _plain("put_aside_unacknowledged", "put aside instead", found.put_aside)


_HOLD_WORDS = {
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED_BY_DESIGN: "suppressed by design",
    AlarmState.OUT_OF_SERVICE: "out of service",
}


def _holds(figures: AlarmFigures) -> Iterator[Row]:
    for state, words in _HOLD_WORDS.items():
        key, now = state.value, sum(one.state is state for one in figures.holds.now)
        time = figures.holds.times.get(state, HeldTime(0, 0, 0.0))
        if state is AlarmState.SHELVED:
            verdict = published.SHELVED.verdict(now / figures.operators)
            yield Row(f"{key}_at_end", f"{words} at the end", now, verdict, published.SHELVED)
        else:
            yield _plain(f"{key}_at_end", f"{words} at the end", now)
        yield _plain(f"{key}_times", "  times in the period", time.times)
        yield _plain(f"{key}_alarm_s", "  time, all alarms together", time.total_s, "s")
    yield _plain("commands_refused", "commands refused", sum(figures.refused.values()))
    yield _plain("tested", "alarms tested", figures.tested)


def _plain(key: str, name: str, value: float | None, unit: str = "") -> Row:
    return Row(key, name, value, Verdict.NO_BENCHMARK, None, unit)


def _judged(key: str, name: str, value: float | None, benchmark: Benchmark, unit: str = "") -> Row:
    return Row(key, name, value, _verdict(value, benchmark), benchmark, unit)


def _verdict(value: float | None, benchmark: Benchmark, *, too_few: bool = False) -> Verdict:
    if too_few:
        return Verdict.TOO_FEW
    return Verdict.NOT_WATCHED if value is None else benchmark.verdict(value)
