"""The mutation test by hand.

    python -m tests.mutation                        every mutant, some twelve minutes on two cores
    python -m tests.mutation --draw 30 --seed 7     some of them, by lot
    python -m tests.mutation lifecycle._put         those whose names have this in them

Each that survived is told at once; the last line gives the figures, and the exit code is 1 if any survived.
"""

import random
import sys
from argparse import ArgumentParser

from tests.mutation.whole import every_mutant, tried


def main() -> int:
    parser = ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("parts", nargs="*", help="what the names of the mutants have in them, all of it")
    parser.add_argument("--draw", type=int, help="so many of them, by lot")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    chosen = [one for one in every_mutant() if all(part in one.mutant.name for part in asked.parts)]
    if asked.draw is not None:
        chosen = random.Random(asked.seed).sample(chosen, min(asked.draw, len(chosen)))
    figures = tried(chosen, report=lambda line: print(line, flush=True))
    print(figures)
    return 1 if figures.survived else 0


if __name__ == "__main__":
    sys.exit(main())
