"""Whole: all the mutants of the judge, two trials at a time, and the figures of them."""

import os
from collections.abc import Callable, Iterable
from enum import EnumMeta
from pathlib import Path
from typing import NamedTuple

from monitor import words
from monitor.judge import alarm, settings, table
from tests.mutation.equivalent import EQUIVALENT
from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.trial import begin, was_killed

JUDGE = Path(table.__file__).parent
#: What judges. Figures and drawing beside it decide nothing.
MODULES = ("table", "alarm", "moves", "lifecycle", "calm", "watch")
AT_ONCE = 2


class Suspect(NamedTuple):
    """A mutant, and the module it takes the place of."""

    module: str
    mutant: Mutant


class Figures(NamedTuple):
    """What became of the mutants that were tried.

    Attributes:
        survived: the names of those that no test noticed and that are not known to be equivalent.
        equivalent: how many are known to be equivalent; they are not tried.
    """

    killed: int
    survived: tuple[str, ...]
    equivalent: int

    @property
    def of_all(self) -> float:
        """The share of all mutants that was killed; the equivalent ones count as alive."""
        return self.killed / max(1, self.killed + len(self.survived) + self.equivalent)

    @property
    def of_real(self) -> float:
        """The share that was killed of those that are not equivalent."""
        return self.killed / max(1, self.killed + len(self.survived))

    def __str__(self) -> str:
        return (
            f"{self.killed} killed, {len(self.survived)} survived, {self.equivalent} equivalent: "
            f"{self.of_real:.1%} of those that change anything, {self.of_all:.1%} of all"
        )


def every_mutant() -> list[Suspect]:
    """All of them, in the order of the modules and of their text."""
    members = {
        name: list(kind.__members__)
        for room in (words, alarm, settings, table)
        for name, kind in vars(room).items()
        if isinstance(kind, EnumMeta)
    }
    return [
        Suspect(f"monitor.judge.{module}", mutant)
        for module in MODULES
        for mutant in mutants_of(module, (JUDGE / f"{module}.py").read_text(), members)
    ]


def tried(suspects: Iterable[Suspect], report: Callable[[str], None] = lambda _: None) -> Figures:
    """Try each; ``report`` is told of each survivor at once.

    Raises:
        RuntimeError: the tests fail on the judge as it is, so that they would seem to kill everything.
    """
    begin("", None)
    if was_killed(os.wait()[1]):
        raise RuntimeError("the tests that shall kill the mutants fail on the judge as it is")
    suspects = list(suspects)
    waiting = [one for one in suspects if one.mutant.name not in EQUIVALENT]
    equivalent = len(suspects) - len(waiting)
    running: dict[int, Suspect] = {}
    killed, survived = 0, []
    while waiting or running:
        while waiting and len(running) < AT_ONCE:
            suspect = waiting.pop(0)
            running[begin(suspect.module, suspect.mutant)] = suspect
        child, status = os.wait()
        suspect = running.pop(child)
        if was_killed(status):
            killed += 1
        else:
            survived.append(suspect.mutant.name)
            report(f"survived: {suspect.mutant.name}")
    return Figures(killed, tuple(sorted(survived)), equivalent)
