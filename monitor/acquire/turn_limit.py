"""Turn limit: how long may a worker take to come round while all is well with it?"""

from collections.abc import Collection

from monitor.acquire.connection import open_limit_s
from monitor.acquire.conversation import MOST_PROOFS
from monitor.acquire.settings import LinkSettings
from monitor.acquire.unit import Unit

#: What a turn may take beyond all time limits that can run out in it, real seconds.
TURN_SLACK_S = 5.0


def turn_limit_s(link: LinkSettings, units: Collection[Unit], rest_s: float) -> float:
    """Return the longest a turn can take, real seconds.

    Every block, every proof, the one silent request more, the writes after the scan and every reopening may run
    out their time; then comes one slice of rest.
    """
    asked_s = link.timeout_s * (2 + sum(len(unit.requests) + MOST_PROOFS for unit in units))
    opened_s = open_limit_s(link) * (3 + len(units))
    return asked_s + opened_s + rest_s + TURN_SLACK_S
