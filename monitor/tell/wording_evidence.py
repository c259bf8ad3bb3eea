"""Wording evidence: each clue as half a sentence, with what was measured and what it usually is."""

from collections.abc import Mapping
from typing import NamedTuple

from monitor.interpret.causes.kinds import Kind
from monitor.tell.notation import duration, figure
from monitor.troubles import Clue


class Phrase(NamedTuple):
    """A clue without figures, and with them: ``{now}`` is what was measured, ``{usual}`` the comparison if any."""

    plain: str
    measured: str = ""


PHRASES: Mapping[Kind, Phrase] = {
    Kind.LOOP_FAILED: Phrase("the loop current signals a failure"),
    Kind.LOOP_BELOW: Phrase("the loop current says below zero"),
    Kind.NO_REPLY: Phrase("no fresh value comes"),
    Kind.DP_STILL: Phrase("the DP no longer moves", "the DP has not moved for {now}"),
    Kind.SIGNAL_MOVES: Phrase("the DP signal moves"),
    Kind.OTHERS_ALIKE: Phrase("others on the link show the same", "{now}{usual} others on the link show the same"),
    Kind.OTHERS_WELL: Phrase("the others on the link are well"),
    Kind.FAN_STANDS: Phrase("the fan stands still"),
    Kind.FAN_RUNS: Phrase("the fan runs"),
    Kind.DP_NONE: Phrase("no DP", "DP {now}{usual}"),
    Kind.DP_NEGATIVE: Phrase("the DP is negative", "DP {now}{usual}"),
    Kind.CLEANING_WITHOUT_EFFECT: Phrase(
        "cleaning does not pull the DP down", "cleaning pulls the DP down by only {now}{usual}"
    ),
    Kind.CLEANING_WEAK: Phrase(
        "cleaning pulls the DP down too little", "cleaning pulls the DP down by {now}{usual}"
    ),
    Kind.CLEANING_DEEPER: Phrase(
        "cleaning pulls the DP down further than usual", "cleaning pulls the DP down by as much as {now}{usual}"
    ),
    Kind.CLEANING_WORKS: Phrase("cleaning works", "cleaning works: it pulls the DP down by {now}{usual}"),
    Kind.CLEANING_ENDLESS: Phrase("cleaning does not end", "cleaning has gone on for {now}{usual}"),
    Kind.CLEANING_NOT_CALLED: Phrase(
        "cleaning is not called for", "above the start set point for {now}, and cleaning is not called for"
    ),
    Kind.CLEANING_NOT_SEEN: Phrase(
        "no cleaning is seen in the DP", "above the start set point for {now}, and no cleaning is seen in the DP"
    ),
    Kind.CLEANED_TOO_LOW: Phrase(
        "cleaning goes on below where it usually ends", "cleaning goes on at {now}{usual} at its end"
    ),
    Kind.CLEANING_SHORT_OF_STOP: Phrase(
        "cleaning does not come down to its stop", "{now} of cleaning{usual}, and its stop is not reached"
    ),
    Kind.SAWTOOTH_GONE: Phrase("the sawtooth of cleaning is gone"),
    Kind.PULSES_UNANSWERED: Phrase("the DP does not answer pulses"),
    Kind.HEADER_LOW: Phrase("header pressure low", "header {now}{usual}"),
    Kind.HEADER_SLOW: Phrase(
        "the header does not recover between pulses", "the header does not recover between pulses, {now}{usual}"
    ),
    Kind.DIPS_WEAK: Phrase("pulses dip the header too little", "pulses dip the header by only {now}{usual}"),
    Kind.HEADER_USUAL: Phrase("header pressure as usual", "header as usual, {now}"),
    Kind.NO_DIPS: Phrase("pulses do not dip the header"),
    Kind.SOME_DIPS_MISSING: Phrase(
        "some pulses do not dip the header", "{now} of the pulses do not dip the header"
    ),
    Kind.DIPS_USUAL: Phrase("every pulse dips the header"),
    Kind.RESIDUAL_UP: Phrase("residual DP up", "residual DP {now}{usual}"),
    Kind.RESIDUAL_DOWN: Phrase("residual DP down", "residual DP {now}{usual}"),
    Kind.RESIDUAL_USUAL: Phrase("residual DP as usual", "residual DP {now}{usual}"),
    Kind.RESIDUAL_RISING: Phrase("residual DP rising for weeks", "residual DP rising by {now} for weeks"),
    Kind.RESIDUAL_STEADY: Phrase("residual DP steady for weeks"),
    Kind.CYCLES_OFTEN: Phrase("cleaned more often than usual", "cleaned {now}{usual}"),
    Kind.CYCLES_RARE: Phrase("cleaned less often than usual", "cleaned only {now}{usual}"),
    Kind.CURVE_SHIFTED: Phrase(
        "the whole sawtooth has moved", "the whole sawtooth has moved: residual DP {now}{usual}"
    ),
    Kind.RISE_FAST: Phrase("the DP rises fast", "the DP rises by {now}{usual}"),
    Kind.RISE_DOUBLED: Phrase("the DP rises twice as fast as usual", "the DP rises by {now}{usual}"),
    Kind.RISE_SLOW: Phrase("the DP rises slowly", "the DP rises by only {now}{usual}"),
    Kind.RISE_HELD: Phrase("the DP is high and hardly rises", "the DP is high and rises by only {now}{usual}"),
    Kind.RISE_USUAL: Phrase("the DP rises as fast as usual"),
    Kind.STEP_UP: Phrase("the DP stepped up", "the DP stepped up by {now}"),
    Kind.STEP_DOWN: Phrase("the DP stepped down", "the DP stepped down by {now}{usual}"),
    Kind.FLOW_UP: Phrase("more air than usual", "air flow {now}{usual}"),
    Kind.FLOW_DOWN: Phrase("less air than usual", "air flow only {now}{usual}"),
    Kind.FLOW_NONE: Phrase("no air flow", "air flow {now}{usual}"),
    Kind.FLOW_USUAL: Phrase("air flow as usual", "air flow as usual, {now}"),
    Kind.DP_DRIFTED: Phrase("the DP drifts", "the DP drifted by {now} without cleaning"),
    Kind.ZERO_OFF: Phrase("the DP is not zero with the fan off", "DP {now} with the fan off"),
    Kind.ZERO_TRUE: Phrase("the DP is zero with the fan off"),
    Kind.NOISE_GONE: Phrase("the signal has gone still", "noise of the DP only {now}{usual}"),
    Kind.NOISE_UP: Phrase("the DP is more restless than usual", "noise of the DP {now}{usual}"),
    Kind.NOISE_USUAL: Phrase("the noise of the DP is as usual"),
}

