"""Forecast trials: at five moments of a life the forecast is asked; what it said, and what was true.

The moments lie at 50, 60, 70, 80 and 90 % of the way to the true date, which the forecast does not know. Three
beds are kept apart: the simulated plant's lives, the same on bent lines, and our own. Lives by which the constants
were found (seeds under 1000) are not asked.
"""

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from monitor.interpret.trend.ageing import BEGIN, advance
from monitor.interpret.trend.forecast import Forecast, Outlook, forecast
from monitor.plant.life import Law, Life
from monitor.plant.life_shape import Shape
from tests.scenarios.ageing_lives import OwnLife, lives_of

DAY_S = 86_400.0
SHARES = (0.5, 0.6, 0.7, 0.8, 0.9)
#: Seeds under this are for tuning.
FIRST_SEED = 1000
#: How much less air a fan gives as the filters load, for each time the drag of new cloth; as the plant's lives do.
DROOP = 0.04


class Trial(NamedTuple):
    """One forecast, and what was true.

    Attributes:
        kind: of the life, in words.
        left_d: days of the calendar that truly remained.
        law_left_d: the same by the law at design flow; differs where the flow is not measured (``due_as_shown``).
        early_d, middle_d, late_d: what the forecast said; ``late_d`` may be inf.
        line_d: what a plain straight line through the recent part would have said.
    """

    bed: str
    kind: str
    seed: int
    share: float
    outlook: Outlook
    left_d: float
    law_left_d: float
    early_d: float = math.nan
    middle_d: float = math.nan
    late_d: float = math.nan
    line_d: float = math.nan

    @property
    def held(self) -> bool:
        return self.early_d <= self.left_d <= self.late_d

    @property
    def error(self) -> float:
        """Of the date, as a share of what remained."""
        return abs(self.middle_d - self.left_d) / self.left_d

    @property
    def width(self) -> float:
        return (self.late_d - self.early_d) / self.left_d


def trials(bed: str, seeds: Iterable[int]) -> Iterator[Trial]:
    """Every forecast of these lives."""
    for seed in seeds:
        one = lives_of(bed, seed)
        if math.isfinite(one.due_utc_s):
            yield from lived_through(bed, one)


def lived_through(bed: str, one: Life | OwnLife) -> Iterator[Trial]:
    due_utc_s = due_as_shown(one)
    settings, state = one.filter_settings, BEGIN
    moments = [one.start_utc_s + share * (due_utc_s - one.start_utc_s) for share in SHARES]
    for digest, cycle in zip(one.digests, one.cycles, strict=True):
        state = advance(settings, state, digest, cycle)
        if digest.end_utc_s >= moments[0]:
            said = forecast(settings, state, digest.end_utc_s)
            share = SHARES[len(SHARES) - len(moments)]
            yield _trial(bed, one, share, digest.end_utc_s, due_utc_s, said)
            moments.pop(0)
            if not moments:
                return


def _trial(bed: str, one: Life | OwnLife, share: float, now: float, due_utc_s: float, said: Forecast) -> Trial:
    def days(utc_s: float | None) -> float:
        return math.inf if utc_s is None else (utc_s - now) / DAY_S

    plain = Trial(bed, kind(one), one.seed, share, said.outlook, days(due_utc_s), days(one.due_utc_s))
    if said.outlook is not Outlook.EXPECTED:
        return plain
    line = (one.limit_inh2o - said.residual_inh2o) / said.slope_inh2o_d
    share_run = said.days / ((now - one.start_utc_s) / DAY_S)
    return plain._replace(
        early_d=days(said.earliest_utc_s),
        middle_d=days(said.due_utc_s),
        late_d=days(said.latest_utc_s),
        line_d=line / share_run,
    )


def kind(one: Life | OwnLife) -> str:
    if isinstance(one, Life):
        bent = "" if one.law.line.shape is Shape.POWER else f"{one.law.line.shape.value}, "
        return f"{bent}{one.law.cleaned.value}{', flow known' if one.flow_measured else ''}"
    return one.law.value


def due_as_shown(one: Life | OwnLife) -> float:
    """The date by the law, as the DP shows it.

    Where the flow is not measured, the fan gives less of it as the filters load, and the DP at the tap reaches its
    limit later than the same filters would at design flow: nobody could know, and the tap is what people go by.
    """
    if not isinstance(one, Life) or one.flow_measured:
        return one.due_utc_s
    low, high = 0.5 * one.law.term_s, 4.0 * one.law.term_s
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if shown_inh2o(one.law, middle) < one.limit_inh2o else (low, middle)
    share = one.due_run_s / (one.due_utc_s - one.start_utc_s)
    return one.due_utc_s + (high - one.due_run_s) / share


def shown_inh2o(law: Law, run_s: float) -> float:
    """The residual DP by the law, at the flow that the fan then gives."""
    drag = law.drag(run_s)
    velocity = law.velocity_ft_min * (1.0 - DROOP * (drag / law.new_drag - 1.0))
    return law.residual_inh2o(drag, velocity, 1.0)
