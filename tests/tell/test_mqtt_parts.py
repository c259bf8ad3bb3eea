"""The parts of the outlet that decide something, without a broker."""

import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.mqtt.backoff import Backoff
from monitor.tell.mqtt.board import Board, Message
from monitor.tell.mqtt.outlet import client_id_of
from monitor.tell.mqtt.suspicion import Ending, Suspicion
from monitor.tell.mqtt.verdict import Verdict, verdict_of
from monitor.tell.mqtt.window import Window


# ------------------------------------------------------------------ window
def test_the_cursor_moves_only_over_a_gapless_prefix():
    window = Window(10, 3)
    for seq in (11, 12, 14):
        window.offer(seq, seq + 100, 0.0)

    assert window.room == 0
    assert window.settle(112) is None
    assert window.settle(114) is None
    assert window.settle(111) == 14
    assert window.settle(999) is None
    assert (window.cursor, window.in_flight, window.room) == (14, 0, 3)


def test_after_a_rewind_events_go_out_one_at_a_time_until_one_is_confirmed():
    window = Window(0, 20)
    window.offer(1, 1, 0.0)
    window.offer(2, 2, 0.0)
    window.rewind()

    assert (window.last_offered, window.room, window.head) == (0, 1, None)
    window.offer(1, 3, 5.0)
    assert (window.room, window.head, window.oldest_s(7.5)) == (0, 1, 2.5)
    # An answer from before the rewind is nobody's any more.
    assert window.settle(1) is None
    assert window.settle(3) == 1
    assert window.room == 20


def test_a_skipped_event_does_not_hold_the_cursor_and_does_not_jump_it():
    window = Window(0, 20)
    window.offer(1, 1, 0.0)

    assert window.skip(2) is None
    assert window.settle(1) == 2


@given(
    st.lists(st.tuples(st.sampled_from(["offer", "skip", "settle", "rewind"]), st.integers(0, 30)), max_size=80)
)
def test_the_cursor_never_goes_back_and_never_passes_an_unfinished_event(steps):
    window, next_seq, done, cursor = Window(0, 5), 1, set(), 0
    in_flight: dict[int, int] = {}
    for message_id, (step, pick) in enumerate(steps):
        match step:
            case "offer" if window.room:
                window.offer(next_seq, message_id, 0.0)
                in_flight[message_id] = next_seq
                next_seq += 1
            case "skip":
                window.skip(next_seq)
                done.add(next_seq)
                next_seq += 1
            case "settle" if in_flight:
                chosen = sorted(in_flight)[pick % len(in_flight)]
                done.add(in_flight.pop(chosen))
                window.settle(chosen)
            case "rewind":
                window.rewind()
                in_flight.clear()
                done = {seq for seq in done if seq <= window.cursor}
                next_seq = window.cursor + 1
        assert window.cursor >= cursor
        cursor = window.cursor
        assert set(range(1, cursor + 1)) <= done
        assert window.in_flight == len(in_flight)


# ------------------------------------------------------------------ board
def test_the_newest_message_wins_and_waits_for_its_period():
    board = Board(1.0)
    board.pin("t", b"1", 0.0)
    board.pin("t", b"2", 0.0)

    assert board.take(0.0, 10) == [Message("t", b"2", False)]
    board.pin("t", b"3", 0.2)
    board.pin("t", lambda: b"4", 0.4)
    assert board.take(0.9, 10) == []
    assert board.next_s() == 1.0
    assert board.take(1.0, 10) == [Message("t", b"4", False)]
    assert board.take(9.0, 10) == []


def test_an_urgent_message_does_not_wait_and_a_later_one_does_not_delay_it():
    board = Board(10.0)
    board.pin("t", b"1", 0.0)
    board.take(0.0, 10)
    board.pin("t", b"2", 1.0, urgent=True)
    board.pin("t", b"3", 1.1)

    assert board.take(1.1, 10) == [Message("t", b"3", True)]


def test_on_a_new_connection_everything_goes_out_again_once():
    board = Board(10.0)
    board.pin("a", b"1", 0.0)
    board.pin("b", b"2", 0.0, urgent=True)
    board.take(0.0, 10)
    board.again(0.5)

    assert {message.topic for message in board.take(0.5, 10)} == {"a", "b"}
    assert board.take(99.0, 10) == []


def test_a_topic_taken_down_is_told_until_the_broker_confirms():
    board = Board(1.0)
    board.pin("t", b"1", 0.0)
    board.take_down("t", 0.1)
    assert board.take(0.1, 10) == [Message("t", b"", True)]
    board.again(0.2)
    assert board.take(0.2, 10) == [Message("t", b"", True)]
    board.drop("t")
    board.again(0.3)
    assert board.take(0.3, 10) == []


