"""Ranking: the troubles that may be behind an alarm, the likeliest first, each with its evidence."""

from enum import StrEnum

from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Sign, Suspicion


class About(StrEnum):
    """What calls: a DP that is high or low, one that cannot be trusted, or nothing yet."""

    HIGH = "high"
    LOW = "low"
    BAD_SIGNAL = "bad_signal"
    WARNING = "warning"


def suspect(symptoms: Symptoms, about: About, sign: Sign | None = None) -> tuple[Suspicion, ...]:
    """At most three troubles, the likeliest first; none where the evidence does not tell."""
    del symptoms, about, sign
    return ()
