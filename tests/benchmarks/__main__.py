"""``python -m tests.benchmarks [NAME …] [--quick]``: run the benchmarks and print every figure beside its bar."""

import argparse
import importlib
import signal
import sys

from tests.benchmarks import machine

BENCHES = ("judge", "rehearse", "start", "saturated", "thousand", "crossing", "scrape", "idle", "years", "curve")


def main() -> None:
    """Run what was asked for. The exit code is 1 where a bar is not met."""
    arguments = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    arguments.add_argument("names", nargs="*", metavar="NAME", help=f"all, or some of: {', '.join(BENCHES)}")
    arguments.add_argument("--quick", action="store_true", help="shorter rounds: a look, not a measurement")
    given = arguments.parse_args()
    if unknown := set(given.names) - set(BENCHES):
        arguments.error(f"no benchmark is called {', '.join(sorted(unknown))}; there are {', '.join(BENCHES)}")
    # Ended from outside, it still ends the processes it started.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    signal.signal(signal.SIGINT, lambda *_: sys.exit(130))
    print(machine.heading())
    print(machine.others_load())
    met = [_run(name, quick=given.quick) for name in given.names or BENCHES]
    sys.exit(0 if all(met) else 1)


def _run(name: str, *, quick: bool) -> bool:
    bench = importlib.import_module(f"tests.benchmarks.{name}")
    print(f"\n{bench.__doc__.splitlines()[0]}", flush=True)
    busy, met = machine.Busy(), True
    for figure in bench.run(quick=quick):
        print(figure.line(), flush=True)
        met = met and figure.is_met
    print(f"  (all cores {100 * busy.share():.0f} % busy meanwhile)", flush=True)
    return met


if __name__ == "__main__":
    main()
