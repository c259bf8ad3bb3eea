"""Cycle finding: how many cleaning cycles are found, how many are false, and how far off their figures are.

``python -m tests.scenarios.cycle_finding [--seeds N] [--tuned]`` prints the table. The tracker's figures were
chosen on seeds below 1200 of the scenario files in ``TUNED_ON`` and of the sawtooth generator in
tests/interpret/cycles; the table judges it on seeds from 1200 on, of all other files and of that generator.
``--tuned`` prints the same for what it was tuned on.

Each recording is read with samples every 1, 10, 30 and 60 s and with three sets of instruments: the DP alone; with
header pressure, flow and fan as far as the collector has them; and with the cleaning signal as well. At most a day
around the mishap is read (else the last day and a half).
"""

import argparse
import dataclasses
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from monitor.interpret.digest import Sample
from monitor.interpret.settings import CleaningSettings
from monitor.plant.telling import TrueCycle
from monitor.plant.trial import cycles, shown
from monitor.troubles import Trouble
from tests.interpret.cycles.sawtooth import Kind, draw
from tests.interpret.cycles.scoring import Score, digests_of, score, track
from tests.scenarios.loading import files, load

PERIODS_S = (1, 10, 30, 60)
WAYS = ("DP alone", "no signal", "signal")
FIRST_UNSEEN_SEED = 1200
LONGEST_H = 36.0
AROUND_S = 120.0
TUNED_ON = frozenset(
    [
        "blinding",
        "blinding_rounds",
        "duct_blocked_no_flow",
        "fan_belt",
        "flow_up",
        "gateway_frozen_watched",
        "header_weak",
        "healthy_coarse_signal",
        "healthy_gates",
        "healthy_filters_changed",
        "healthy_glitches",
        "healthy_missing_samples",
        "healthy_on_demand",
        "healthy_scanned_every_10_s",
        "healthy_scanned_every_60_s",
        "healthy_timed",
        "healthy_weekends",
        "loop_intermittent",
        "moisture",
        "over_cleaning",
        "pulses_dead",
        "tap_hose_off",
        "tap_plugged_one_line",
        "tap_plugged_slowly",
        "torn_bag_timed",
        "valve_dead_timed",
    ]
)
CUT_OFF = frozenset({Trouble.TAP_HOSE_OFF, Trouble.TAP_PLUGGED, Trouble.GATEWAY_FROZEN, Trouble.LOOP_OPEN})
BEFORE_H, AFTER_H = 10.0, 14.0


class Recording(NamedTuple):
    """What one collector showed every second, and its true cycles."""

    name: str
    settings: CleaningSettings
    samples: Sequence[Sample]
    true: Sequence[TrueCycle]


def scenario(name: str, seed: int, longest_h: float = LONGEST_H, after_h: float = AFTER_H) -> Recording:
    """One scenario file with one seed, read every second.

    Cycles while the instrument is cut off from the collector (nobody could see them) count neither way.
    """
    trial = load(name, seed)
    from_h = min((mishap.from_h for mishap in trial.mishaps), default=None)
    hours = min(trial.duration_s / 3600.0, longest_h if from_h is None else from_h + after_h)
    trial = dataclasses.replace(trial, duration_s=hours * 3600.0, every_s=1.0)
    begin_s = 0.0 if from_h is None else max(0.0, (from_h - BEFORE_H) * 3600.0)
    seen = [one for one in shown(trial) if one.sample.at_s >= begin_s]
    cut_s = [one.sample.at_s for one in seen if not CUT_OFF.isdisjoint(one.truth.troubles)]
    true = [_unless_cut(one, cut_s) for one in cycles(trial) if one.end_s >= begin_s]
    samples = [one.sample for one in seen]
    return Recording(name, trial.cleaning_settings, samples, true)


def _unless_cut(one: TrueCycle, cut_s: Sequence[float]) -> TrueCycle:
    """The cycle; not counted where the instrument was cut off during it or in the two minutes around it."""
    first = bisect_left(cut_s, one.begin_s - AROUND_S)
    cut = first < len(cut_s) and cut_s[first] <= one.end_s + AROUND_S
    return one._replace(finished=False) if cut else one


