"""Advice rows: before and after side by side, ready for a table on whatever surface."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.interpret.advice.advising import Advice, Outcome
from monitor.report.advice import AdviceStory
from monitor.report.rehearsal_words import duration

YEAR_D = 365.25


class Row(NamedTuple):
    """One figure before and after.

    Attributes:
        doubt: between what the figure after may lie; empty where that is not told.
    """

    name: str
    before: str
    after: str
    doubt: str = ""


def rows(advice: Advice, currency: str) -> Iterator[Row]:
    """The figures of one collector; those of a day are of a day of running."""
    now, then = advice.now, advice.then
    yield Row("start, inH2O", f"{now.start_inh2o:g}", f"{then.start_inh2o:g}")
    yield Row("stop, inH2O", f"{now.stop_inh2o:g}", f"{then.stop_inh2o:g}")
    low, high = then.low, then.high
    yield Row(
        "cleanings a day",
        f"{now.rates.cleanings_d:,.0f}",
        f"{then.rates.cleanings_d:,.0f}",
        _doubt(low.cleanings_d, high.cleanings_d),
    )
    yield Row(
        "time under cleaning",
        f"{now.rates.cleaning_share:.0%}",
        f"{then.rates.cleaning_share:.0%}",
        _doubt(low.cleaning_share, high.cleaning_share, ".0%"),
    )
    yield Row("time between stop and start", f"{now.in_band:.0%}", f"{then.in_band:.0%}")
    yield Row("mean DP, inH2O", f"{now.mean_inh2o:.2f}", f"{then.mean_inh2o:.2f}")
    yield Row(
        "pulses a day",
        f"{now.rates.pulses_d:,.0f}",
        f"{then.rates.pulses_d:,.0f}",
        _doubt(low.pulses_d, high.pulses_d),
    )
    yield from _air(advice, currency)


def _doubt(low: float, high: float, form: str = ",.0f") -> str:
    ends = [f"{one:{form}}" for one in (low, high)]
    return "" if ends[0] == ends[1] else " to ".join(ends)


def _air(advice: Advice, currency: str) -> Iterator[Row]:
    now, then, each = advice.now.air, advice.then.air, advice.per_pulse_ft3
    low, high = advice.then.low.pulses_d, advice.then.high.pulses_d
    if now.air_ft3_d is not None and then.air_ft3_d is not None and each is not None:
        doubt = _doubt(low * each, high * each)
        yield Row("compressed air, ft3 a day", f"{now.air_ft3_d:,.0f}", f"{then.air_ft3_d:,.0f}", doubt)
        if advice.timed.air_ft3_d is not None:
            saved = [f"{advice.timed.air_ft3_d - one:,.0f}" for one in (now.air_ft3_d, then.air_ft3_d)]
            yield Row("saved against timed cleaning, ft3 a day", *saved)
    if now.cost_d is not None and then.cost_d is not None:
        yield Row(
            f"compressed air, {currency} a year".replace(", a", " a"), *(_year(one.cost_d) for one in (now, then))
        )
    if now.diaphragm_days is not None and then.diaphragm_days is not None:
        yield Row("life of a new diaphragm", _life(now.diaphragm_days), _life(then.diaphragm_days))


def _year(cost_d: float | None) -> str:
    return f"{(cost_d or 0.0) * YEAR_D:,.0f}"


def _life(days: float) -> str:
    years = days / YEAR_D
    return f"{years:.1f} years" if years < 20 else "over 20 years"


class AlarmCells(NamedTuple):
    """One alarm, as often as it was raised."""

    tag: str
    recorded: str
    recorded_then: str
    replayed: str
    replayed_then: str


def alarm_cells(story: AdviceStory) -> list[AlarmCells]:
    """Each alarm and all together."""
    found = story.alarm_rows()
    cells = [AlarmCells(row.tag, *(_raised(*pair) for pair in row[1:])) for row in found]
    totals = [sum(row[at][0] for row in found) for at in range(1, 5)]  # type: ignore[misc]  # the tag is at 0
    return [*cells, AlarmCells("all", *(f"{one:,}" for one in totals))] if cells else []


def _raised(times: int, active_s: float) -> str:
    return f"{times:,} ({duration(active_s)})" if times else "–"


def outcome_json(one: Outcome) -> dict[str, object]:
    """One side of the comparison for JSON."""
    return {
        "start_inh2o": one.start_inh2o,
        "stop_inh2o": one.stop_inh2o,
        **{
            f"{name}{suffix}": round(value, 4)
            for suffix, rate in (("", one.rates), ("_low", one.low), ("_high", one.high))
            for name, value in rate._asdict().items()
        },
        "in_band_share": round(one.in_band, 4),
        "mean_inh2o": round(one.mean_inh2o, 3),
        "highest_inh2o": round(one.highest_inh2o, 3),
        "air": one.air._asdict(),
    }
