"""Ranking: the troubles that may be behind an alarm, the likeliest first, each with its evidence.

Every trouble of the table and "cannot tell" have a weight in doublings; their shares of the belief are to each
other as 2 to the power of those weights. So the shares of a list come to less than 1, and what is missing is the
share of "cannot tell" and of what was left off. Nothing is listed unless the first trouble is believed clearly
more than "cannot tell": a list that does not know must not send somebody to the wrong end of a plant.
"""

from collections.abc import Mapping

from monitor.interpret.causes.about import About
from monitor.interpret.causes.clues import show
from monitor.interpret.causes.kinds import ASPECT_OF, Aspect, Kind
from monitor.interpret.causes.rule import CANNOT_TELL, Rule, Says
from monitor.interpret.causes.rules import RULES
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue, Sign, Suspicion, Trouble

__all__ = ["About", "suspect", "weigh"]

#: By so many doublings the first must outweigh "cannot tell" for anything to be listed.
LEAST_LEAD = 1.0
#: Share that a trouble must have to be worth a look.
LEAST_SHARE = 0.05
#: So many are listed at most.
MOST = 3

#: What an early warning has seen, where the symptoms of the moment do not show it any more.
SIGN_SHOWS: Mapping[Sign, Kind] = {
    Sign.CLEANING_WITHOUT_EFFECT: Kind.CLEANING_WITHOUT_EFFECT,
    Sign.CLEANING_TOO_OFTEN: Kind.CYCLES_OFTEN,
    Sign.HEADER_NOT_RECOVERING: Kind.HEADER_SLOW,
    Sign.DP_STEPPED_DOWN: Kind.STEP_DOWN,
    Sign.SIGNAL_STILL: Kind.NOISE_GONE,
    Sign.CHANGE_OUT_DUE: Kind.RESIDUAL_RISING,
}


def suspect(symptoms: Symptoms, about: About, sign: Sign | None = None) -> tuple[Suspicion, ...]:
    """At most three troubles, the likeliest first; none where the evidence does not tell."""
    shown = dict(show(symptoms))
    if sign is not None:
        kind = SIGN_SHOWS[sign]
        if ASPECT_OF[kind] not in {ASPECT_OF[other] for other in shown}:
            shown[kind] = Clue(kind.value)
    return weigh(shown, about)


def weigh(shown: Mapping[Kind, Clue], about: About) -> tuple[Suspicion, ...]:
    """As ``suspect``, from the clues that show."""
    weights = {rule.trouble: weight(rule, shown, about) for rule in RULES if about in rule.opening}
    listed = _listed(weights)
    return tuple(_suspicion(rule, share, shown) for share, rule in listed)


def weight(rule: Rule, shown: Mapping[Kind, Clue], about: About) -> float:
    """Return the weight of one trouble, in doublings: of each aspect the strongest for and against."""
    best: dict[tuple[Aspect, bool], float] = {}
    for says in rule.says:
        if says.kind in shown:
            side = (ASPECT_OF[says.kind], says.weight > 0)
            best[side] = max(best.get(side, 0.0), says.weight, key=abs)
    return rule.opening[about] + sum(best.values())


def _listed(weights: Mapping[Trouble, float]) -> list[tuple[float, Rule]]:
    """The first few with their shares; equal ones in the order of the table."""
    whole = 2.0**CANNOT_TELL + sum(2.0**doublings for doublings in weights.values())
    if max(weights.values(), default=0.0) < CANNOT_TELL + LEAST_LEAD:
        return []
    shares = [(2.0 ** weights[rule.trouble] / whole, rule) for rule in RULES if rule.trouble in weights]
    ranked = sorted(shares, key=lambda share_and_rule: -share_and_rule[0])
    return [(share, rule) for share, rule in ranked[:MOST] if share >= LEAST_SHARE]


def _suspicion(rule: Rule, share: float, shown: Mapping[Kind, Clue]) -> Suspicion:
    told = sorted((says for says in rule.says if says.kind in shown), key=_strongest_first)
    return Suspicion(
        rule.trouble,
        share,
        tuple(shown[says.kind] for says in told if says.weight > 0),
        tuple(shown[says.kind] for says in told if says.weight < 0),
    )


def _strongest_first(says: Says) -> float:
    return -abs(says.weight)
