"""Wording checks: the first thing to look at when an alarm is raised, for each condition.

A check names where to look, never what is broken: the alarm knows a pressure or a missing signal, not its cause.
Each fits what one person can see at night from outside, in the order in which it is quickly done. Nothing here is
a work instruction; where the next step would be to open something, the words say what must come before.
"""

from collections.abc import Mapping
from typing import NamedTuple

from monitor.tell.wording_phrases import reason_of
from monitor.words import Event, Reason


class Check(NamedTuple):
    """Where to look first, and who says so."""

    look: str
    source: str


class About(NamedTuple):
    """What a band warns of: which side, and whether the residual DP (what cleaning leaves) is judged."""

    side: str
    residual: bool


# Pressure, hopper and a smouldering cake are what hurts people at a collector (OSHA 29 CFR 1910.147(d)(5):
# stored energy; 1910.146: permit spaces), so wherever a check leads to a cover the lock-out stands beside it.
_PRACTICE = "common practice, no source"
_DERIVED = "follows from DP = drag × flow and the shape of the curve; common practice, no source"

BANDS: Mapping[About, Check] = {
    About("above", residual=False): Check(
        "compressed air, cleaning, hopper, from outside; do not open without lock-out",
        _DERIVED,
    ),
    About("below", residual=False): Check(
        "fan, dampers, loose or open DP tubes, dust at the outlet (torn bag)",
        _DERIVED,
    ),
    About("above", residual=True): Check(
        "pulse pressure, moist air, age of the filters; do not open without lock-out",
        _DERIVED,
    ),
    About("below", residual=True): Check(
        "dust at the outlet (torn bag), cleaning too often, loose or open DP tubes",
        _DERIVED,
    ),
}

SIGNAL: Mapping[Reason, Check] = {
    Reason.NONE: Check("the transmitter's own display", _PRACTICE),
    Reason.NOT_YET_READ: Check("power of the gateway, its cable, its address", _PRACTICE),
    Reason.NO_CONNECTION: Check("power of the gateway, its cable, its address", _PRACTICE),
    Reason.NO_ANSWER: Check("power of the device, its cable, its unit number", _PRACTICE),
    Reason.EXCEPTION_CODE: Check(
        "the address in the site file against the device's register list",
        "Modbus Application Protocol V1.1b3 §7",
    ),
    Reason.MALFORMED_REPLY: Check("two devices with one unit number, line settings, shield", _PRACTICE),
    Reason.LOOP_BELOW_MEASURING: Check("zero of the transmitter, swapped DP tubes, loop supply", "NAMUR NE 43"),
    Reason.LOOP_ABOVE_MEASURING: Check("a second DP gauge, then the loop's wiring", "NAMUR NE 43"),
    Reason.LOOP_SATURATED: Check("a second DP gauge, then the loop's wiring", _PRACTICE),
    Reason.LOOP_FAILED_LOW: Check("loose or wet terminals, loop supply, then the transmitter", "NAMUR NE 43"),
    Reason.LOOP_FAILED_HIGH: Check("water or a short in the terminals, then the transmitter", "NAMUR NE 43"),
    Reason.OUT_OF_RANGE: Check("the transmitter's own display, its range in the site file", _PRACTICE),
    Reason.NOT_A_NUMBER: Check("the transmitter's own display, encoding in the site file", _PRACTICE),
    Reason.STALE: Check("power of the gateway and the device, their cables", _PRACTICE),
    Reason.FROZEN: Check("the transmitter's own display, then plugged DP tubes", _PRACTICE),
}

LINK = Check("power of the gateway, its cable, its address", _PRACTICE)


def first_check(event: Event) -> str:
    """Where to look first, as half a sentence; empty where nothing is known of the condition."""
    match event.facts.get("condition"):
        case "link_lost":
            return LINK.look
        case "bad_signal":
            return SIGNAL[reason_of(event) or Reason.NONE].look
    judged, side = str(event.facts.get("judged")), str(event.facts.get("side"))
    check = BANDS.get(About(side, judged == "residual"))
    return "" if check is None else check.look
