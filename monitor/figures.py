"""Figures: what links, judge, store and outlets count about themselves, for health, metrics and the log.

Each is a frozen picture of one moment, drawn by the one who counts and shown by others.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.words import Instant, Priority, Reason


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFigures:
    """What a link's worker counts about itself, since the daemon started.

    Attributes:
        turned_at: when its loop last came round or got past a unit, whatever the devices did; health is judged
            by it.
        turn_limit_s: the longest that may take before the worker counts as stuck, scan seconds.
        failures: failed requests by reason.
        round_trip_buckets: for each upper bound in seconds the requests answered within it (cumulative).
        silent_units: unit identifiers that did not answer last time and are asked ever more rarely.
        writes, write_failures: writes of outputs tried, and those not confirmed (beside ``requests``).
        unwritten: names of the outputs that do not show, as far as we know, what they shall.
    """

    link: str
    connected: bool
    turned_at: Instant
    turn_limit_s: float
    scans: int = 0
    requests: int = 0
    failures: Mapping[Reason, int] = field(default_factory=dict)
    round_trip_buckets: Mapping[float, int] = field(default_factory=dict)
    round_trip_sum_s: float = 0.0
    round_trip_count: int = 0
    silent_units: tuple[int, ...] = ()
    last_error: str = ""
    writes: int = 0
    write_failures: int = 0
    unwritten: tuple[str, ...] = ()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletFigures:
    """How far one outlet is behind the journal.

    Attributes:
        backlog: events it has not yet confirmed.
        oldest_utc_s: when the oldest of them happened, Unix seconds; None when there is none.
    """

    backlog: int = 0
    oldest_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreFigures:
    """What the store counts about itself; taken from memory, never from the disk.

    Attributes:
        healthy: False while events or history cannot be written; ``last_error`` then says why.
        last_error: a sentence about the latest trouble, kept after it is over; empty when there was none.
        bytes_on_disk: all files of the store, as of the last commit.
        waiting_events: told or not, they are in memory only.
        dropped_events: lost since the daemon started: the memory was full too, or nobody would take them.
        dropped_history_rows: likewise; the history gives way before any event does.
        oldest_step_utc_s, oldest_minute_utc_s, oldest_hour_utc_s: how far back the history goes at each fineness,
            Unix seconds; None while it holds nothing.
    """

    healthy: bool
    last_error: str = ""
    journal_events: int = 0
    history_rows: int = 0
    bytes_on_disk: int = 0
    waiting_events: int = 0
    dropped_events: int = 0
    dropped_history_rows: int = 0
    oldest_step_utc_s: float | None = None
    oldest_minute_utc_s: float | None = None
    oldest_hour_utc_s: float | None = None
    outlets: Mapping[str, OutletFigures] = field(default_factory=dict)


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
        commands_received: messages on the command topic.
        commands_refused: those of them that did not end in ``done``, whoever refused them.
        commands_subscribed: the broker lets commands come to us; False while they are off.
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
    commands_received: int = 0
    commands_refused: int = 0
    commands_subscribed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmLogFigures:
    """How the alarm system is doing right now; the whole site, by the events of the journal.

    Attributes:
        raised: alarms announced since the daemon started, by priority.
        raised_10_min, raised_hour, raised_day, raised_30_days: announced in that time, before the start too.
        chattering: alarms that were raised three times within a minute at some time of the last 24 h.
        stale: alarms that have been active for more than 24 h.
        in_flood: more than 10 alarms came in 10 minutes, and not yet fewer than 5.
        floods, flood_s: since the daemon started.
        cleared_unseen: alarms the timer cleared and nobody had acknowledged, since the daemon started.
        acknowledge_buckets: for each upper bound in seconds the acknowledgements within it (cumulative).
    """

    raised: Mapping[Priority, int] = field(default_factory=dict)
    raised_10_min: int = 0
    raised_hour: int = 0
    raised_day: int = 0
    raised_30_days: int = 0
    chattering: int = 0
    stale: int = 0
    in_flood: bool = False
    floods: int = 0
    flood_s: float = 0.0
    cleared_unseen: int = 0
    acknowledge_buckets: Mapping[float, int] = field(default_factory=dict)
    acknowledge_sum_s: float = 0.0
    acknowledge_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelFigures:
    """How one channel of one person is doing.

    Attributes:
        delivered, failed: attempts since the daemon started.
        last_delivered_utc_s, last_failed_utc_s: Unix seconds; None for never.
        last_error: a phrase without secrets; empty where the last attempt was delivered.
    """

    person: str
    channel: str
    delivered: int = 0
    failed: int = 0
    last_delivered_utc_s: float | None = None
    last_failed_utc_s: float | None = None
    last_error: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneFigures:
    """How the phone relay is doing.

    Attributes:
        callouts: that somebody has still to acknowledge, or that are not told yet.
        waiting: messages made and not delivered.
        oldest_waiting_s: how long the oldest of them has been waiting, scan seconds; 0 when there is none.
        held_back: alarms that flood control put together, since the daemon started.
        unreached: a sentence while nobody can be reached; else empty.
        ping_error: why the last ping of the outside address failed; empty where it did not or there is none.
    """

    channels: tuple[ChannelFigures, ...] = ()
    callouts: int = 0
    waiting: int = 0
    oldest_waiting_s: float = 0.0
    held_back: int = 0
    unreached: str = ""
    pings: int = 0
    ping_failures: int = 0
    ping_error: str = ""
