"""A sign stands late enough, and goes late enough."""

from monitor.interpret.symptoms.rules import RULES
from monitor.interpret.symptoms.signs import judged
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Sign

OFTEN = Symptoms(cycles_h=19.0, cycles_usual_h=6.0)
SOMEWHAT = Symptoms(cycles_h=14.0, cycles_usual_h=6.0)
USUAL = Symptoms(cycles_h=6.0, cycles_usual_h=6.0)
RULE = RULES[Sign.CLEANING_TOO_OFTEN]


def told(seen, standing=(), held=()):
    for now in seen:
        standing, held = judged(standing, held, now, 60.0)
    return standing, held


def names(standing):
    return [sign for sign, _ in standing]


def test_it_stands_when_its_condition_was_seen_for_so_long_and_not_before():
    minutes = int(RULE.after_s / 60)
    assert names(told([OFTEN] * (minutes - 1))[0]) == []
    assert names(told([OFTEN] * minutes)[0]) == [Sign.CLEANING_TOO_OFTEN]


def test_one_calm_minute_begins_the_waiting_anew():
    minutes = int(RULE.after_s / 60)
    assert names(told([*[OFTEN] * (minutes - 1), SOMEWHAT, *[OFTEN] * (minutes - 1)])[0]) == []


def test_it_stays_between_the_condition_and_its_opposite():
    standing, held = told([OFTEN] * 20)
    assert names(told([SOMEWHAT] * 600, standing, held)[0]) == [Sign.CLEANING_TOO_OFTEN]


def test_it_goes_when_its_opposite_was_seen_for_so_long():
    standing, held = told([OFTEN] * 20)
    minutes = int(RULE.clear_s / 60)
    almost = told([USUAL] * (minutes - 1), standing, held)
    assert names(almost[0]) == [Sign.CLEANING_TOO_OFTEN]
    assert names(told([USUAL], *almost)[0]) == []


def test_its_figures_are_those_of_the_moment_it_came_up():
    standing, held = told([OFTEN] * 20)
    later, _ = told([SOMEWHAT] * 5, standing, held)
    assert later is standing
    assert standing[0][1].value == 19.0
