"""The whole of the mutation test, or some of it: ``python -m tests.mutation [part of a mutant's name …]``."""

import sys

from tests.mutation.whole import every_mutant, tried

if __name__ == "__main__":
    wanted = sys.argv[1:]
    chosen = [one for one in every_mutant() if all(part in one.mutant.name for part in wanted)]
    print(tried(chosen, report=print))
