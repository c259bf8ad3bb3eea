"""Each early warning by a table: what brings it, and what looks like it and does not."""

import pytest

from monitor.interpret.causes.kinds import Kind
from monitor.interpret.symptoms import conditions
from monitor.interpret.symptoms.rules import RULES
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Sign

CLEANING = Symptoms(
    cleaning=True, cleaning_s=360.0, cleaning_usual_s=100.0, pulled_inh2o=0.2, pulled_usual_inh2o=1.0,
    stop_reached=False, dp_inh2o=5.4, peak_usual_inh2o=5.0, settled=True,
)  # fmt: skip
LOST = CLEANING._replace(cleaning_s=160.0, pulled_inh2o=0.05)
PLATEAU = CLEANING._replace(cleaning_s=1000.0, dp_inh2o=4.9)
OVER = Symptoms(over_start_s=400.0, cleaning_usual_s=100.0, dp_inh2o=5.6, settled=True)
TIMED = Symptoms(timed=True, pulled_inh2o=0.05, pulled_usual_inh2o=0.2, dp_inh2o=5.0, dp_usual_inh2o=3.0)
OFTEN = Symptoms(cycles_h=19.0, cycles_usual_h=6.0)
BUSY = Symptoms(cleaned_share=0.95, cleaned_usual_share=0.2)
BELOW = BUSY._replace(cleaned_usual_share=0.4, dp_inh2o=3.0, residual_usual_inh2o=4.0)
HEADER = Symptoms(header_psi=70.0, header_usual_psi=90.0)
STEP = Symptoms(fall_inh2o=0.7, fall_from_inh2o=4.6)
CALM = Symptoms(dp_inh2o=4.5, dp_usual_inh2o=4.5, noise_inh2o=0.005, noise_calmest_inh2o=0.03)
HELD = Symptoms(still_s=130.0, still_usual_s=3.0)
UNMOVED = CALM._replace(flat_inh2o=0.02, pulled_usual_inh2o=1.0, noise_inh2o=0.02)

SHOWN = [
    (Sign.CLEANING_WITHOUT_EFFECT, CLEANING, "cleaning_without_effect"),
    (Sign.CLEANING_WITHOUT_EFFECT, LOST, "cleaning_without_effect"),
    (Sign.CLEANING_WITHOUT_EFFECT, PLATEAU, "cleaning_without_effect"),
    (Sign.CLEANING_WITHOUT_EFFECT, OVER, "cleaning_without_effect"),
    (Sign.CLEANING_WITHOUT_EFFECT, TIMED, "cleaning_without_effect"),
    (Sign.CLEANING_TOO_OFTEN, OFTEN, "cycles_often"),
    (Sign.CLEANING_TOO_OFTEN, BUSY, "cleaning_endless"),
    (Sign.CLEANING_TOO_OFTEN, BELOW, "cleaning_endless"),
    (Sign.HEADER_NOT_RECOVERING, HEADER, "header_low"),
    (Sign.HEADER_NOT_RECOVERING, HEADER._replace(header_psi=86.0, header_recovers=False), "header_slow"),
    (Sign.DP_STEPPED_DOWN, STEP, "step_down"),
    (Sign.SIGNAL_STILL, CALM, "noise_gone"),
    (Sign.SIGNAL_STILL, HELD, "dp_still"),
    (Sign.SIGNAL_STILL, UNMOVED, "pulses_unanswered"),
]

