"""Silence: a request that finds no answer, though its unit may answer others.

Some devices say nothing where others would answer with an exception, or hang up; a gateway may pass on one
table and not another. So silence is kept for each request. One that fell silent is *aside*: its points are
bad, and it is asked ever more rarely, until it answers. Pure: times are passed in.
"""

import random

from monitor.acquire.backoff import Backoff
from monitor.acquire.settings import LinkSettings, Protocol
from monitor.words import Failure

#: Whoever is silent is asked at least this often, scan seconds (or once a scan, where scans are rarer).
MOST_SILENT_S = 60.0
#: RTU framings: a silent request also costs the rest of its unit ``late_answer_s`` of quiet each time it is
#: asked; so the first wait is this many times as long.
TIMES_QUIET = 5.0


class Silence:
    """How one request fares.

    Attributes:
        aside: why it is not asked at every scan; None while it answers, or where nobody knows.
        alone: its unit answered others when this one fell silent.
        proven: it was answered the last time it was asked.
        due_s: while aside, the scan second from which it may be asked again.
    """

    __slots__ = ("_backoff", "alone", "aside", "due_s", "proven")

    def __init__(self, link: LinkSettings, dice: random.Random) -> None:
        quiet_s = 0.0 if link.protocol is Protocol.TCP else TIMES_QUIET * link.late_answer_s
        self._backoff = Backoff(max(link.scan_period_s, quiet_s), MOST_SILENT_S, dice)
        self.aside: Failure | None = None
        self.alone = False
        self.proven = False
        self.due_s = 0.0

    def begins(self, failure: Failure, now_s: float, *, alone: bool) -> None:
        """It was not answered: leave it alone, where it was silent alone for longer than the last time."""
        self.aside = failure
        self.alone = alone
        self.proven = False
        self.due_s = now_s + self._backoff.wait_s() if alone else now_s

    def ends(self) -> None:
        """It was answered."""
        self.proven = True
        if self.aside is not None:
            self.aside = None
            self._backoff.reset()

    def is_open_again(self) -> None:
        """Its unit is back after having been silent as a whole: nobody knows yet whether this one is, too."""
        if not self.alone:
            self.aside = None
