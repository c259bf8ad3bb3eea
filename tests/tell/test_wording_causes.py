"""The causes in words: every clue and trouble has its sentence, its first check and its caution."""

import re

import pytest

from monitor.interpret.causes.kinds import Kind
from monitor.interpret.causes.ranking import suspect
from monitor.report.trouble_names import NAMES
from monitor.tell.wording_causes import CHECKS, DEFERS, SHORT, cause_sentence, cause_short
from monitor.tell.wording_evidence import PHRASES, evidence
from monitor.troubles import Clue, Suspicion, Trouble
from tests.interpret.causes.worked import WORKED

HEADER = (
    Suspicion(
        Trouble.HEADER_PRESSURE_LOST,
        0.8,
        (Clue("header_low", 42.0, 90.0, "psi"), Clue("sawtooth_gone")),
        (Clue("dips_usual", 0.0),),
    ),
    Suspicion(Trouble.PULSES_DEAD, 0.1, (Clue("sawtooth_gone"),)),
)


def test_the_sentence_says_what_why_what_else_where_to_look_and_with_what_care():
    told = cause_sentence(HEADER).split(". ")

    assert told[0] == (
        "Likely: header pressure lost (header 42 psi, usually 90 psi; the sawtooth of cleaning is gone); "
        "but every pulse dips the header; or no cleaning pulses (the sawtooth of cleaning is gone)"
    )
    assert told[1] == "Check first: header gauge, compressor, supply valve, regulator"
    assert told[2].startswith("Caution: the header holds pressure even when shut off; lock out and bleed")


def test_a_first_cause_that_is_not_sure_is_only_possible():
    assert cause_sentence((HEADER[0]._replace(share=0.4),)).startswith("Possibly: header pressure lost")


def test_where_the_evidence_does_not_tell_the_check_of_the_alarm_stands():
    told = cause_sentence((), "fan, dampers, loose or open DP tubes")

    assert told == "The evidence does not tell; check first: fan, dampers, loose or open DP tubes."
    assert "from outside" in cause_sentence(())


@pytest.mark.parametrize("trouble", Trouble)
def test_every_trouble_has_a_name_a_check_a_caution_and_a_source(trouble):
    check = CHECKS[trouble]

    assert NAMES[trouble]
    assert check.look
    assert check.source
    assert len(check.caution) > 40
    assert DEFERS in cause_sentence((Suspicion(trouble, 0.9),))


def test_what_can_hurt_is_named_where_it_can():
    def caution(trouble):
        return CHECKS[trouble].caution

    for trouble in (Trouble.HEADER_PRESSURE_LOST, Trouble.VALVE_DEAD, Trouble.PULSES_DEAD, Trouble.OVER_CLEANING):
        assert "holds pressure" in caution(trouble)
        assert "lock out" in caution(trouble)
    for trouble in (Trouble.BLINDING, Trouble.MOISTURE, Trouble.TORN_BAG, Trouble.HOPPER_BRIDGED):
        assert "never open" in caution(trouble)
        assert "confined space" in caution(trouble)
    assert "burn" in caution(Trouble.HOPPER_BRIDGED)
    assert "do not restart" in caution(Trouble.FAN_STOPPED)


def test_no_check_tells_anybody_to_open_or_enter_or_to_start_something():
    for check in CHECKS.values():
        assert not re.search(r"\b(open|enter|start|restart|hit|knock|climb|remove)\b", check.look), check.look


@pytest.mark.parametrize("trouble", WORKED)
def test_a_worked_example_reads_in_one_breath_and_fits_a_text_message(trouble):
    about, symptoms = WORKED[trouble]
    suspicions = suspect(symptoms, about)
    long, short = cause_sentence(suspicions), cause_short(suspicions)

    assert NAMES[trouble] in long
    assert NAMES[trouble] in short
    assert len(long) <= 640
    assert len(short) <= SHORT
    assert "None" not in long
    assert "{" not in long
    assert "  " not in long


@pytest.mark.parametrize("first", Trouble)
def test_the_short_form_never_loses_the_first_cause_or_the_check(first):
    rest = [trouble for trouble in Trouble if trouble is not first][:2]
    short = cause_short([Suspicion(first, 0.5), *(Suspicion(trouble, 0.1) for trouble in rest)])

    assert len(short) <= SHORT
    assert NAMES[first] in short
    assert short.endswith(CHECKS[first].look)


@pytest.mark.parametrize("kind", Kind)
def test_every_clue_has_a_sentence_with_and_without_figures(kind):
    plain, measured = evidence(Clue(kind.value)), evidence(Clue(kind.value, 0.5, 1.0, "inH2O"))

    assert plain == PHRASES[kind].plain
    assert plain
    assert measured
    assert "{" not in measured


@pytest.mark.parametrize(
    ("clue", "words"),
    [
        (Clue("header_low", 42.3, 90.1, "psi"), "header 42 psi, usually 90 psi"),
        (Clue("cleaning_endless", 910.0, 80.0, "s"), "cleaning has gone on for 15 min, usually 80 s"),
        (Clue("cleaning_endless", 0.95, 0.2), "cleaned for 95 % of the last half hour, usually 20 %"),
        (Clue("cycles_often", 14.0, 6.0, "/h"), "cleaned 14 times an hour, usually 6 times an hour"),
        (Clue("step_down", -1.2, None, "inH2O"), "the DP stepped down by 1.2 inH2O"),
        (Clue("zero_off", -0.42, None, "inH2O"), "DP -0.42 inH2O with the fan off"),
        (Clue("others_alike", 3.0, 4.0), "3 of 4 others on the link show the same"),
        (Clue("some_dips_missing", 0.125), "12 % of the pulses do not dip the header"),
        (Clue("flow_down", 9000.0, 20000.0, "cfm"), "air flow only 9,000 cfm, usually 20,000 cfm"),
        (Clue("residual_rising", 0.031, None, "inH2O/d"), "residual DP rising by 0.031 inH2O a day for weeks"),
        (Clue("residual_at_limit", 6.1, None, "inH2O"), "residual DP 6.1 inH2O is at the change-out limit"),
        (Clue("days_to_change_out", 12.4, None, "d"), "12 days to the change-out limit"),
        (Clue("a_new_kind", 3.0, None, "psi"), "a new kind 3 psi"),
        (Clue("a_new_kind"), "a new kind"),
    ],
)
def test_figures_are_told_with_their_units(clue, words):
    assert evidence(clue) == words
