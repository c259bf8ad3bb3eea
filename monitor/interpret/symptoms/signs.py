"""Signs: which early warnings stand, once the rules were asked again."""

from monitor.interpret.symptoms.memory import Held
from monitor.interpret.symptoms.rules import RULES, Rule
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue, Sign

Standing = tuple[tuple[Sign, Clue], ...]
#: Figures are kept as they were shown; more digits than these say nothing.
DIGITS = 4


def judged(
    standing: Standing, held: tuple[Held, ...], now: Symptoms, passed_s: float
) -> tuple[Standing, tuple[Held, ...]]:
    """Ask every rule; ``passed_s``: seconds of running since it was asked last."""
    before = {one.sign: one for one in held}
    clues = dict(standing)
    after = tuple(_asked(rule, before.get(sign, Held(sign)), clues, now, passed_s) for sign, rule in RULES.items())
    signs = tuple((sign, clues[sign]) for sign in RULES if sign in clues)
    return (standing if signs == standing else signs), after


def _asked(rule: Rule, held: Held, clues: dict[Sign, Clue], now: Symptoms, passed_s: float) -> Held:
    sign = held.sign
    if sign in clues:
        gone_s = held.gone_s + passed_s if rule.is_over(now) else 0.0
        if gone_s < rule.clear_s or gone_s == 0.0:
            return Held(sign, 0.0, gone_s)
        del clues[sign]
        return Held(sign)
    clue = rule.find(now)
    seen_s = held.seen_s + passed_s if clue is not None else 0.0
    after_s = rule.timed_after_s if now.timed and rule.timed_after_s is not None else rule.after_s
    if clue is None or seen_s < after_s:
        return Held(sign, seen_s)
    clues[sign] = _short(clue)
    return Held(sign)


def _short(clue: Clue) -> Clue:
    value, usual = clue.value, clue.usual
    return clue._replace(
        value=None if value is None else round(value, DIGITS),
        usual=None if usual is None else round(usual, DIGITS),
    )
