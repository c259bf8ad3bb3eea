"""In-tray and backlog: nothing is lost, doubled or reordered between the loop and the writer."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import StoreError
from monitor.figures import OutletFigures
from monitor.remember.backlog import Backlog
from monitor.remember.in_tray import MAX_WAITING_QUESTIONS, InTray
from tests.remember.making import an_event


def _events(first: int, count: int):
    return [replace(an_event(), seq=seq) for seq in range(first, first + count)]


@given(st.lists(st.sampled_from(["lay", "take", "done", "put back"])), st.integers(1, 8))
def test_whatever_happens_each_event_is_written_dropped_or_waiting_once_and_in_order(steps, bound):
    tray, seq, taken = InTray(bound), 0, False
    written: list[int] = []
    dropped: list[int] = []
    in_hand: list[int] = []
    for step in steps:
        if step == "lay":
            dropped += tray.lay_events(_events(seq + 1, 3), {"DC-101": str(seq + 3)}, float(seq))
            seq += 3
        elif step == "take" and not taken:
            in_hand, taken = [event.seq for event in tray.take().events], True
        elif step == "done" and taken:
            written += in_hand
            tray.done()
            taken = False
        elif step == "put back" and taken:
            dropped += tray.put_back()
            taken = False
    waiting = ([*in_hand] if taken else []) + [event.seq for event in tray.waiting_after(0, 10_000)]
    assert written == sorted(written)
    assert waiting == sorted(waiting)
    assert sorted(written + dropped + waiting) == list(range(1, seq + 1))
    assert tray.waiting == len(waiting) <= 2 * bound


def test_the_latest_state_wins_although_an_older_one_is_put_back():
    tray = InTray()
    tray.lay_states({"DC-101": "old", "DC-102": "old"}, 5.0)
    tray.take()
    tray.lay_states({"DC-101": "new"}, 6.0)
    tray.put_back()
    work = tray.take()
    assert (work.states, work.scan_s) == ({"DC-101": "new", "DC-102": "old"}, 6.0)


def test_what_was_rescued_goes_before_what_waits_and_never_over_newer_states():
    tray = InTray()
    tray.lay_events(_events(5, 2), {"DC-101": "new"}, 6.0)
    tray.lay_rescued(_events(3, 2), {"DC-101": "old", "DC-102": "old"}, 4.0)
    work = tray.take()
    assert [event.seq for event in work.events] == [3, 4, 5, 6]
    assert (work.states, work.scan_s) == ({"DC-101": "new", "DC-102": "old"}, 6.0)


def test_questions_are_bounded():
    tray = InTray()
    for _ in range(MAX_WAITING_QUESTIONS):
        tray.ask(lambda: None)
    with pytest.raises(StoreError, match="ask again later"):
        tray.ask(lambda: None)


@given(st.lists(st.tuples(st.sampled_from(["add", "a", "b", "forget"]), st.integers(0, 40)), max_size=60))
def test_a_backlog_counts_what_each_outlet_has_not_confirmed(steps):
    backlog, there, positions, last = Backlog({"a": 0, "b": 0}, []), [], {"a": 0, "b": 0}, 0
    for what, number in steps:
        if what == "add":
            last += 1 + number % 3
            backlog.add(last, float(last))
            there.append(last)
        elif what == "forget":
            backlog.forget([number])
            there = [seq for seq in there if seq != number]
        else:
            assert backlog.confirm(what, number) == (number > positions[what])
            positions[what] = max(positions[what], number)
    for outlet, position in positions.items():
        behind = [seq for seq in there if seq > position]
        expected = OutletFigures(backlog=len(behind), oldest_utc_s=float(behind[0]) if behind else None)
        assert backlog.figures()[outlet] == expected
    assert backlog.unconfirmed() == [seq for seq in there if seq > min(positions.values())]
