"""Alarm figures as JSON: the same figures for a machine; times are RFC 3339 in UTC, lengths in seconds."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from monitor.judge.performance.benchmarks import Benchmark
from monitor.judge.performance.figures import AlarmFigures, Frequent, Standing, Waiting
from monitor.report.alarm_figures import Row, sections
from monitor.report.alarm_figures_notes import notes

_LAST_MOMENT_S = 253402300799.0  # 9999-12-31T23:59:59Z


def as_json(figures: AlarmFigures, site: str) -> dict[str, Any]:
    """What ``json.dumps`` takes; every list is whole."""
    coverage = figures.coverage
    return {
        "site": site,
        "since": _stamp(coverage.period.start_utc_s),
        "until": _stamp(coverage.period.end_utc_s),
        "operators": figures.operators,
        "period_s": coverage.period.length_s,
        "watched_s": round(coverage.watched_s, 3),
        "watched": [[_stamp(one.start_utc_s), _stamp(one.end_utc_s)] for one in coverage.watched],
        "ends_unsaid": coverage.ends_unsaid,
        "known_from": _stamp(coverage.known_from_utc_s),
        "notes": list(notes(figures)),
        "figures": {row.key: _row(row) for section in sections(figures) for row in section.rows},
        **_lists(figures),
    }


def _row(row: Row) -> dict[str, Any]:
    value = None if row.value is None else float(f"{row.value:.6g}")
    shown: dict[str, Any] = {"value": value, "verdict": row.verdict.value}
    if row.benchmark is not None:
        shown["benchmark"] = _benchmark(row.benchmark)
    return shown


def _benchmark(benchmark: Benchmark) -> dict[str, Any]:
    kind = "least" if benchmark.is_least else "below" if benchmark.is_below else "at_most"
    return {
        "acceptable": benchmark.acceptable,
        "manageable": benchmark.manageable,
        "kind": kind,
        "source": benchmark.source,
    }


def _lists(figures: AlarmFigures) -> dict[str, Any]:
    load, nuisance, answers = figures.load, figures.nuisance, figures.answers
    return {
        "by_priority": {priority.value: times for priority, times in load.by_priority.items()},
        "most_frequent": _frequent(load.most_frequent),
        "floods": [
            {
                "start": _stamp(one.start_utc_s),
                "end": _stamp(one.end_utc_s),
                "raised": one.raised,
                "most_in_10_min": one.most_in_ten_minutes,
            }
            for one in load.floods
        ],
        "chattering": _frequent(nuisance.chattering),
        "fleeting": _frequent(nuisance.fleeting),
        "active": [{**_since(one), "stale": one.is_stale} for one in nuisance.standing],
        "not_acknowledged": [_since(one) for one in answers.waiting],
        "cleared_unseen": [
            {
                "tag": one.tag,
                "place": one.place,
                "raised": _stamp(one.raised_utc_s),
                "cleared": _stamp(one.cleared_utc_s),
            }
            for one in answers.unseen
        ],
        "held": [
            {
                "tag": one.tag,
                "place": one.place,
                "state": one.state.value,
                "since": _stamp(one.since_utc_s),
                "by": one.by or None,
                "reason": one.reason or None,
                "until": _stamp(one.until_utc_s),
            }
            for one in figures.holds.now
        ],
        "refused": dict(figures.refused),
    }


def _frequent(found: Iterable[Frequent]) -> list[dict[str, Any]]:
    return [{"tag": one.tag, "place": one.place, "times": one.times} for one in found]


def _since(one: Standing | Waiting) -> dict[str, Any]:
    return {"tag": one.tag, "place": one.place, "since": _stamp(one.since_utc_s)}


def _stamp(utc_s: float | None) -> str | None:
    if utc_s is None:
        return None
    at = datetime.fromtimestamp(min(max(utc_s, 0.0), _LAST_MOMENT_S), UTC)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
