"""Clues: the condition behind each clue, as a table; and which of them show in the symptoms of one moment.

The limits are our choice unless a source stands beside them; each is wide enough that noise and the swing of an
ordinary day stay inside.
"""

from collections.abc import Callable, Mapping

from monitor.interpret.causes.conditions import (
    All,
    Amount,
    Apart,
    Beside,
    Condition,
    Either,
    Figures,
    Is,
    Named,
    Unless,
    Why,
)
from monitor.interpret.causes.kinds import Kind
from monitor.interpret.symptoms.conditions import EMPTY_PSI
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue
from monitor.words import Reason


def show(symptoms: Symptoms) -> Mapping[Kind, Clue]:
    """Return every clue that shows, in the order of the table, each with its figures."""
    found = ((kind, condition.find(symptoms)) for kind, condition in CONDITIONS.items())
    return {kind: Clue(kind.value, *figures) for kind, figures in found if figures is not None}


def _alike(symptoms: Symptoms) -> Figures | None:
    alike, others = symptoms.others_alike, symptoms.others
    return Figures(float(alike), float(others)) if alike > 0 and 2 * alike >= others else None


def _well(symptoms: Symptoms) -> Figures | None:
    alike, others = symptoms.others_alike, symptoms.others
    return Figures(float(others)) if others > 0 and alike == 0 else None


def _dips(least: float, under: float) -> Callable[[Symptoms], Figures | None]:
    """The share of pulses without a dip: of the present cleaning once it says enough, else of the last ones."""

    def answer(symptoms: Symptoms) -> Figures | None:
        due, seen, missing = symptoms.pulses_due, symptoms.dips_seen, symptoms.dips_missing
        if due is not None and seen is not None and due >= ENOUGH_PULSES:
            missing = max(0.0, 1.0 - seen / due)
        return Figures(missing) if missing is not None and least <= missing < under else None

    return answer


def _stepped_up(symptoms: Symptoms) -> Figures | None:
    step, moved = symptoms.step_inh2o or 0.0, _moved(symptoms)
    return Figures(max(step, moved), None, "inH2O") if step >= 0.4 or moved >= 0.8 else None


def _stepped_down(symptoms: Symptoms) -> Figures | None:
    if symptoms.fall_inh2o is not None:
        return Figures(-symptoms.fall_inh2o, symptoms.fall_from_inh2o, "inH2O")
    step, moved = symptoms.step_inh2o or 0.0, _moved(symptoms)
    # Pulses pull an inch in a minute at most; what does more since the minute before is no cleaning.
    if step <= -0.4 or moved <= -1.2:
        return Figures(min(step, moved), None, "inH2O")
    return None


def _moved(symptoms: Symptoms) -> float:
    """By how much the DP has moved since the last whole minute."""
    now, before = symptoms.now_inh2o, symptoms.dp_inh2o
    return 0.0 if now is None or before is None else now - before


#: Pulses after which the present cleaning speaks for itself.
ENOUGH_PULSES = 12

# From the second usual cleaning's time on the pulses have had their chance; the third part of "endless" is ours.
_HAD_ITS_TIME = Either((Is("stop_reached", wanted=False), Beside("cleaning_s", "cleaning_usual_s", least=1.5)))
_ENDLESS = All((Beside("cleaning_s", "cleaning_usual_s", least=3.0, unit="s"), Is("cleaning")))
_OVER_START = Amount("over_start_s", least=60.0, unit="s")
_NO_SAWTOOTH = Is("sawtooth", wanted=False)
_NO_RECOVERY = Is("header_recovers", wanted=False)
_EMPTY = Amount("header_psi", under=EMPTY_PSI, unit="psi")
_SILENT = (Reason.NO_CONNECTION, Reason.NO_ANSWER, Reason.STALE, Reason.EXCEPTION_CODE, Reason.MALFORMED_REPLY)


def _pulled(least: float, under: float) -> Condition:
    return Beside("pulled_inh2o", "pulled_usual_inh2o", least, under, "inH2O")


def _residual(least: float, under: float) -> Condition:
    return Apart("residual_inh2o", "residual_usual_inh2o", least, under, "inH2O")


