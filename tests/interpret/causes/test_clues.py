"""The clues: each shows where it should, and what is not known shows nothing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.interpret.causes.clues import CONDITIONS, show
from monitor.interpret.causes.conditions import All, Amount, Apart, Beside, Either, Is, Unless
from monitor.interpret.causes.kinds import Kind
from monitor.interpret.causes.rules import RULES, table_text
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue
from monitor.words import Reason
from tests.interpret.causes.worked import SOUND

#: Conditions that must never show together: one says the opposite of the other.
OPPOSITES = [
    (Kind.HEADER_LOW, Kind.HEADER_USUAL),
    (Kind.HEADER_SLOW, Kind.HEADER_USUAL),
    (Kind.NO_DIPS, Kind.DIPS_USUAL),
    (Kind.SOME_DIPS_MISSING, Kind.DIPS_USUAL),
    (Kind.CLEANING_WORKS, Kind.CLEANING_WITHOUT_EFFECT),
    (Kind.CLEANING_WORKS, Kind.CLEANING_WEAK),
    (Kind.CLEANING_WORKS, Kind.SAWTOOTH_GONE),
    (Kind.RESIDUAL_UP, Kind.RESIDUAL_USUAL),
    (Kind.RESIDUAL_RISING, Kind.RESIDUAL_STEADY),
    (Kind.RISE_FAST, Kind.RISE_USUAL),
    (Kind.RISE_FAST, Kind.RISE_DOUBLED),
    (Kind.RISE_SLOW, Kind.RISE_HELD),
    (Kind.CLEANING_ENDLESS, Kind.CLEANING_SHORT_OF_STOP),
    (Kind.FLOW_UP, Kind.FLOW_USUAL),
    (Kind.FLOW_DOWN, Kind.FLOW_USUAL),
    (Kind.NOISE_GONE, Kind.NOISE_USUAL),
    (Kind.ZERO_OFF, Kind.ZERO_TRUE),
    (Kind.FAN_RUNS, Kind.FAN_STANDS),
    (Kind.OTHERS_ALIKE, Kind.OTHERS_WELL),
    (Kind.DP_STILL, Kind.SIGNAL_MOVES),
]
FIGURE = st.none() | st.floats(-20.0, 2000.0, allow_nan=False)
YES_NO = st.none() | st.booleans()
ANY = st.builds(
    Symptoms,
    reason=st.sampled_from(Reason),
    **{
        name: YES_NO if default is None and "bool" in str(kind) else FIGURE
        for (name, kind), default in zip(
            Symptoms.__annotations__.items(), Symptoms._field_defaults.values(), strict=True
        )
        if default is None
    },
    others=st.integers(0, 5),
    others_alike=st.integers(0, 5),
)


@pytest.mark.parametrize(
    ("change", "kind", "clue"),
    [
        ({"header_psi": 42.0}, Kind.HEADER_LOW, Clue("header_low", 42.0, 90.0, "psi")),
        ({"dips_missing": 0.95}, Kind.NO_DIPS, Clue("no_dips", 0.95)),
        ({"dips_missing": 0.14}, Kind.SOME_DIPS_MISSING, Clue("some_dips_missing", 0.14)),
        ({"step_inh2o": -1.2}, Kind.STEP_DOWN, Clue("step_down", -1.2, None, "inH2O")),
        ({"flow_cfm": 9000.0}, Kind.FLOW_DOWN, Clue("flow_down", 9000.0, 20000.0, "cfm")),
        ({"residual_inh2o": 4.6}, Kind.RESIDUAL_UP, Clue("residual_up", 4.6, 4.0, "inH2O")),
        ({"others_alike": 2}, Kind.OTHERS_ALIKE, Clue("others_alike", 2.0, 3.0)),
        ({"fan_off_dp_inh2o": -0.8}, Kind.ZERO_OFF, Clue("zero_off", -0.8, None, "inH2O")),
        ({"noise_inh2o": 0.005}, Kind.NOISE_GONE, Clue("noise_gone", 0.005, 0.03, "inH2O")),
        ({"still_s": 90.0}, Kind.DP_STILL, Clue("dp_still", 90.0, None, "s")),
    ],
)
def test_a_clue_shows_with_its_figures(change, kind, clue):
    assert kind not in show(SOUND)
    assert show(SOUND._replace(**change))[kind] == clue


def test_what_is_not_known_shows_nothing():
    assert show(Symptoms()) == {}


def test_a_standing_fan_gives_an_honest_still_zero():
    assert Kind.DP_STILL not in show(SOUND._replace(fan=False, still_s=3600.0))


@given(ANY)
def test_a_clue_and_its_opposite_never_show_together(symptoms):
    shown = show(symptoms)

    for one, other in OPPOSITES:
        assert not (one in shown and other in shown), (one, other)


def parts(condition):
    yield condition
    match condition:
        case All(inner) | Either(inner):
            for part in inner:
                yield from parts(part)
        case Unless(part):
            yield from parts(part)


def test_every_condition_asks_for_what_the_symptoms_know():
    assert set(CONDITIONS) == set(Kind)
    for condition in CONDITIONS.values():
        for part in parts(condition):
            assert part.text()
            match part:
                case Beside() | Apart():
                    assert {part.name, part.usual} <= set(Symptoms._fields)
                case Amount() | Is():
                    assert part.name in Symptoms._fields


def test_the_table_names_every_rule_every_clue_and_every_source():
    text = table_text()

    for rule in RULES:
        assert f"| {rule.trouble.value} |" in text
        assert all(says.kind.value in text and says.source.value in text for says in rule.says)
    assert len({line.count("|") for line in text.splitlines() if line.startswith("|")}) == 2
