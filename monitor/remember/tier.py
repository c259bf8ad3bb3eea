"""Tier: the history's three tables, from the finest to the one that is kept longest."""

from collections.abc import Mapping
from enum import StrEnum


class Tier(StrEnum):
    """One table of the history file, by its name there."""

    STEPS = "history"
    MINUTES = "minutes"
    HOURS = "hours"


#: By size, what is younger than this goes only when nothing else is left to go (our choice: what a rehearsal of
#: the last days needs, and a month of minutes).
FLOOR_S: Mapping[Tier, float] = {Tier.STEPS: 7 * 86400.0, Tier.MINUTES: 31 * 86400.0}