def _header(least: float, under: float) -> Condition:
    return Beside("header_psi", "header_usual_psi", least, under, "psi")


def _flow(least: float, under: float) -> Condition:
    return Beside("flow_cfm", "flow_usual_cfm", least, under, "cfm")


def _rise(least: float, under: float) -> Condition:
    return Beside("rise_inh2o_min", "rise_usual_inh2o_min", least, under, "inH2O/min")


def _noise(least: float, under: float) -> Condition:
    return Beside("noise_inh2o", "noise_usual_inh2o", least, under, "inH2O")


_INF = float("inf")
_FAR_OFF = Either((_residual(0.3, _INF), _residual(-_INF, -0.3)))

CONDITIONS: Mapping[Kind, Condition] = {
    # An input card that ends at 20 mA shows a DP beyond the range as it shows a failed loop.
    Kind.LOOP_FAILED: Either(
        (
            Why((Reason.LOOP_FAILED_LOW, Reason.LOOP_FAILED_HIGH)),
            All((Why((Reason.LOOP_SATURATED,)), Unless(Beside("dp_inh2o", "dp_usual_inh2o", least=1.4)))),
        )
    ),
    Kind.LOOP_BELOW: Why((Reason.LOOP_BELOW_MEASURING,)),
    Kind.NO_REPLY: Why(_SILENT),
    # Readings that repeat exactly for so long are no process; a standing fan gives an honest, still zero.
    Kind.DP_STILL: All(
        (
            Either((Amount("still_s", least=60.0, unit="s"), Why((Reason.FROZEN,)))),
            Unless(Is("fan", wanted=False)),
        )
    ),
    Kind.SIGNAL_MOVES: All((Amount("still_s", under=30.0), Why((Reason.NONE,)))),
    Kind.OTHERS_ALIKE: Named(_alike, "at least half of the other collectors on the link show the same"),
    Kind.OTHERS_WELL: Named(_well, "none of the other collectors on the link shows the same"),
    Kind.FAN_STANDS: Is("fan", wanted=False),
    Kind.FAN_RUNS: Is("fan"),
    # Half a percent of a 0–10 in. transmitter is 0.05; twice that is safe.
    Kind.DP_NONE: Amount("now_inh2o", under=0.1, unit="inH2O", size=True),
    Kind.DP_NEGATIVE: Amount("now_inh2o", under=-0.1, unit="inH2O"),
    Kind.CLEANING_WITHOUT_EFFECT: All((_pulled(-_INF, 0.25), _HAD_ITS_TIME)),
    Kind.CLEANING_WEAK: All((_pulled(0.25, 0.6), _HAD_ITS_TIME)),
    Kind.CLEANING_DEEPER: All((_pulled(1.3, _INF), Is("stop_reached"))),
    Kind.CLEANING_WORKS: All((_pulled(0.6, _INF), Is("stop_reached"), Unless(_ENDLESS), Unless(_NO_SAWTOOTH))),
    Kind.CLEANING_ENDLESS: All((_ENDLESS, Unless(Is("stop_reached", wanted=False)))),
    Kind.CLEANING_SHORT_OF_STOP: All((_ENDLESS, Is("stop_reached", wanted=False))),
    # Only where the header is measured is it certain that nothing was pulsed.
    Kind.CLEANING_NOT_CALLED: All((_OVER_START, Is("cleaning", wanted=False), Amount("header_psi"))),
    Kind.CLEANING_NOT_SEEN: All((_OVER_START, Is("cleaning", wanted=False), Unless(Amount("header_psi")))),
    Kind.CLEANED_TOO_LOW: All(
        (Apart("now_inh2o", "residual_usual_inh2o", under=-0.3, unit="inH2O"), Is("cleaning"))
    ),
    Kind.SAWTOOTH_GONE: _NO_SAWTOOTH,
    Kind.PULSES_UNANSWERED: Is("answers_pulses", wanted=False),
    # The pulse-jet term of EPA/452/B-02-001, 6.08·V·Pj^-0.65, makes the residual DP 1.1 times the usual at 0.85.
    # What is usual or not: a pulse of so little air knocks nothing off (common practice, no source).
    Kind.HEADER_LOW: Either((_header(-_INF, 0.85), _EMPTY)),
    Kind.HEADER_SLOW: All((_header(0.0, _INF), _NO_RECOVERY)),
    # A pulse takes a share of what is there: weak dips are a weak header.
    Kind.DIPS_WEAK: Beside("dip_psi", "dip_usual_psi", under=0.7, unit="psi"),
    # Read too seldom to count dips, the header is told from a quarter of an hour, and may be lost since.
    Kind.HEADER_USUAL: All((_header(0.9, _INF), Amount("dips_missing"), Unless(_NO_RECOVERY), Unless(_EMPTY))),
    # A count by the clock may miss one pulse in nine; one dead valve of eight leaves out 0.125.
    Kind.NO_DIPS: Named(_dips(0.9, _INF), "hardly any pulse that was due dipped the header"),
    Kind.SOME_DIPS_MISSING: Named(
        _dips(0.12, 0.9), "0.12 to 0.9 of the pulses that were due did not dip the header"
    ),
    Kind.DIPS_USUAL: Named(_dips(-_INF, 0.11), "at most 0.11 of the pulses that were due did not dip the header"),
    Kind.RESIDUAL_UP: _residual(0.3, _INF),
    Kind.RESIDUAL_DOWN: _residual(-_INF, -0.3),
    Kind.RESIDUAL_USUAL: _residual(-0.3, 0.3),
    # 0.01 in. a day is an inch in a season; half of that is not worth a word.
    Kind.RESIDUAL_RISING: Amount("residual_slope_inh2o_d", least=0.01, unit="inH2O/d"),
    Kind.RESIDUAL_STEADY: Amount("residual_slope_inh2o_d", under=0.005, unit="inH2O/d"),
    Kind.CYCLES_OFTEN: Beside("cycles_h", "cycles_usual_h", least=1.5, unit="/h"),
    Kind.CYCLES_RARE: Beside("cycles_h", "cycles_usual_h", under=0.6, unit="/h"),
    # The controller still does its inch, only elsewhere: it sees another DP, or was set anew.
    Kind.CURVE_SHIFTED: All((_FAR_OFF, _pulled(0.75, 1.3), _rise(0.6, 1.5), Unless(_ENDLESS))),
    Kind.RISE_DOUBLED: _rise(2.0, _INF),
    Kind.RISE_FAST: _rise(1.4, 2.0),
    Kind.RISE_SLOW: All((_rise(-_INF, 0.6), Unless(_OVER_START))),
    # Above the start set point and hardly rising: something is still taken off, unseen.
    Kind.RISE_HELD: All((_rise(-_INF, 0.6), _OVER_START)),
    Kind.RISE_USUAL: _rise(0.75, 1.2),
    Kind.STEP_UP: Named(_stepped_up, "a step up of 0.4 inH2O, or 0.8 inH2O more than in the minute before"),
    Kind.STEP_DOWN: Named(
        _stepped_down, "a fall that stays, a step down of 0.4 inH2O, or 1.2 inH2O less than in the minute before"
    ),
    Kind.FLOW_UP: _flow(1.08, _INF),
    Kind.FLOW_DOWN: _flow(0.05, 0.8),
    Kind.FLOW_NONE: _flow(-_INF, 0.05),
    Kind.FLOW_USUAL: _flow(0.92, 1.08),
    Kind.DP_DRIFTED: Amount("wander_inh2o", least=0.4, unit="inH2O", size=True),
    # A fan that starts may leave a third of an inch in the last reading before it.
    Kind.ZERO_OFF: Amount("fan_off_dp_inh2o", least=0.5, unit="inH2O", size=True),
    Kind.ZERO_TRUE: Amount("fan_off_dp_inh2o", under=0.15, unit="inH2O", size=True),
    # Plain variance collapse: US 5,680,109 (expired). Exact repeats are another thing: a sensor has its own noise.
    Kind.NOISE_GONE: All((_noise(-_INF, 0.25), Unless(Amount("still_s", least=60.0, unit="s")))),
    # Every pulse shakes the DP: more noise than usual is more pulses than usual.
    Kind.NOISE_UP: _noise(1.6, _INF),
    Kind.NOISE_USUAL: All((_noise(0.5, 1.6), Amount("still_s", under=30.0))),
}
