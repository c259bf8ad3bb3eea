"""Wording of messages: what a person reads on the phone: pure, one full form and one for text messages."""

from monitor.tell.phone.wording_context import MessageContext, StandNow, Text
from monitor.tell.phone.wording_full import full
from monitor.tell.phone.wording_short import LINK_MOST, SHORT, fits, short
from monitor.tell.phone.wording_trend import trend_words

__all__ = ["LINK_MOST", "SHORT", "MessageContext", "StandNow", "Text", "fits", "full", "short", "trend_words"]
