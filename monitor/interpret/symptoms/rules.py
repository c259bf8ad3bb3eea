"""Rules: when each early warning stands, as one table that can be read and printed.

Each rule is judged once a minute, while the fan runs and has settled, on the symptoms of that minute. A sign
stands when its condition has been seen for ``after_s``, and goes when its opposite has been seen for ``clear_s``,
both in seconds of running without a break between; in between it stays as it is.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from monitor.interpret.symptoms import conditions
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue, Sign


class Rule(NamedTuple):
    """When one sign stands, and when it goes.

    Attributes:
        shows, ends: the condition and its opposite, in words.
        find: the figures that show it; None where it does not show, or is not known.
        is_over: whether the opposite is seen.
        after_s, clear_s: for how long each, seconds of running; our choice.
        source: where the idea comes from.
        timed_after_s: ``after_s`` where the rows are pulsed by the clock; None: the same.
    """

    shows: str
    ends: str
    find: Callable[[Symptoms], Clue | None]
    is_over: Callable[[Symptoms], bool]
    after_s: float
    clear_s: float
    source: str
    timed_after_s: float | None = None


_OURS = "our choice"

RULES: Mapping[Sign, Rule] = {
    Sign.CLEANING_WITHOUT_EFFECT: Rule(
        shows=(
            "a cleaning has lasted half as long again as usual (2 min at least), has pulled less than a tenth of "
            "the usual, and the DP is 0.3 inH2O above its usual peak; or it has lasted three times the usual "
            "(3 min at least), has pulled less than half, and the DP is as high; or it has lasted six times the "
            "usual (15 min at least) and has pulled less than a quarter (before anything is usual: half an hour, "
            "less than 0.3 inH2O); or, where no signal and no header says that it is cleaned, the DP has been "
            "0.5 inH2O above the start set point for half as long again as a usual cleaning (3 min at least); or, "
            "with timed cleaning, for ten minutes every round of the rows has pulled less than a third of the "
            "usual and the DP was 1.25 inH2O and 60 % above its usual"
        ),
        ends="a cleaning came down to the stop set point (the usual residual), and none is overdue",
        find=conditions.no_effect,
        is_over=conditions.has_effect,
        after_s=60.0,
        clear_s=600.0,
        source="common practice for the idea, figures our choice",
        timed_after_s=600.0,
    ),
    Sign.CLEANING_TOO_OFTEN: Rule(
        shows=(
            "three times as many cleanings an hour as usual (load swings of a factor two are healthy), three "
            "cycles back at least; or it was cleaned for nine tenths of the last half hour, and usually for less "
            "than a quarter, or with the DP below 0.8 of its usual residual already"
        ),
        ends="less than twice as many as usual, and less than seven tenths of the half hour",
        find=conditions.too_often,
        is_over=conditions.not_too_often,
        after_s=600.0,
        clear_s=1800.0,
        source=_OURS,
    ),
    Sign.HEADER_NOT_RECOVERING: Rule(
        shows=(
            "the header pressure does not come back to 0.9 of its usual before the next pulse, or its highest "
            "within a minute is below 0.85 of what it usually is in the same condition (in a cleaning, or "
            "between), or below 30 psi"
        ),
        ends="its highest within a minute is at 0.92 of its usual again, and it comes back between pulses",
        find=conditions.header_low,
        is_over=conditions.header_back,
        after_s=120.0,
        clear_s=600.0,
        source=_OURS,
    ),
    Sign.DP_STEPPED_DOWN: Rule(
        shows=(
            "the DP fell within three parcels by 0.2 inH2O, by 5 % and by four times its noise, with neither "
            "cleaning nor a fall of the air flow to explain it, and half of it has not come back within ten "
            "minutes; 0.5 inH2O and 12 % where readings come more rarely than every 7 s; 0.8 inH2O, and to below "
            "any residual DP of the last days or by six pulses' worth, while it is cleaned or nothing tells of it"
        ),
        ends="a step back up, or an hour of running after a stop long enough for a repair (30 min)",
        find=conditions.stepped_down,
        is_over=conditions.not_stepped_down,
        after_s=0.0,
        clear_s=0.0,
        source="torn bags lower the DP at once: from memory of common practice; figures our choice",
    ),
    Sign.SIGNAL_STILL: Rule(
        shows=(
            "the variance of ten minutes is below a ninth of the calmest ten minutes of usual half days, with the "
            "DP above 0.4 of its usual (a low DP is a calm one); or the DP repeats itself exactly for five times "
            "as long as it ever does in one (2 min at least); or five minutes of pulses left it within a tenth of "
            "the usual pull, above 0.75 of its usual, calmer than the calmest (0.8 of its standard deviation), "
            "though pulses make it restless"
        ),
        ends="the variance is above a half of the calmest, and the repeats are as short as usual",
        find=conditions.still,
        is_over=conditions.moving,
        after_s=0.0,
        clear_s=600.0,
        source="plain variance collapse, as in US patent 5,680,109 of 1996 (its term is over); figures our choice",
    ),
}