def sawtooth(kind: Kind, seed: int, hours: float = 6.0) -> Recording:
    """One day of the tracker's own generator."""
    day = draw(kind, seed, hours)
    return Recording(
        kind.value, day.settings, day.samples(1, signal=True, header=True, flow=True, fan=True), day.cycles
    )


def judged(recording: Recording, period_s: int, way: str) -> Score:
    """Read the recording in that way, and compare with the truth."""
    chosen = [_seen(one, way) for one in _every(recording.samples, period_s)]
    digests = digests_of(chosen)
    return score(track(recording.settings, digests), recording.true, digests, float(period_s))


def _every(samples: Sequence[Sample], period_s: int) -> Iterator[Sample]:
    """Every so many seconds one of them."""
    due_s = samples[0].at_s
    for one in samples:
        if one.at_s >= due_s - 0.3:
            yield one
            due_s += period_s
            if due_s < one.at_s:
                due_s = one.at_s + period_s


def _seen(one: Sample, way: str) -> Sample:
    """What these instruments show."""
    if way == "DP alone":
        return Sample(one.at_s, one.utc_s, one.dp_inh2o)
    return one if way == "signal" else one._replace(cleaning=None)


def stems(*, tuned: bool) -> list[str]:
    """The scenario files that the tracker was tuned on, or all others."""
    return [path.stem for path in files() if (path.stem in TUNED_ON) is tuned]


def recordings(seeds: Sequence[int], *, tuned: bool) -> Iterator[tuple[str, Recording]]:
    """All recordings of these seeds, each with the bed it comes from."""
    for name in stems(tuned=tuned):
        for seed in seeds:
            yield "plant", scenario(name, seed)
    for kind in Kind:
        for seed in seeds:
            yield "sawtooth", sawtooth(kind, seed)


Cell = tuple[str, str, str, int]


def table(seeds: Sequence[int], *, tuned: bool) -> dict[Cell, Score]:
    """The scores by bed, name, way and period."""
    cells: dict[Cell, Score] = {}
    for bed, recording in recordings(seeds, tuned=tuned):
        for way in WAYS:
            for period_s in PERIODS_S:
                got = judged(recording, period_s, way)
                for name in (recording.name, "all"):
                    cells.setdefault((bed, name, way, period_s), Score()).add(got)
    return cells


def lines(cells: dict[Cell, Score]) -> Iterator[str]:
    """The table as text: found and false share, percent; then errors over all."""
    columns = [(way, period_s) for way in WAYS for period_s in PERIODS_S]
    yield f"{'found % / false %':34}" + "".join(f"{way} {period_s} s".rjust(15) for way, period_s in columns)
    for bed, name in sorted({cell[:2] for cell in cells}, key=lambda pair: (pair[0], pair[1] == "all", pair[1])):
        row = [cells[bed, name, way, period_s] for way, period_s in columns]
        yield f"{bed + ': ' + name:34}" + "".join(
            f"{100 * one.found_share:8.2f}/{100 * one.false_share:5.2f} " for one in row
        )
    yield f"{'errors: median / 95th of 100':34}" + "".join(
        head.rjust(18) for head in ("cycles", "peak inH2O", "residual inH2O", "begin s", "end s")
    )
    for bed in sorted({cell[0] for cell in cells}):
        for way, period_s in columns:
            one = cells[bed, "all", way, period_s]
            yield f"{f'{bed}: {way} {period_s} s':34}{one.true:18}" + "".join(
                f"{_rank(values, 0.5):9.3f} /{_rank(values, 0.95):7.3f}"
                for values in (one.peak, one.residual, one.begin, one.end)
            )


def _rank(values: Sequence[float], share: float) -> float:
    """The error that this share of the cycles stays within."""
    ordered = sorted(abs(value) for value in values)
    return ordered[int(share * (len(ordered) - 1))] if ordered else float("nan")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=1, help="how many seeds of each")
    parser.add_argument("--tuned", action="store_true", help="what the tracker was tuned on instead")
    arguments = parser.parse_args()
    first = 1 if arguments.tuned else FIRST_UNSEEN_SEED
    for line in lines(table(range(first, first + arguments.seeds), tuned=arguments.tuned)):
        print(line)


if __name__ == "__main__":
    main()
