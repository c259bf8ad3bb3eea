"""Lists beside the alarm figures: which alarms the figures speak of, one line of plain words for each."""

from collections.abc import Callable, Mapping

from monitor.judge.performance.figures import AlarmFigures, Frequent, HeldNow, Unseen
from monitor.judge.performance.rates import Flood
from monitor.report.alarm_figures_notes import length, moment


def lists(figures: AlarmFigures) -> list[tuple[str, list[str]]]:
    """Title and lines of every list that is not empty."""
    found = [(title, lines(figures)) for title, lines in _LISTS.items()]
    return [(title, lines) for title, lines in found if lines]


def _most_frequent(figures: AlarmFigures) -> list[str]:
    load = figures.load
    return [f"{_name(one)}: {one.times}, {100 * one.times / load.raised:.1f} %" for one in load.most_frequent]


def _floods(figures: AlarmFigures) -> list[str]:
    end_utc_s = figures.coverage.period.end_utc_s
    return [_flood(one, end_utc_s) for one in sorted(figures.load.floods, key=lambda one: -one.raised)]


def _flood(one: Flood, end_utc_s: float) -> str:
    lasted = length((end_utc_s if one.end_utc_s is None else one.end_utc_s) - one.start_utc_s)
    so_far = " so far" if one.end_utc_s is None else ""
    return (
        f"{moment(one.start_utc_s)}, {lasted}{so_far}: {one.raised} alarms, "
        f"{one.most_in_ten_minutes} in the worst 10 minutes"
    )


def _chattering(figures: AlarmFigures) -> list[str]:
    return [f"{_name(one)}: {_times(one.times)}" for one in figures.nuisance.chattering]


def _fleeting(figures: AlarmFigures) -> list[str]:
    return [f"{_name(one)}: {_times(one.times)}" for one in figures.nuisance.fleeting]


def _stale(figures: AlarmFigures) -> list[str]:
    return [
        _since(one.tag, one.place, one.since_utc_s, figures) for one in figures.nuisance.standing if one.is_stale
    ]


def _unseen(figures: AlarmFigures) -> list[str]:
    return [_one_unseen(one) for one in reversed(figures.answers.unseen)]


def _one_unseen(one: Unseen) -> str:
    before = ""
    if one.raised_utc_s is not None:
        before = f", raised {length(max(0.0, one.cleared_utc_s - one.raised_utc_s))} before"
    return f"{one.tag} ({one.place}): cleared {moment(one.cleared_utc_s)}{before}"


def _waiting(figures: AlarmFigures) -> list[str]:
    return [_since(one.tag, one.place, one.since_utc_s, figures) for one in figures.answers.waiting]


def _held(figures: AlarmFigures) -> list[str]:
    return [_one_held(one, figures) for one in figures.holds.now]


def _one_held(one: HeldNow, figures: AlarmFigures) -> str:
    words = f"{_since(one.tag, one.place, one.since_utc_s, figures)}, {one.state.value.replace('_', ' ')}"
    words += f" by {one.by}" if one.by else ""
    words += "" if one.until_utc_s is None else f" until {moment(one.until_utc_s)}"
    return f"{words}: {one.reason}" if one.reason else words


def _refused(figures: AlarmFigures) -> list[str]:
    refused = sorted(figures.refused.items(), key=lambda item: (-item[1], item[0]))
    return [f"{code.replace('_', ' ')}: {_times(times)}" for code, times in refused]


def _name(one: Frequent) -> str:
    return f"{one.tag} ({one.place})"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _since(tag: str, place: str, since_utc_s: float, figures: AlarmFigures) -> str:
    lasting_s = max(0.0, figures.coverage.period.end_utc_s - since_utc_s)
    return f"{tag} ({place}): since {moment(since_utc_s)}, {length(lasting_s)}"


_LISTS: Mapping[str, Callable[[AlarmFigures], list[str]]] = {
    "Most frequent": _most_frequent,
    "Floods, the worst first": _floods,
    "Chattering": _chattering,
    "Fleeting": _fleeting,
    "Stale at the end": _stale,
    "Cleared by the timer and never seen, the latest first": _unseen,
    "Not acknowledged at the end": _waiting,
    "Held back at the end": _held,
    "Commands refused": _refused,
}
