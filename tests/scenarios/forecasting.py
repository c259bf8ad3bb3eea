"""The backtest of the change-out forecast, by hand.

    python -m tests.scenarios.forecasting              a hundred lives of each bed, some minutes
    python -m tests.scenarios.forecasting --lives 20   fewer
    python -m tests.scenarios.forecasting --from 0     the lives it was tuned on (seeds under 1000)
    python -m tests.scenarios.forecasting --changes    new filters noticed, torn bags not taken for them

For each bed and each moment: how many forecasts gave a date, how many intervals of 80 % held the true one, how
many true dates came too early and too late for them, the median error of the date and the median width of the
interval, both as shares of what remained, and beside it the error of a plain straight line.
"""

import argparse
from collections.abc import Sequence
from statistics import median

from monitor.interpret.trend.forecast import Outlook
from tests.scenarios.ageing_lives import BEDS
from tests.scenarios.change_trials import TORN, Change, changes
from tests.scenarios.forecast_trials import FIRST_SEED, SHARES, Trial, trials

COLUMNS = ("asked", "date", "none", "held", "early", "late", "error", "width", "line")
HEADING = f"{'':30}" + "".join(f" {column:>5}" for column in COLUMNS)


def dated(asked: Sequence[Trial]) -> list[Trial]:
    return [trial for trial in asked if trial.outlook is Outlook.EXPECTED]


def coverage(asked: Sequence[Trial]) -> float:
    """The share of the intervals that held the true date."""
    return sum(trial.held for trial in dated(asked)) / len(dated(asked))


def median_error(asked: Sequence[Trial]) -> float:
    return median(trial.error for trial in dated(asked))


def line_error(asked: Sequence[Trial]) -> float:
    """The median error of a plain straight line through the recent part of the life."""
    return median(abs(trial.line_d - trial.left_d) / trial.left_d for trial in dated(asked))


def line(name: str, asked: Sequence[Trial]) -> str:
    told = dated(asked)
    if not told:
        return f"{name:30} {len(asked):5d} {0:5d}"
    early = sum(trial.left_d < trial.early_d for trial in told) / len(told)
    late = sum(trial.left_d > trial.late_d for trial in told) / len(told)
    width = median(trial.width for trial in told)
    counts = (len(asked), len(told), len(asked) - len(told))
    shares = (coverage(asked), early, late, median_error(asked), width, line_error(asked))
    return f"{name:30}" + "".join(f" {n:5d}" for n in counts) + "".join(f" {share:5.2f}" for share in shares)


def table(asked: Sequence[Trial]) -> str:
    """Everything asked of one bed."""
    bed = asked[0].bed
    lines = [HEADING]
    lines += [line(f"{bed}, at {share:.0%}", [t for t in asked if t.share == share]) for share in SHARES]
    kinds = sorted({trial.kind for trial in asked})
    lines += [line(f"{bed}, {kind}", [t for t in asked if t.kind == kind]) for kind in kinds]
    lines.append(line(f"{bed}, all", asked))
    return "\n".join([*lines, by_outlook(asked), by_law(asked)])


def by_outlook(asked: Sequence[Trial]) -> str:
    counts = {outlook: sum(trial.outlook is outlook for trial in asked) for outlook in Outlook}
    return "  " + ", ".join(f"{outlook.value} {count}" for outlook, count in counts.items() if count)


def by_law(asked: Sequence[Trial]) -> str:
    """Coverage where truth is the law at design flow, though nobody measured the flow."""
    told = dated(asked)
    held = sum(trial.early_d <= trial.law_left_d <= trial.late_d for trial in told)
    return f"  held, if the true date were that at design flow: {held / len(told):.2f}"


def noticed(bed: str, seen: Sequence[Change]) -> str:
    """How changes of filters, and torn bags, were taken."""
    after = sorted(change.after_d for change in seen if change.after_d is not None)
    years = sum(change.years for change in seen)
    false = sum(change.false_changes for change in seen), sum(change.false_doubts for change in seen)
    torn = sum(change.torn_taken for change in seen), sum(change.torn_doubted for change in seen)
    return (
        f"{bed}: {len(after)} of {len(seen)} changes noticed, after {median(after):.1f} days of running (most "
        f"{after[-1]:.1f}); in {years:.0f} years {false[0]} false changes, {false[1]} false doubts; of "
        f"{len(TORN) * len(seen)} torn bags {torn[0]} taken for new filters, {torn[1]} said to be uncertain"
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.scenarios.forecasting")
    parser.add_argument("--lives", type=int, default=100, help="of each bed")
    parser.add_argument("--from", dest="first", type=int, default=FIRST_SEED, help="the first seed")
    parser.add_argument("--changes", action="store_true", help="ask for changes of filters instead of dates")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.lives)
    for bed in BEDS:
        text = noticed(bed, list(changes(bed, seeds))) if asked.changes else table(list(trials(bed, seeds)))
        print(text, end="\n\n", flush=True)


if __name__ == "__main__":
    main()
