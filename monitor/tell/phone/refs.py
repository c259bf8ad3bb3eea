"""Refs: the short name of a message, the same whenever the same message is made again."""

import base64
from collections.abc import Iterable
from hashlib import sha256

#: Characters of five bits each: among a thousand messages at once two are alike with a chance of 1 in 2 million.
_LENGTH = 8


def ref_of(kind: str, person: str, salt: str, event_ids: Iterable[str]) -> str:
    """Eight capital letters and digits 2 to 7 (RFC 4648 base32: neither 0 nor 1 to be misread).

    Args:
        kind: of the message.
        person: for whom it is.
        salt: the step or number that tells it from another about the same alarms.
        event_ids: of all alarms that it tells, in any order.
    """
    told = "\n".join((kind, person, salt, *sorted(event_ids)))
    return base64.b32encode(sha256(told.encode()).digest()).decode()[:_LENGTH]
