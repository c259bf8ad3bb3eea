"""Figures: what an outlet and the judge count about themselves, for health, metrics and the log."""

from dataclasses import dataclass

from monitor.words import Instant


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttFigures:
    """How the connection to the broker is, and what went through it since the daemon started.

    Attributes:
        connected: the broker accepted us and the connection stands.
        last_error: one plain sentence about the present trouble; empty while all is well.
        published: messages handed to the connection, events and retained state together.
        confirmed: events the broker confirmed with a success code.
        refused: messages the broker refused with a reason code.
        set_aside: events that were given up (too large, or the broker will never take them), with the reason
            in the journal.
        withheld: retained messages not offered because they are larger than the limit.
        reconnects: connections made after the first.
        taken_over: times another client with our client identifier threw us out.
        in_flight: events offered and not yet confirmed.
        oldest_unconfirmed_s: how long the oldest of those has been waiting, real seconds; 0 when there is none.
        waiting_states: retained messages that wait for their turn or for the connection.
    """

    connected: bool = False
    last_error: str = ""
    published: int = 0
    confirmed: int = 0
    refused: int = 0
    set_aside: int = 0
    withheld: int = 0
    reconnects: int = 0
    taken_over: int = 0
    in_flight: int = 0
    oldest_unconfirmed_s: float = 0.0
    waiting_states: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeFigures:
    """How the one who turns readings into alarms is getting on.

    Attributes:
        turned_at: when it last came round, with or without work.
        turn_limit_s: the longest it may take to come round before it counts as stuck, scan seconds.
        waiting: inputs that have arrived and are not judged yet.
        turns: inputs judged since the daemon started.
        dropped: inputs thrown away because too many were waiting.
    """

    turned_at: Instant
    turn_limit_s: float = 10.0
    waiting: int = 0
    turns: int = 0
    dropped: int = 0
