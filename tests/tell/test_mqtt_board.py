"""The board holds topics to their period, but never the first reading of a connection."""

from monitor.tell.mqtt.board import Board


def test_what_a_new_connection_repeats_does_not_hold_back_the_next_state():
    """At a start, "not read yet" goes out first; the first reading follows at once, the second a period later."""
    board = Board(10.0)
    board.pin("state", b"not read yet", 0.0)
    board.again(1.0)
    said = [board.take(1.0, 10)]
    for now_s, payload in ((1.1, b"first"), (1.2, b"second")):
        board.pin("state", payload, now_s)
        said.append(board.take(now_s, 10))

    assert [[message.payload for message in messages] for messages in said] == [[b"not read yet"], [b"first"], []]
    assert [message.payload for message in board.take(11.1, 10)] == [b"second"]
