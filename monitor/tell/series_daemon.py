"""Series of the daemon: how the links, the judge, the journal and the outlets are getting on."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from monitor.figures import JudgeFigures, LinkFigures, MqttFigures, StoreFigures
from monitor.tell.exposition import Family, Kind, Sample, histogram
from monitor.tell.heading import SiteHeading
from monitor.words import Instant, Reason

#: Shown from the start with 0, so that a rate over the first failure is a rate.
_LINK_REASONS = (Reason.NO_CONNECTION, Reason.NO_ANSWER, Reason.EXCEPTION_CODE, Reason.MALFORMED_REPLY)


class DaemonView(NamedTuple):
    """What these series are drawn from."""

    site: SiteHeading
    links: Mapping[str, LinkFigures]
    judge: JudgeFigures | None
    store: StoreFigures | None
    mqtt: MqttFigures | None
    version: str
    now: Instant


def build_info(view: DaemonView) -> Family:
    """Which version watches which site."""
    where = {"version": view.version, "site": view.site.name, "inch_of_water": view.site.inch_of_water}
    return Family(
        "cakewatch_build_info", Kind.GAUGE, "Always 1; the labels say what runs here.", [Sample(where, 1)]
    )


def inch_of_water(view: DaemonView) -> Family:
    """Pascals of the site's inch."""
    sample = Sample({}, view.site.pa_per_inh2o)
    text = "Pascals in one inch of water as this site defines it."
    return Family("cakewatch_inch_of_water_pascals", Kind.GAUGE, text, [sample], "pascals")


def link_connected(view: DaemonView) -> Family:
    """Whether a link stands."""
    samples = [Sample({"link": name}, int(link.connected)) for name, link in view.links.items()]
    return Family("cakewatch_link_connected", Kind.GAUGE, "Whether the link is connected (1) or not (0).", samples)


def link_scans(view: DaemonView) -> Family:
    """Scans made."""
    samples = [Sample({"link": name}, link.scans) for name, link in view.links.items()]
    return Family("cakewatch_link_scans", Kind.COUNTER, "Scans of the link.", samples)


def link_requests(view: DaemonView) -> Family:
    """Requests made."""
    samples = [Sample({"link": name}, link.requests) for name, link in view.links.items()]
    return Family("cakewatch_link_requests", Kind.COUNTER, "Requests sent on the link.", samples)


def link_failures(view: DaemonView) -> Family:
    """Requests that brought no data, by reason."""
    samples = [
        Sample({"link": name, "reason": reason.value}, link.failures.get(reason, 0))
        for name, link in view.links.items()
        for reason in (*_LINK_REASONS, *(one for one in link.failures if one not in _LINK_REASONS))
    ]
    return Family("cakewatch_link_failures", Kind.COUNTER, "Requests that brought no data, by reason.", samples)


def link_round_trip(view: DaemonView) -> Family:
    """How long answers took."""
    samples = [
        sample
        for name, link in view.links.items()
        for sample in histogram(
            {"link": name},
            sorted(link.round_trip_buckets.items()),
            float(link.round_trip_sum_s),
            link.round_trip_count,
        )
    ]
    text = "From a request to its answer."
    return Family("cakewatch_link_round_trip_seconds", Kind.HISTOGRAM, text, samples, "seconds")


def link_silent_units(view: DaemonView) -> Family:
    """Units that do not answer."""
    samples = [Sample({"link": name}, len(link.silent_units)) for name, link in view.links.items()]
    return Family("cakewatch_link_silent_units", Kind.GAUGE, "Units that did not answer last time.", samples)


def link_writes(view: DaemonView) -> Family:
    """Writes to the annunciator, where a link has one."""
    samples = [
        Sample({"link": name, "outcome": outcome}, count)
        for name, link in view.links.items()
        if link.writes
        for outcome, count in (("confirmed", link.writes - link.write_failures), ("failed", link.write_failures))
    ]
    return Family("cakewatch_link_writes", Kind.COUNTER, "Writes to the annunciator, by outcome.", samples)


def link_unwritten(view: DaemonView) -> Family:
    """Entries of the annunciator that do not show what they shall."""
    samples = [Sample({"link": name}, len(link.unwritten)) for name, link in view.links.items() if link.writes]
    text = "Entries of the annunciator that do not show what they shall, as far as is known."
    return Family("cakewatch_link_unwritten_outputs", Kind.GAUGE, text, samples)


def link_turn_age(view: DaemonView) -> Family:
    """How long ago a link's loop came round."""
    samples = [
        Sample({"link": name}, max(0.0, view.now.mono_s - link.turned_at.mono_s))
        for name, link in view.links.items()
    ]
    text = "Time since the link's loop last came round, whatever the devices did."
    return Family("cakewatch_link_turn_age_seconds", Kind.GAUGE, text, samples, "seconds")


def judge_turn_age(view: DaemonView) -> Family:
    """How long ago the judge came round."""
    samples = [] if view.judge is None else [Sample({}, max(0.0, view.now.mono_s - view.judge.turned_at.mono_s))]
    text = "Time since the judge last came round."
    return Family("cakewatch_judge_turn_age_seconds", Kind.GAUGE, text, samples, "seconds")


def judge_inputs(view: DaemonView) -> Family:
    """Inputs judged."""
    samples = [] if view.judge is None else [Sample({}, view.judge.turns)]
    return Family("cakewatch_judge_inputs", Kind.COUNTER, "Inputs judged.", samples)