HEALTHY = [
    (Sign.CLEANING_WITHOUT_EFFECT, "twice the load takes longer", CLEANING._replace(cleaning_s=250.0)),
    (Sign.CLEANING_WITHOUT_EFFECT, "long, but it comes down", CLEANING._replace(pulled_inh2o=0.8)),
    (Sign.CLEANING_WITHOUT_EFFECT, "the stop point is reached", CLEANING._replace(stop_reached=True)),
    (Sign.CLEANING_WITHOUT_EFFECT, "it is not cleaned at all", CLEANING._replace(cleaning=False)),
    (Sign.CLEANING_WITHOUT_EFFECT, "nothing is usual yet", CLEANING._replace(cleaning_usual_s=None)),
    (Sign.CLEANING_WITHOUT_EFFECT, "over the start for a moment", OVER._replace(over_start_s=120.0)),
    (Sign.CLEANING_WITHOUT_EFFECT, "timed, more dust", TIMED._replace(pulled_inh2o=0.3)),
    (Sign.CLEANING_WITHOUT_EFFECT, "timed, a busy hour", TIMED._replace(dp_inh2o=4.5)),
    (Sign.CLEANING_WITHOUT_EFFECT, "not yet its time", LOST._replace(cleaning_s=140.0)),
    (Sign.CLEANING_WITHOUT_EFFECT, "slow, but it pulls", LOST._replace(pulled_inh2o=0.2)),
    (Sign.CLEANING_WITHOUT_EFFECT, "it holds its own", CLEANING._replace(dp_inh2o=4.9)),
    (Sign.CLEANING_TOO_OFTEN, "load swings of a factor two", OFTEN._replace(cycles_h=12.0)),
    (Sign.CLEANING_TOO_OFTEN, "nothing is usual yet", OFTEN._replace(cycles_usual_h=None)),
    (Sign.CLEANING_TOO_OFTEN, "usually busy", BUSY._replace(cleaned_usual_share=0.5)),
    (Sign.CLEANING_TOO_OFTEN, "timed: always", BUSY._replace(timed=True)),
    (Sign.HEADER_NOT_RECOVERING, "a little low", HEADER._replace(header_psi=80.0)),
    (Sign.HEADER_NOT_RECOVERING, "no header is measured", Symptoms()),
    (Sign.DP_STEPPED_DOWN, "a step that is not believed", Symptoms(step_inh2o=-0.7)),
    (Sign.SIGNAL_STILL, "a low DP is a calm one", CALM._replace(dp_inh2o=1.0)),
    (Sign.SIGNAL_STILL, "over-cleaned, flat and calm", UNMOVED._replace(dp_inh2o=3.0)),
    (Sign.CLEANING_TOO_OFTEN, "lower set points, a busy shift", BELOW._replace(dp_inh2o=3.5)),
    (Sign.SIGNAL_STILL, "a calm shift", CALM._replace(noise_inh2o=0.012)),
    (Sign.SIGNAL_STILL, "a coarse register repeats itself", HELD._replace(still_usual_s=60.0)),
    (Sign.SIGNAL_STILL, "more noise than ever: one line plugged", CALM._replace(noise_inh2o=0.3)),
    (Sign.SIGNAL_STILL, "dust comes as fast as it goes", UNMOVED._replace(noise_inh2o=0.035)),
    (Sign.SIGNAL_STILL, "pulses are dead, the DP rises", UNMOVED._replace(flat_inh2o=0.4)),
    (Sign.SIGNAL_STILL, "nothing is usual yet", HELD._replace(still_usual_s=None)),
]


@pytest.mark.parametrize(("sign", "now", "kind"), SHOWN, ids=[f"{s.value}-{k}" for s, _, k in SHOWN])
def test_it_shows_with_a_clue_that_the_rules_of_causes_know(sign, now, kind):
    clue = RULES[sign].find(now)

    assert clue is not None
    assert clue.kind == kind
    assert clue.kind in {known.value for known in Kind}
    assert not RULES[sign].is_over(now)


@pytest.mark.parametrize(("sign", "why", "now"), HEALTHY, ids=[f"{s.value}-{w}" for s, w, _ in HEALTHY])
def test_it_does_not_show(sign, why, now):
    assert RULES[sign].find(now) is None


@pytest.mark.parametrize("sign", RULES)
def test_where_nothing_is_known_nothing_shows(sign):
    assert RULES[sign].find(Symptoms()) is None


def test_every_sign_but_the_forecast_has_a_rule_in_words():
    assert set(RULES) == set(Sign) - {Sign.CHANGE_OUT_DUE}
    for rule in RULES.values():
        assert rule.shows
        assert rule.ends
        assert rule.source


def test_what_is_unknown_does_not_end_a_header_or_a_still_signal():
    assert not conditions.header_back(Symptoms())
    assert not conditions.moving(Symptoms())
    assert not conditions.has_effect(Symptoms())
