"""Series of the alarm system's performance: rates, floods, nuisance and answers (ISA-18.2-2016).

Counters count from the daemon's start; what is said of "the last …" reaches back before it.
"""

from collections.abc import Callable

from monitor.figures import AlarmLogFigures
from monitor.tell.exposition import Family, Kind, Sample, histogram


def raised(alarms: AlarmLogFigures) -> Family:
    """Alarms announced, by priority."""
    samples = [Sample({"priority": priority.value}, count) for priority, count in alarms.raised.items()]
    return Family("cakewatch_alarms_raised", Kind.COUNTER, "Alarms announced, by priority.", samples)


def raised_recently(alarms: AlarmLogFigures) -> Family:
    """Alarms announced in the last 10 minutes, hour, day and 30 days."""
    counts = {
        "10m": alarms.raised_10_min,
        "1h": alarms.raised_hour,
        "1d": alarms.raised_day,
        "30d": alarms.raised_30_days,
    }
    samples = [Sample({"window": window}, count) for window, count in counts.items()]
    text = "Alarms announced in the last 10 minutes, hour, day and 30 days, before the start of the daemon too."
    return Family("cakewatch_alarms_raised_recently", Kind.GAUGE, text, samples)


def time_to_acknowledge(alarms: AlarmLogFigures) -> Family:
    """How long people took to acknowledge."""
    text = "From the moment an answer was owed to the acknowledgement."
    samples = histogram(
        {}, sorted(alarms.acknowledge_buckets.items()), alarms.acknowledge_sum_s, alarms.acknowledge_count
    )
    name = "cakewatch_alarms_time_to_acknowledge_seconds"
    return Family(name, Kind.HISTOGRAM, text, list(samples), "seconds")


_Draw = Callable[[AlarmLogFigures], Family]


def _one(name: str, kind: Kind, text: str, pick: Callable[[AlarmLogFigures], float], unit: str = "") -> _Draw:
    def draw(alarms: AlarmLogFigures) -> Family:
        return Family(name, kind, text, [Sample({}, pick(alarms))], unit)

    return draw


_GAUGE, _COUNTER = Kind.GAUGE, Kind.COUNTER

FAMILIES: tuple[_Draw, ...] = (
    raised,
    raised_recently,
    _one(
        "cakewatch_alarms_chattering",
        _GAUGE,
        "Alarms that came 3 times within a minute, some time in the last 24 hours.",
        lambda alarms: alarms.chattering,
    ),
    _one("cakewatch_alarms_stale", _GAUGE, "Alarms active for more than 24 hours.", lambda alarms: alarms.stale),
    _one(
        "cakewatch_alarms_in_flood",
        _GAUGE,
        "Whether there is an alarm flood (1): from more than 10 alarms in 10 minutes until fewer than 5.",
        lambda alarms: int(alarms.in_flood),
    ),
    _one("cakewatch_alarms_floods", _COUNTER, "Alarm floods that began.", lambda alarms: alarms.floods),
    _one(
        "cakewatch_alarms_flood_seconds",
        _COUNTER,
        "Time spent in alarm floods.",
        lambda alarms: alarms.flood_s,
        "seconds",
    ),
    _one(
        "cakewatch_alarms_cleared_unseen",
        _COUNTER,
        "Alarms that the timer cleared and nobody had acknowledged.",
        lambda alarms: alarms.cleared_unseen,
    ),
    time_to_acknowledge,
)