#: Clues that early warnings bring and no rule asks for.
_OF_SIGNS: Mapping[str, Phrase] = {
    "residual_at_limit": Phrase("the residual DP is at the limit", "residual DP {now} is at the change-out limit"),
    "days_to_change_out": Phrase("the change-out limit is near", "{now} to the change-out limit"),
}
#: Half an hour that was cleaned, instead of how long one cleaning took.
_BUSY = Phrase("cleaning does not end", "cleaned for {now} of the last half hour{usual}")
_WITHOUT_SIGN = frozenset({Kind.STEP_UP, Kind.STEP_DOWN, Kind.DP_DRIFTED})
_SHARES = frozenset({Kind.CLEANING_ENDLESS, Kind.NO_DIPS, Kind.SOME_DIPS_MISSING, Kind.DIPS_USUAL})
_KINDS = frozenset(kind.value for kind in Kind)


def evidence(clue: Clue) -> str:
    """Return the clue as half a sentence; of a kind that is not known its name and figures."""
    phrase = _phrase(clue)
    if clue.value is None or not phrase.measured:
        return phrase.plain
    value = abs(clue.value) if clue.kind in _WITHOUT_SIGN else clue.value
    return phrase.measured.format(now=_amount(clue, value), usual=_usual(clue))


def _phrase(clue: Clue) -> Phrase:
    if clue.kind == Kind.CLEANING_ENDLESS and not clue.unit:
        return _BUSY
    if clue.kind in _KINDS:
        return PHRASES[Kind(clue.kind)]
    name = clue.kind.replace("_", " ")
    return _OF_SIGNS.get(clue.kind, Phrase(name, name + " {now}{usual}"))


def _usual(clue: Clue) -> str:
    if clue.usual is None:
        return ""
    between = {Kind.OTHERS_ALIKE.value: " of", Kind.STEP_DOWN.value: " from"}.get(clue.kind, ", usually")
    return f"{between} {_amount(clue, clue.usual)}"


def _amount(clue: Clue, value: float) -> str:
    match clue.unit:
        case "s":
            return duration(round(value))
        case "d":
            return f"{round(value)} days"
        case "/h":
            return f"{round(value, 1):g} times an hour"
        case "cfm" | "psi":
            return f"{round(value):,} {clue.unit}"
        case "inH2O/d" | "inH2O/min":
            return f"{figure(value)} inH2O {'a day' if clue.unit == 'inH2O/d' else 'a minute'}"
        case "":
            return f"{round(100.0 * value)} %" if clue.kind in _SHARES else figure(value)
        case other:
            return f"{figure(value)} {other}"
