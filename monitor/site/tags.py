"""Tags: those of the alarms that the file may leave to a default."""

from collections.abc import Mapping

from monitor.site.shape.links import Link
from monitor.site.shape.phone import Phone
from monitor.site.shape.whole import Collector
from monitor.troubles import Sign


def bad_signal_tag(collector: Collector) -> str:
    """Return the tag of the alarm for a DP that cannot be trusted."""
    return collector.bad_signal.tag or f"{collector.dp.tag}-BAD"


#: What stands behind the tag of the DP, where the file gives an early warning none of its own.
_WORD_OF_SIGN: Mapping[Sign, str] = {
    Sign.CLEANING_WITHOUT_EFFECT: "NO-EFFECT",
    Sign.CLEANING_TOO_OFTEN: "OFTEN",
    Sign.HEADER_NOT_RECOVERING: "HEADER",
    Sign.DP_STEPPED_DOWN: "STEP",
    Sign.SIGNAL_STILL: "STILL",
    Sign.CHANGE_OUT_DUE: "CHANGE",
}


def warning_tag(collector: Collector, sign: Sign) -> str:
    """Return the tag of the alarm of an early warning."""
    return collector.early_warnings[sign].tag or f"{collector.dp.tag}-{_WORD_OF_SIGN[sign]}"


def lost_tag(name: str, link: Link) -> str:
    """Return the tag of the alarm of a lost link."""
    return link.lost.tag or f"{name}-LOST"


def unreached_tag(phone: Phone) -> str:
    """Return the tag of the alarm for nobody who could be reached."""
    return phone.unreached.tag or "PHONE-UNREACHED"
