"""Playing: a trial read as the daemon reads it, digest by digest, with the truth beside each.

``python -m tests.scenarios.playing torn_bag --seed 7 > torn_bag.csv`` writes one as a recording, which
``cakewatch rehearse`` plays against any site file.
"""

import argparse
import csv
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import NamedTuple

from monitor.interpret.digest import Digest
from monitor.interpret.gathering import EMPTY, gather
from monitor.plant.telling import Shown
from monitor.plant.trial import Trial, shown
from tests.scenarios.loading import load


class Played(NamedTuple):
    """One digest, and the last moment that went into it."""

    digest: Digest
    last: Shown


def played(trial: Trial, digest_s: float = 5.0) -> Iterator[Played]:
    """Play the trial; every digest with the truth at its end."""
    state, last = EMPTY, None
    for one in shown(trial):
        state, digest = gather(digest_s, state, one.sample)
        if digest is not None and last is not None:
            yield Played(digest, last)
        last = one


def digests(trial: Trial, digest_s: float = 5.0) -> Iterator[Digest]:
    """Play the trial; its digests alone."""
    return (one.digest for one in played(trial, digest_s))


def rows(trial: Trial) -> Iterator[tuple[str, ...]]:
    """Play the trial as a recording for ``cakewatch rehearse``: headings first, a bad DP says ``bad``."""
    name, signal = trial.build.name, trial.build.signal
    points = (
        ("dp (inH2O)", "dp_inh2o", True),
        ("header_pressure (psi)", "header_psi", signal.header),
        ("air_flow (cfm)", "flow_cfm", signal.flow),
        ("fan_running", "fan", signal.fan),
        ("cleaning_active", "cleaning", signal.cleaning),
    )
    there = [(heading, field) for heading, field, is_there in points if is_there]
    yield ("time", *(f"{name}.{heading}" for heading, _ in there))
    for one in shown(trial):
        at = datetime.fromtimestamp(one.sample.utc_s, UTC).isoformat(timespec="milliseconds")
        yield (at, *(_cell(getattr(one.sample, field)) for _, field in there))


def _cell(value: float | bool | None) -> str:
    if value is None:
        return "bad"
    return str(int(value)) if isinstance(value, bool) else f"{value:.10g}"


def main() -> None:
    """Write one trial of a scenario as a recording to standard output."""
    asked = argparse.ArgumentParser(prog="python -m tests.scenarios.playing", description=main.__doc__)
    asked.add_argument("scenario", help="the bare name of a file in fixtures/scenarios")
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    csv.writer(sys.stdout).writerows(rows(load(given.scenario, given.seed)))


if __name__ == "__main__":
    main()
