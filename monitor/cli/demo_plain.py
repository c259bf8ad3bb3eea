"""Demo plain: the demonstration told in lines, for a pipe or a log. Pure: only what is new is said."""

from monitor.cli import demo_chart, demo_words
from monitor.cli.demo_view import CollectorView, DemoView, duration
from monitor.words import AlarmState, Event, Role

#: One status line for each collector and this much real time.
STATUS_EVERY_REAL_S = 5.0
_SPARK_WIDTH = 20


def plain_lines(previous: DemoView | None, view: DemoView) -> list[str]:
    """Return the lines to append after ``previous`` was told: first the addresses, then events, then status."""
    lines = _opening(view) if previous is None else []
    known = () if previous is None else previous.events
    lines += [_event(view, event) for event in view.events if event not in known]
    if view.problem and (previous is None or previous.problem != view.problem):
        lines.append(f"{duration(view.plant_s)}  {view.problem}")
    if previous is not None and _period(previous) != _period(view):
        lines += [_status(view, collector) for collector in view.collectors]
    return lines


def _opening(view: DemoView) -> list[str]:
    where = [f"{name or '':<7} {place}" for name, place in demo_words.places(view.addresses)]
    return [f"{view.site}, simulated, {view.speed:g}× real time; times below are plant time", *where]


def _period(view: DemoView) -> int:
    return int(view.plant_s / (STATUS_EVERY_REAL_S * view.speed))


def _event(view: DemoView, event: Event) -> str:
    return f"{view.since_start(event.at_utc_s)}  {demo_words.happening(event)}"


def _status(view: DemoView, collector: CollectorView) -> str:
    dp = collector.readings.get(Role.DP)
    parts = [
        f"{duration(view.plant_s)}  {collector.name}",
        demo_chart.sparkline(collector.trend, width=_SPARK_WIDTH),
        f"{demo_words.amount(Role.DP, dp)} {demo_words.quality(dp)}",
        demo_words.companions(collector),
        *(demo_words.alarm(one) for one in collector.alarms if one.state is not AlarmState.NORMAL),
    ]
    return "  ".join(part for part in parts if part)