def test_a_topic_put_up_again_while_being_taken_down_stays():
    board = Board(0.0)
    board.take_down("t", 0.0)
    board.take(0.0, 10)
    board.pin("t", b"1", 0.1)
    board.drop("t")

    assert board.take(0.1, 10)[0].payload == b"1"


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(0, 0.5), st.booleans()), max_size=60))
def test_what_is_published_last_is_what_was_pinned_last_and_never_too_often(pins):
    board, now_s, newest, shown = Board(1.0), 0.0, {}, {}
    times: dict[str, list[float]] = {}
    for number, (topic, pause_s, take) in enumerate(pins):
        now_s += pause_s
        newest[topic] = str(number).encode()
        board.pin(topic, newest[topic], now_s)
        for message in board.take(now_s, 10) if take else ():
            shown[message.topic] = message.payload
            times.setdefault(message.topic, []).append(now_s)
    for message in board.take(now_s + 1.0, 10):
        shown[message.topic] = message.payload

    assert shown == newest
    assert len(board) == 0
    for moments in times.values():
        assert all(later - earlier >= 1.0 - 1e-9 for earlier, later in pairwise(moments))


# ------------------------------------------------------------------ suspicion
def ending(**changes) -> Ending:
    fields = {"stood_s": 0.1, "code": None, "lone_event": None, "lone_s": 0.0, "largest_state_bytes": 0}
    return Ending(**(fields | changes))


def test_an_event_is_blamed_at_the_third_time_and_not_before():
    suspicion = Suspicion()
    alone = ending(lone_event=7, lone_s=0.1)

    assert [suspicion.poisonous_event(alone) for _ in range(3)] == [None, None, 7]


def test_a_broker_that_says_too_large_is_believed_at_once():
    assert Suspicion().poisonous_event(ending(lone_event=7, code=0x95)) == 7


@pytest.mark.parametrize(
    "innocent",
    [
        ending(lone_event=None),
        ending(lone_event=7, lone_s=3.0),
        ending(lone_event=7, code=0x8E),
    ],
    ids=["several under way", "not at once", "another client took over"],
)
def test_an_event_is_not_blamed_for_what_others_do(innocent):
    suspicion = Suspicion()

    assert [suspicion.poisonous_event(innocent) for _ in range(5)] == [None] * 5


def test_different_events_are_not_counted_together():
    suspicion = Suspicion()
    ends = [ending(lone_event=seq) for seq in (7, 7, 8, 7, 7)]

    assert [suspicion.poisonous_event(end) for end in ends] == [None] * 5


def test_states_are_blamed_only_when_they_are_thrown_out_at_once_three_times():
    suspicion = Suspicion()
    at_once, later = ending(largest_state_bytes=2000), ending(largest_state_bytes=2000, stood_s=1.2)

    assert [suspicion.state_limit(end) for end in (at_once, at_once, later, at_once, at_once)] == [None] * 5
    assert suspicion.state_limit(at_once) == 1000


def test_connections_that_keep_ending_soon_look_like_a_second_client():
    suspicion = Suspicion()

    assert [suspicion.is_flapping(ending(stood_s=2.0)) for _ in range(3)] == [False, True, True]
    assert not suspicion.is_flapping(ending(stood_s=60.0))


# ------------------------------------------------------------------ verdict, backoff, identity
@pytest.mark.parametrize("code", range(256))
def test_only_a_success_code_confirms(code):
    assert (verdict_of(code) is Verdict.CONFIRMED) == (code < 0x80)


def test_what_somebody_may_mend_waits_and_what_nobody_can_is_set_aside():
    assert {verdict_of(code) for code in (0x80, 0x83, 0x87, 0x97)} == {Verdict.HOLD}
    assert {verdict_of(code) for code in (0x90, 0x95, 0x99)} == {Verdict.POISON}


@given(st.integers(), st.lists(st.floats(0, 100), max_size=30))
def test_the_wait_before_a_reconnect_is_always_one_to_five_seconds(seed, stood):
    backoff = Backoff(random.Random(seed))

    assert all(1.0 <= backoff.next_s(stood_s) <= 5.0 for stood_s in stood)


def test_the_wait_grows_and_is_short_again_after_a_real_connection():
    backoff = Backoff(random.Random(1))
    waits = [backoff.next_s(0.0) for _ in range(5)]

    assert waits[0] < 1.3
    assert waits[-1] > 4.4
    assert backoff.next_s(60.0) < 1.3


def test_two_daemons_never_share_a_client_identifier_and_one_keeps_its_own():
    one = client_id_of("edge-1", "Alder Mill", "store-a")

    assert one == client_id_of("edge-1", "Alder Mill", "store-a")
    assert one != client_id_of("edge-1", "Alder Mill", "store-b")
    assert one != client_id_of("edge-2", "Alder Mill", "store-a")
    assert len(one) <= 23
    assert one.isalnum()
