"""Tally: what a link's worker counts about itself."""

from bisect import bisect_left
from itertools import accumulate

from monitor.acquire.requests import Reply
from monitor.figures import LinkFigures
from monitor.words import Failure, Instant, Reason

#: Upper bounds of the round-trip histogram, seconds; what took longer is in the total alone.
BUCKETS_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)


class Tally:
    """Running counts of one link; ``figures`` is the frozen picture of them."""

    def __init__(self, link: str) -> None:
        self.link = link
        self.scans = 0
        self._requests = 0
        self._failures: dict[Reason, int] = {}
        self._in_bucket = [0] * (len(BUCKETS_S) + 1)
        self._round_trip_sum_s = 0.0
        self._last_error = ""
        self._writes = self._write_failures = 0

    def count(self, reply: Reply, round_trip_s: float) -> None:
        """Count one request and what came of it."""
        self._requests += 1
        if reply.answered:
            self._in_bucket[bisect_left(BUCKETS_S, round_trip_s)] += 1
            self._round_trip_sum_s += round_trip_s
        if reply.failure is not None:
            self.fail(reply.failure)

    def count_write(self, output: str, reply: Reply) -> None:
        """Count one write of an output and what came of it."""
        self._writes += 1
        if reply.failure is not None:
            self._write_failures += 1
            self._last_error = f"writing {output}: {reply.failure.detail}"

    def fail(self, failure: Failure) -> None:
        """Count one failure, of a request or of an attempt to connect."""
        self._failures[failure.reason] = self._failures.get(failure.reason, 0) + 1
        self._last_error = failure.detail

    def figures(
        self,
        *,
        connected: bool,
        turned_at: Instant,
        turn_limit_s: float,
        silent_units: tuple[int, ...],
        unwritten: tuple[str, ...] = (),
    ) -> LinkFigures:
        """Return the picture of this moment."""
        return LinkFigures(
            link=self.link,
            connected=connected,
            turned_at=turned_at,
            turn_limit_s=turn_limit_s,
            scans=self.scans,
            requests=self._requests,
            failures=dict(self._failures),
            round_trip_buckets=dict(zip(BUCKETS_S, accumulate(self._in_bucket), strict=False)),
            round_trip_sum_s=self._round_trip_sum_s,
            round_trip_count=sum(self._in_bucket),
            silent_units=silent_units,
            last_error=self._last_error,
            writes=self._writes,
            write_failures=self._write_failures,
            unwritten=unwritten,
        )
