"""Warning early: how soon do the early warnings show, how often are they wrong, and what do plain bands do?

    python -m tests.scenarios.warning_early [--seeds N] [--months M] [--first SEED]

prints a table: sign, trouble, detected share, delay from onset (median, p90), the same of plain bands, and false
calls per collector-month of both. Rules were tuned on seeds below 1000; from 1000 on is reported.
"""

import argparse
import math
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from statistics import median
from typing import NamedTuple

from monitor.interpret.cycles import tracker
from monitor.interpret.symptoms import looking
from monitor.plant.trial import Trial
from monitor.troubles import Sign
from tests.scenarios.plain_bands import Bands
from tests.scenarios.playing import played
from tests.scenarios.warning_trials import CASES, Case, healthy, troubled

MONTH_S = 30.0 * 86_400.0
FIRST_REPORTED = 1000


class Calls(NamedTuple):
    """What was called in one trial, and when; onset None: nothing was wrong."""

    onset_s: float | None
    duration_s: float
    signs: tuple[tuple[float, str, str], ...]
    bands: tuple[tuple[float, str], ...]


def called(trial: Trial) -> Calls:
    """Play a trial once, before the early warnings and before the plain bands."""
    settings = trial.cleaning_settings
    tracked, looked, bands = tracker.BEGIN, looking.BEGIN, Bands(trial)
    signs: list[tuple[float, str, str]] = []
    standing: set[Sign] = set()
    for one in played(trial):
        tracked, cycle = tracker.advance(settings, tracked, one.digest)
        before = looked.signs
        looked = looking.advance(settings, looked, one.digest, tracked, cycle)
        bands.see(one.digest)
        if looked.signs is not before:
            now = {sign for sign, _ in looked.signs}
            signs += [(one.digest.end_s, s.value, f"{c}") for s, c in looked.signs if s not in standing]
            standing = now
    onset = trial.mishaps[0].from_h * 3600.0 if trial.mishaps else None
    return Calls(onset, trial.duration_s, tuple(signs), tuple(bands.calls))


class Row(NamedTuple):
    """One line of the table; delays in minutes, None where nothing was seen."""

    what: str
    trials: int
    seen: int
    delays: tuple[float, ...]
    bands_seen: int
    bands_delays: tuple[float, ...]
    first: int


def row(what: str, results: Sequence[Calls], names: frozenset[str]) -> Row:
    """Sum up the trials of one trouble, for the signs of those names."""
    delays, rivals, first = [], [], 0
    for one in results:
        assert one.onset_s is not None
        mine = _delay(one.onset_s, [at for at, name, _ in one.signs if name in names])
        theirs = _delay(one.onset_s, [at for at, _ in one.bands])
        delays += [mine] if mine is not None else []
        rivals += [theirs] if theirs is not None else []
        first += mine is not None and (theirs is None or mine < theirs)
    return Row(what, len(results), len(delays), tuple(delays), len(rivals), tuple(rivals), first)


def _delay(onset_s: float, moments: Sequence[float]) -> float | None:
    after = [at - onset_s for at in moments if at >= onset_s]
    return min(after) / 60.0 if after else None


def _quantile(values: Sequence[float], share: float) -> float | None:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, math.ceil(share * len(ordered)) - 1)] if ordered else None


def _minutes(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f} min" if value < 600 else f"{value / 60:.1f} h"


def false_calls(results: Sequence[Calls]) -> tuple[float, Counter[str], Counter[str]]:
    """Collector-months without trouble (before an onset, or all along), and what was called in them."""
    months, signs, bands = 0.0, Counter[str](), Counter[str]()
    for one in results:
        end_s = one.duration_s if one.onset_s is None else one.onset_s
        months += end_s / MONTH_S
        signs.update(name for at, name, _ in one.signs if at < end_s)
        bands.update(name for at, name in one.bands if at < end_s)
    return months, signs, bands


def _play(asked: tuple[Case | None, int, float]) -> Calls:
    case, seed, days = asked
    return called(healthy(seed, days) if case is None else troubled(case, seed))


def _print_row(one: Row) -> None:
    print(
        f"{one.what:58s} {one.seen:3d}/{one.trials:<3d} {_minutes(median(one.delays) if one.delays else None):>8s}"
        f" {_minutes(_quantile(one.delays, 0.9)):>8s} | {one.bands_seen:3d}"
        f" {_minutes(median(one.bands_delays) if one.bands_delays else None):>8s}"
        f" {_minutes(_quantile(one.bands_delays, 0.9)):>8s} | {one.first:3d}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20, help="trials of each trouble")
    parser.add_argument("--months", type=float, default=4.0, help="collector-months without trouble")
    parser.add_argument("--first", type=int, default=FIRST_REPORTED, help="first seed")
    parser.add_argument("--only", default="", help="part of a trouble's name")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--verbose", action="store_true", help="every call of every trial")
    said = parser.parse_args()
    cases = [case for case in CASES if said.only in case.name]
    asked: list[tuple[Case | None, int, float]] = [
        (case, said.first + i, 0.0) for case in cases for i in range(said.seeds)
    ]
    asked += [(None, said.first + i, 10.0) for i in range(round(said.months * 3))]
    with ProcessPoolExecutor(said.workers) as pool:
        results = list(pool.map(_play, asked))
    print(f"{'sign / trouble':58s} seen      median      p90 | plain bands: seen, median, p90 | earlier")
    for case in cases if said.seeds else ():
        of = [result for (one, _, _), result in zip(asked, results, strict=True) if one is case]
        for sign in case.signs:
            _print_row(row(f"{sign.value} / {case.name}", of, frozenset({sign.value})))
        _print_row(row(f"any sign / {case.name}", of, frozenset(Sign)))
    months, signs, bands = false_calls(results)
    print(f"\nfalse calls in {months:.1f} collector-months in good order, per month:")
    for sign in Sign:
        print(f"  {sign.value:28s} {signs[sign.value] / max(months, 1e-9):.2f}")
    for name in ("high", "low", "frozen", "bad"):
        print(f"  plain band: {name:16s} {bands[name] / max(months, 1e-9):.2f}")
    if said.verbose:
        for (case_, seed, _), result in zip(asked, results, strict=True):
            print(case_.name if case_ else "healthy", seed, result)


if __name__ == "__main__":
    main()
