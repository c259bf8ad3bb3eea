"""Backlog: where every outlet's cursor stands and how much lies before it; in memory, so asking costs nothing.

Two plain arrays hold number and moment of every event that somebody has not confirmed: 16 bytes an event.
"""

import threading
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping

from monitor.figures import OutletFigures

#: Confirmed entries are cut off in lumps of this size, for cutting moves all that follow.
_LUMP = 1_000


class Backlog:
    """Every outlet's cursor; safe to use from the loop and from the writer.

    Args:
        positions: outlet → the last event it confirmed.
        stamps: number and Unix seconds of every event after the lowest cursor, in order.
    """

    def __init__(self, positions: Mapping[str, int], stamps: Iterable[tuple[int, float]]) -> None:
        self._lock = threading.Lock()
        self._positions = dict(positions)
        self._seqs = array("q")
        self._moments = array("d")
        for seq, at_utc_s in stamps:
            self.add(seq, at_utc_s)

    def add(self, seq: int, at_utc_s: float) -> None:
        """One more event, after all others."""
        if not self._positions:
            return
        with self._lock:
            self._seqs.append(seq)
            self._moments.append(at_utc_s)

    def position(self, outlet: str) -> int:
        """The last event the outlet confirmed.

        Raises:
            KeyError: the store was opened without it.
        """
        return self._positions[outlet]

    def positions(self) -> dict[str, int]:
        """Outlet → the last event it confirmed."""
        with self._lock:
            return dict(self._positions)

    def confirm(self, outlet: str, seq: int) -> bool:
        """Move a cursor on; False if it stood there or further already."""
        with self._lock:
            if seq <= self._positions[outlet]:
                return False
            self._positions[outlet] = seq
            self._cut()
            return True

    def _cut(self) -> None:
        done = bisect_right(self._seqs, min(self._positions.values()))
        if done >= _LUMP or done == len(self._seqs):
            del self._seqs[:done], self._moments[:done]

    def forget(self, seqs: Iterable[int]) -> None:
        """These events are lost: nobody will ever be told them."""
        with self._lock:
            for seq in seqs:
                place = bisect_left(self._seqs, seq)
                if place < len(self._seqs) and self._seqs[place] == seq:
                    del self._seqs[place], self._moments[place]

    def unconfirmed(self) -> list[int]:
        """The events that at least one outlet has not confirmed, in order."""
        with self._lock:
            lowest = min(self._positions.values(), default=0)
            return self._seqs[bisect_right(self._seqs, lowest) :].tolist()

    def figures(self) -> dict[str, OutletFigures]:
        """Outlet → how far it is behind."""
        with self._lock:
            return {outlet: self._behind(seq) for outlet, seq in self._positions.items()}

    def _behind(self, seq: int) -> OutletFigures:
        first = bisect_right(self._seqs, seq)
        count = len(self._seqs) - first
        return OutletFigures(backlog=count, oldest_utc_s=self._moments[first] if count else None)
