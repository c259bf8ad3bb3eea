"""Wording causes: what may be behind an alarm, why it is thought so, and where to look first.

Each look can be taken by one person at night, from outside. Nothing here is a work instruction: where the next
step would open, enter or start something, a caution says what must come before, and who may do it.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from monitor.report.trouble_names import NAMES
from monitor.tell.wording_evidence import evidence
from monitor.tell.wording_phrases import one_line
from monitor.troubles import Clue, Suspicion, Trouble

#: From this share on the first is called likely, below it possible (our choice).
LIKELY = 0.6
#: So many characters fit into a text message.
SHORT = 160


class FirstCheck(NamedTuple):
    """Where to look first, what may hurt there, and who says so."""

    look: str
    caution: str
    source: str


# OSHA 29 CFR 1910.147 (lock-out; (d)(5) stored energy), 1910.146 (permit spaces), NFPA 660 (combustible dust).
_OPEN = "never open or enter on this message; lock-out, confined space, combustible dust"
_AIR = "the header holds pressure even when shut off; lock out and bleed before any work"
_HOPPER = "never open, knock or enter: dust can rush out, burn or bury; lock-out, confined space"
_FAN = "do not restart before the reason is known; heat, sparks or smoke: leave it off and call"
_LIVE = "the cleaning controller may act on the same signal; live terminals only by licensed people"
_TUBE = "the cleaning controller may act on the same tubes; dust may blow out of an open one"
#: Under every caution.
DEFERS = "local codes and licensed people decide"

_EPA = "EPA manuals' operation and maintenance lists, from memory"
_PRACTICE = "common practice, no source"

CHECKS: Mapping[Trouble, FirstCheck] = {
    Trouble.BLINDING: FirstCheck("age of the filters and the residual DP of the last weeks", _OPEN, _EPA),
    Trouble.MOISTURE: FirstCheck("water in the compressed air, wet or cold inlet air", _OPEN, _EPA),
    Trouble.TORN_BAG: FirstCheck("dust at the outlet, leak detector", _OPEN, "40 CFR 63.7331 and like subparts"),
    Trouble.HEADER_PRESSURE_LOST: FirstCheck(
        "header gauge, compressor, supply valve, regulator", _AIR, "40 CFR 63.1547(c)"
    ),
    Trouble.VALVE_DEAD: FirstCheck("listen along the valves for the one that does not pulse", _AIR, _PRACTICE),
    Trouble.PULSES_DEAD: FirstCheck("power and display of the cleaning controller", _AIR, _EPA),
    Trouble.OVER_CLEANING: FirstCheck("cleaning controller: set points, manual mode", _AIR, _PRACTICE),
    Trouble.DUCT_BLOCKED: FirstCheck("dampers, hoods, dust lying in the duct", _OPEN, _EPA),
    Trouble.FAN_STOPPED: FirstCheck("fan: trip, motor, belt", _FAN, _PRACTICE),
    Trouble.HOPPER_BRIDGED: FirstCheck("hopper level, discharge and conveyor, from outside", _HOPPER, _EPA),
    Trouble.TAP_PLUGGED: FirstCheck("a second DP gauge, then both DP tubes for dust or water", _TUBE, _PRACTICE),
    Trouble.TAP_HOSE_OFF: FirstCheck("both DP tubes: off, split, swapped", _TUBE, _PRACTICE),
    Trouble.ZERO_DRIFT: FirstCheck("a second DP gauge; with the fan standing it must say 0", _LIVE, _PRACTICE),
    Trouble.LOOP_OPEN: FirstCheck("terminals, loop supply, transmitter display", _LIVE, "NAMUR NE 43"),
    Trouble.GATEWAY_FROZEN: FirstCheck("gateway: power, lights, cable", _LIVE, _PRACTICE),
    Trouble.DUST_LOAD_UP: FirstCheck("what changed in the process: feed, product, hoods", _OPEN, _EPA),
    Trouble.FLOW_UP: FirstCheck("fan speed and dampers: what was opened", _OPEN, "derived from ΔP = S·V"),
}


def cause_sentence(suspicions: Sequence[Suspicion], otherwise: str = "") -> str:
    """Return what is likely and why, what else it may be, where to look first, and with what caution.

    Args:
        suspicions: as ranked, the likeliest first.
        otherwise: where to look where the evidence does not tell, as half a sentence (``first_check``).
    """
    if not suspicions:
        return cannot_tell(otherwise)
    check = CHECKS[suspicions[0].trouble]
    return f"{listed(suspicions)}. Check first: {check.look}. Caution: {check.caution}; {DEFERS}."


def listed(suspicions: Sequence[Suspicion]) -> str:
    """Return what is likely and why, and what else it may be; of one suspicion at least."""
    return "; or ".join([_first(suspicions[0]), *map(_other, suspicions[1:])])


def cause_short(suspicions: Sequence[Suspicion], otherwise: str = "") -> str:
    """Return the same in at most 160 characters: the names, and the first check."""
    if not suspicions:
        return one_line(cannot_tell(otherwise), SHORT)
    check = f". Check first: {CHECKS[suspicions[0].trouble].look}"
    names = _surely(suspicions[0]) + NAMES[suspicions[0].trouble]
    for other in suspicions[1:]:
        longer = f"{names}; or {NAMES[other.trouble]}"
        names = longer if len(longer) + len(check) <= SHORT else names
    return one_line(names + check, SHORT)


def cannot_tell(otherwise: str = "") -> str:
    """Return what is said where nothing stands out."""
    look = otherwise or "the collector from outside, and a second DP gauge"
    return f"The evidence does not tell; check first: {look}."


def _first(suspicion: Suspicion) -> str:
    but = f"; but {evidence(suspicion.against[0])}" if suspicion.against else ""
    return f"{_surely(suspicion)}{NAMES[suspicion.trouble]}{_because(suspicion.clues[:3])}{but}"


def _other(suspicion: Suspicion) -> str:
    return f"{NAMES[suspicion.trouble]}{_because(suspicion.clues[:1])}"


def _surely(suspicion: Suspicion) -> str:
    return "Likely: " if suspicion.share >= LIKELY else "Possibly: "


def _because(clues: Sequence[Clue]) -> str:
    return f" ({'; '.join(map(evidence, clues))})" if clues else ""
