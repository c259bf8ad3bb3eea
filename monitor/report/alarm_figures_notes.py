"""Notes on alarm figures: what must be known before anybody believes them, as sentences."""

from collections.abc import Iterator
from datetime import UTC, datetime

from monitor.judge.performance.benchmarks import LEAST_DAYS
from monitor.judge.performance.figures import AlarmFigures
from monitor.judge.performance.span import DAY_S

_LAST_MOMENT_S = 253402300799.0  # 9999-12-31T23:59:59Z


def notes(figures: AlarmFigures) -> tuple[str, ...]:
    """How much of the period is known, and what that does to the figures."""
    return (*_watched(figures), *_reach(figures), *_window(figures), *_people(figures))


def _watched(figures: AlarmFigures) -> Iterator[str]:
    coverage = figures.coverage
    period_s, watched_s = coverage.period.length_s, coverage.watched_s
    if not watched_s:
        yield "Nobody watched in this period: the daemon was not running, or nothing of it is known."
        return
    missing_s = period_s - watched_s
    if missing_s < 1:
        yield "Watched throughout."
    else:
        yield (
            f"Watched for {length(watched_s)} of {length(period_s)} ({100 * watched_s / period_s:.1f} %). "
            f"Nobody watched for {length(missing_s)}: averages and shares are of the watched time alone, "
            "and alarms of that time are missing."
        )
    if coverage.ends_unsaid:
        times = "once" if coverage.ends_unsaid == 1 else f"{coverage.ends_unsaid} times"
        yield (
            f"The watch ended without a word {times} (power cut, kill): the time from its last trace to its "
            "next start counts as not watched."
        )


def _reach(figures: AlarmFigures) -> Iterator[str]:
    known_utc_s, start_utc_s = figures.coverage.known_from_utc_s, figures.coverage.period.start_utc_s
    if known_utc_s is not None and known_utc_s > start_utc_s:
        yield (
            f"The journal begins at {moment(known_utc_s)}: what was before is not known, nor is an alarm that has "
            "stood unchanged since before."
        )


def _window(figures: AlarmFigures) -> Iterator[str]:
    if figures.coverage.watched_s < LEAST_DAYS * DAY_S:
        yield (
            f"Fewer than {LEAST_DAYS} days are covered, and ISA-18.2-2016 asks for {LEAST_DAYS}: "
            "take the verdicts as hints."
        )


def _people(figures: AlarmFigures) -> Iterator[str]:
    if figures.operators > 1:
        yield (
            f"The journal does not say who looks after which alarm: they are taken to be shared evenly among "
            f"{figures.operators} operators."
        )


def moment(utc_s: float) -> str:
    """``2026-03-01 08:12:03 UTC``; what lies outside the years 1970 to 9999 is drawn to the nearest of them."""
    return f"{datetime.fromtimestamp(int(min(max(utc_s, 0.0), _LAST_MOMENT_S)), UTC):%Y-%m-%d %H:%M:%S} UTC"


def length(seconds: float) -> str:
    """A length of time for people, in its two largest units: ``40 s``, ``12 min``, ``3 h 5 min``, ``29 d 4 h``."""
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    minutes, hours, days = whole // 60, whole // 3600, whole // 86400
    if minutes < 120:
        return f"{minutes} min" + (f" {whole % 60} s" if whole % 60 and minutes < 10 else "")
    if hours < 48:
        return f"{hours} h" + (f" {minutes % 60} min" if minutes % 60 else "")
    return f"{days} d" + (f" {hours % 24} h" if hours % 24 else "")
