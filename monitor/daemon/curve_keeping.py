"""Curve keeping: when what was read from the collectors' curves is written down.

It is some kilobytes for each and changes all the time, so it is written rarely, to spare flash memory; but at once
where a set of filters begins its life or an early warning comes, because nobody would say that twice.
"""

from collections.abc import Mapping

from monitor.daemon.snapshot_curve import curve_key, write_curve
from monitor.interpret.curve import CurveState
from monitor.scan.state import CollectorState

#: How often one collector's curve is written down, seconds; when the daemon stops it is in any case.
EVERY_S = 600.0
#: Of how many collectors at once.
AT_ONCE = 5


class CurveKeeping:
    """Knows when each collector's turn has come."""

    def __init__(self) -> None:
        self._due_s: dict[str, float] = {}

    def due(self, states: Mapping[str, CollectorState], now_s: float) -> dict[str, str]:
        """The texts that are to be written now, by key."""
        for place, name in enumerate(states):
            # Spread over the first period, so that a thousand do not come at once.
            self._due_s.setdefault(name, now_s + EVERY_S * (place % 100 + 1) / 100)
        some = [name for name, due_s in self._due_s.items() if due_s <= now_s and name in states][:AT_ONCE]
        self._due_s |= dict.fromkeys(some, now_s + EVERY_S)
        return {curve_key(name): write_curve(states[name].curve) for name in some}


def begun(name: str, before: CollectorState, state: CollectorState) -> dict[str, str]:
    """What must be written down at once: a set of filters began its life, or an early warning came or went.

    A warning's alarm is written at once; read again without what it stands on, it would be over.
    """
    was, now = before.curve, state.curve
    if was is now or (was.signs is now.signs and was.ageing is now.ageing) or _lasting(was) == _lasting(now):
        return {}
    return {curve_key(name): write_curve(now)}


def _lasting(read: CurveState) -> tuple[object, ...]:
    """What nobody would say twice."""
    return read.ageing.since_utc_s, read.ageing.noticed, [sign for sign, _ in read.signs]
