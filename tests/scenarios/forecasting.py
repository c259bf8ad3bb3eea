"""The backtest of the change-out forecast, by hand.

    python -m tests.scenarios.forecasting              a hundred lives of each bed, some two minutes
    python -m tests.scenarios.forecasting --lives 20   fewer
    python -m tests.scenarios.forecasting --from 0     the lives it was tuned on (seeds under 1000)

For each bed and each moment: how many forecasts gave a date, how many intervals of 80 % held the true one, how
many true dates came too early and too late for them, the median error of the date and the median width of the
interval, both as shares of what remained, and beside it the error of a plain straight line.
"""

import argparse
from collections.abc import Sequence
from statistics import median

from monitor.interpret.trend.forecast import Outlook
from tests.scenarios.forecast_trials import FIRST_SEED, SHARES, Trial, trials

BEDS = ("plant", "own")
COLUMNS = ("asked", "date", "none", "held", "early", "late", "error", "width", "line")
HEADING = f"{'':30}" + "".join(f" {column:>5}" for column in COLUMNS)


def dated(asked: Sequence[Trial]) -> list[Trial]:
    return [trial for trial in asked if trial.outlook is Outlook.EXPECTED]


def coverage(asked: Sequence[Trial]) -> float:
    """The share of the intervals that held the true date."""
    return sum(trial.held for trial in dated(asked)) / len(dated(asked))


def median_error(asked: Sequence[Trial]) -> float:
    return median(trial.error for trial in dated(asked))


def line(name: str, asked: Sequence[Trial]) -> str:
    told = dated(asked)
    if not told:
        return f"{name:30} {len(asked):5d} {0:5d}"
    early = sum(trial.left_d < trial.early_d for trial in told) / len(told)
    late = sum(trial.left_d > trial.late_d for trial in told) / len(told)
    width = median(trial.width for trial in told)
    straight = median(abs(trial.line_d - trial.left_d) / trial.left_d for trial in told)
    counts = (len(asked), len(told), len(asked) - len(told))
    shares = (coverage(asked), early, late, median_error(asked), width, straight)
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


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.scenarios.forecasting")
    parser.add_argument("--lives", type=int, default=100, help="of each bed")
    parser.add_argument("--from", dest="first", type=int, default=FIRST_SEED, help="the first seed")
    asked = parser.parse_args()
    for bed in BEDS:
        print(table(list(trials(bed, range(asked.first, asked.first + asked.lives)))), end="\n\n", flush=True)


if __name__ == "__main__":
    main()
