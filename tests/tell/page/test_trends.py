"""Trends: against a plain history of everything that was noted."""

import math
import sys

from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.page.trends import COUNT, STEP_S, Past, Ring, Shown, Trends
from monitor.words import Priority

T0 = 1_800_000_000 // STEP_S * STEP_S
WORDS = [None, *Priority]


class Oracle:
    """Remembers all, and looks through it for every piece."""

    def __init__(self):
        self.noted = []

    def note(self, at, shown):
        self.noted.append((at, shown))

    def pieces(self, now):
        last = int(now // STEP_S)
        return [self._piece(number * STEP_S, now) for number in range(last - COUNT + 1, last + 1)]

    def _piece(self, begin, now):
        end = min(begin + STEP_S, now + 1e-6) if begin + STEP_S > now else begin + STEP_S
        within = [shown for at, shown in self.noted if begin <= at < end]
        before = [shown for at, shown in self.noted if at < begin]
        lasting = within + before[-1:]
        values = [one.dp_inh2o for one in within if one.dp_inh2o is not None]
        ranks = [0 if one.worst is None else one.worst.rank + 1 for one in lasting]
        cleaned = 0
        seen = self.noted[0][1].cleaned_utc_s
        for _, one in self.noted[1:]:
            if one.cleaned_utc_s is not None and one.cleaned_utc_s != seen:
                cleaned += begin <= one.cleaned_utc_s < begin + STEP_S
            seen = one.cleaned_utc_s
        return (
            min(values, default=None),
            max(values, default=None),
            None if not any(ranks) else tuple(Priority)[max(ranks) - 1].value,
            int(any(one.dp_inh2o is None for one in lasting)),
            cleaned,
        )


NOTES = st.lists(
    st.tuples(
        st.floats(0.0, 4 * STEP_S),
        st.one_of(st.none(), st.integers(0, 100).map(lambda n: n / 4)),
        st.sampled_from(WORDS),
        st.booleans(),
    ),
    min_size=1,
    max_size=30,
)


@given(notes=NOTES, after=st.floats(0.0, 100 * STEP_S))
def test_the_ring_shows_what_a_plain_history_shows(notes, after):
    ring, oracle, at, cleaned = Ring(), Oracle(), float(T0), None
    for passed, dp, worst, cleans in notes:
        at += passed
        cleaned = at if cleans else cleaned
        ring.note(at, Shown(dp, worst, cleaned))
        oracle.note(at, Shown(dp, worst, cleaned))
    found = ring.pieces(at + after)
    expected = oracle.pieces(at + after)
    columns = [found[name] for name in ("low", "high", "alarm", "blind", "cleanings")]
    assert list(zip(*columns, strict=True)) == expected


@given(jumps=st.lists(st.floats(-200 * STEP_S, 200 * STEP_S), max_size=20))
def test_a_clock_that_is_set_breaks_nothing(jumps):
    ring, at = Ring(), float(T0)
    for jump in jumps:
        at += jump
        ring.note(at, Shown(4.0, None))
        found = ring.pieces(at)
        assert all(len(column) == COUNT for column in found.values())
        assert found["low"][-1] == 4.0


def test_what_was_before_is_filled_in_and_overrules_nothing():
    ring = Ring()
    ring.note(T0, Shown(5.0, None))
    ring.fill([Past(T0 + 1, 4.0, 4.5), Past(T0 - STEP_S, 2.0, 3.0, blind=True, cleanings=2, worst=Priority.HIGH)])
    ring.fill([Past(T0 - 97 * STEP_S, 0.0, 9.0), Past(T0 + STEP_S, 0.0, 9.0)])
    found = ring.pieces(T0)
    assert (found["low"][-1], found["high"][-1], found["blind"][-1]) == (4.0, 5.0, 0)
    assert (found["low"][-2], found["high"][-2], found["blind"][-2]) == (2.0, 3.0, 1)
    assert (found["alarm"][-2], found["cleanings"][-2]) == ("high", 2)
    assert found["low"][:-2] == [None] * (COUNT - 2)


def test_a_collector_costs_less_than_three_kilobytes():
    ring = Ring()
    for piece in range(2 * COUNT):
        ring.note(T0 + piece * STEP_S, Shown(4.0 + piece / 7, Priority.HIGH, T0 + piece * STEP_S))
    held = [ring, *(getattr(ring, name) for name in Ring.__slots__)]
    assert sum(map(sys.getsizeof, held)) < 3000


def test_a_figure_that_is_none_is_none_in_json_too():
    trends = Trends()
    trends.note("DC-101", T0, Shown(None, None))
    told = trends.payload(["DC-101", "DC-999"], T0)
    assert list(told["collectors"]) == ["DC-101"]
    assert told["start_utc_s"] == T0 - (COUNT - 1) * STEP_S
    assert not any(isinstance(one, float) and math.isnan(one) for one in told["collectors"]["DC-101"]["low"])
    trends.keep({})
    assert trends.payload(["DC-101"], T0)["collectors"] == {}