def judge_waiting(view: DaemonView) -> Family:
    """Inputs waiting."""
    samples = [] if view.judge is None else [Sample({}, view.judge.waiting)]
    return Family("cakewatch_judge_waiting_inputs", Kind.GAUGE, "Inputs that wait to be judged.", samples)


def judge_dropped(view: DaemonView) -> Family:
    """Inputs lost."""
    samples = [] if view.judge is None else [Sample({}, view.judge.dropped)]
    return Family("cakewatch_judge_dropped_inputs", Kind.COUNTER, "Inputs dropped, too many waiting.", samples)


def _store(name: str, kind: Kind, text: str, pick: Callable[[StoreFigures], float], unit: str = "") -> "_Draw":
    def draw(view: DaemonView) -> Family:
        return Family(name, kind, text, [] if view.store is None else [Sample({}, pick(view.store))], unit)

    return draw


def _mqtt(name: str, kind: Kind, text: str, pick: Callable[[MqttFigures], float], unit: str = "") -> "_Draw":
    def draw(view: DaemonView) -> Family:
        return Family(name, kind, text, [] if view.mqtt is None else [Sample({}, pick(view.mqtt))], unit)

    return draw


def outlet_backlog(view: DaemonView) -> Family:
    """Events an outlet has not confirmed."""
    outlets = {} if view.store is None else view.store.outlets
    samples = [Sample({"outlet": name}, outlet.backlog) for name, outlet in outlets.items()]
    return Family("cakewatch_outlet_backlog_events", Kind.GAUGE, "Events not yet confirmed.", samples)


def outlet_oldest_age(view: DaemonView) -> Family:
    """Age of the oldest event an outlet has not confirmed; 0 when it has all."""
    outlets = {} if view.store is None else view.store.outlets
    samples = [
        Sample(
            {"outlet": name},
            0.0 if outlet.oldest_utc_s is None else max(0.0, view.now.utc_s - outlet.oldest_utc_s),
        )
        for name, outlet in outlets.items()
    ]
    text = "Age of the oldest event not yet confirmed, by the wall clock; 0 when all are."
    return Family("cakewatch_outlet_oldest_event_age_seconds", Kind.GAUGE, text, samples, "seconds")


_Draw = Callable[[DaemonView], Family]
_GAUGE, _COUNTER = Kind.GAUGE, Kind.COUNTER

FAMILIES: tuple[_Draw, ...] = (
    build_info,
    inch_of_water,
    link_connected,
    link_scans,
    link_requests,
    link_failures,
    link_round_trip,
    link_silent_units,
    link_writes,
    link_unwritten,
    link_turn_age,
    judge_turn_age,
    judge_inputs,
    judge_waiting,
    judge_dropped,
    _store("cakewatch_journal_healthy", _GAUGE, "Whether events can be written (1).", lambda s: int(s.healthy)),
    _store("cakewatch_journal_events", _GAUGE, "Events in the journal.", lambda s: s.journal_events),
    _store("cakewatch_journal_waiting_events", _GAUGE, "Events in memory only.", lambda s: s.waiting_events),
    _store("cakewatch_journal_dropped_events", _COUNTER, "Events lost, no room left.", lambda s: s.dropped_events),
    _store("cakewatch_history_rows", _GAUGE, "Rows of history.", lambda s: s.history_rows),
    _store(
        "cakewatch_history_dropped_rows", _COUNTER, "Rows lost, no room left.", lambda s: s.dropped_history_rows
    ),
    _store("cakewatch_store_size_bytes", _GAUGE, "All files of the store.", lambda s: s.bytes_on_disk, "bytes"),
    outlet_backlog,
    outlet_oldest_age,
    _mqtt("cakewatch_mqtt_connected", _GAUGE, "Whether the broker has us (1).", lambda m: int(m.connected)),
    _mqtt("cakewatch_mqtt_published_messages", _COUNTER, "Messages handed over.", lambda m: m.published),
    _mqtt("cakewatch_mqtt_confirmed_events", _COUNTER, "Events the broker confirmed.", lambda m: m.confirmed),
    _mqtt("cakewatch_mqtt_refused_messages", _COUNTER, "Messages the broker refused.", lambda m: m.refused),
    _mqtt("cakewatch_mqtt_set_aside_events", _COUNTER, "Events given up.", lambda m: m.set_aside),
    _mqtt("cakewatch_mqtt_withheld_messages", _COUNTER, "States larger than allowed.", lambda m: m.withheld),
    _mqtt("cakewatch_mqtt_reconnects", _COUNTER, "Connections after the first.", lambda m: m.reconnects),
    _mqtt(
        "cakewatch_mqtt_session_takeovers", _COUNTER, "Thrown out by our own client id.", lambda m: m.taken_over
    ),
    _mqtt(
        "cakewatch_mqtt_received_commands",
        _COUNTER,
        "Messages on the command topic.",
        lambda m: m.commands_received,
    ),
    _mqtt("cakewatch_mqtt_refused_commands", _COUNTER, "Those that were not done.", lambda m: m.commands_refused),
    _mqtt(
        "cakewatch_mqtt_commands_subscribed",
        _GAUGE,
        "Whether the broker lets commands come to us (1).",
        lambda m: int(m.commands_subscribed),
    ),
    _mqtt("cakewatch_mqtt_in_flight_events", _GAUGE, "Events offered, not confirmed.", lambda m: m.in_flight),
    _mqtt(
        "cakewatch_mqtt_oldest_unconfirmed_age_seconds",
        _GAUGE,
        "How long the oldest offered event waits for its confirmation.",
        lambda m: m.oldest_unconfirmed_s,
        "seconds",
    ),
)
