"""Every fault of the broker: nothing is lost, nothing is out of order, and the watch does not suffer."""

import itertools
import json
import subprocess
import time
from datetime import datetime, timedelta

import pytest

from tests.peers.fault_device import OK, Fault, Kind
from tests.rig import sites
from tests.rig.load import FlappingMill, one_collector
from tests.rig.rig import QUEUE, Rig
from tests.rig.waiting import until
from tests.rig.wall import Wall

HIGH, LOW = 8000, 4000


def flap(rig, device, times):
    """Raise and return the alarm so often; each change stays long enough to be read."""
    for _ in range(times):
        for value in (HIGH, LOW):
            asked = len(device.requests)
            device.values[1, 0] = value
            until(lambda n=asked: len(device.requests) >= n + 2, 10)


def journaled(rig):
    return len(rig.ledger(0).journal)


def test_a_broker_that_was_killed_has_everything_retained_again_and_hears_what_it_missed(rig):
    device, _ = one_collector(rig)
    rig.daemon()
    rig.listener.await_good("DC-101", 8)
    rig.kill_broker()
    flap(rig, device, 5)
    killed_at = len(rig.listener.heard)
    rig.start_broker()
    until(lambda: len(rig.listener.of("events", killed_at)) >= 10, 12, rig.listener.short)
    for topic in ("availability", "collectors/DC-101/state", "collectors/DC-101/alarms/PDAH-101"):
        until(lambda t=topic: rig.listener.of(t, killed_at), 8, topic)
    assert rig.listener.last("availability")["online"]
    assert rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged"
    late = len(rig.listener.heard)
    rig.listener.connect()
    retained = {one.topic for one in rig.listener.heard[late:] if one.retained}
    assert {"cakewatch/availability", "cakewatch/collectors/DC-101/alarms/PDAH-101"} <= retained
    ledger = rig.ledger()
    ledger.check()
    rig.listener.check()
    print(ledger.counts)


def test_a_frozen_broker_delays_what_is_told_and_nothing_else(rig):
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    rig.broker.freeze()
    asked = len(device.requests)
    before = journaled(rig)
    flap(rig, device, 12)
    frozen_s = 6.0  # longer than the keepalive of 5 s
    end_s = time.monotonic() + frozen_s
    while time.monotonic() < end_s:
        time.sleep(0.2)
        assert watch.health()[0] == 200
    assert watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") >= 24
    gaps = [b.at_s - a.at_s for a, b in zip(device.requests[asked:], device.requests[asked + 1 :], strict=False)]
    assert max(gaps) <= 0.1 + 0.3, "a poll waited for the broker"
    assert journaled(rig) >= before + 24
    rig.broker.thaw()
    ledger = rig.ledger(20)
    ledger.check()
    until(lambda: watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") == 0, 10)


def test_what_was_under_way_when_the_connection_was_cut_is_told_again(rig):
    """Without a restart of the daemon, which would tell it again in any case."""
    mill = FlappingMill(rig, collectors=5)
    watch = rig.daemon()
    for _ in range(2):
        until(lambda: watch.metric("cakewatch_mqtt_connected") == 1, 10)
        heard = len(rig.listener.of("events"))
        until(lambda n=heard: len(rig.listener.of("events")) > n + 10, 10)
        rig.gate.stall()
        until(lambda: watch.metric("cakewatch_mqtt_in_flight_events") >= 3, 10)
        rig.gate.cut()
        rig.gate.flow()
    mill.flapping = False
    ledger = rig.ledger(20)
    ledger.check()
    until(lambda: watch.metric("cakewatch_mqtt_reconnects_total") >= 2, 10)


@pytest.mark.parametrize("queue", [QUEUE, "max_queued_messages 0"], ids=["answers", "answers and hangs up"])
def test_what_an_access_list_refused_is_told_in_order_once_it_is_mended(rig, tmp_path, queue):
    """The second broker hangs up after each refusal (mosquitto does so with this setting, as others always do)."""
    access = tmp_path / "access"
    access.write_text(
        "topic read #\ntopic write rig/#\ntopic write cakewatch/availability\ntopic write cakewatch/collectors/#\n"
    )
    rig.kill_broker()
    rig.broker.rewrite(queue, f"acl_file {access}")
    rig.start_broker()
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    flap(rig, device, 3)
    until(lambda: "refuses messages to cakewatch/events" in watch.log(), 8, watch.tail)
    assert watch.metric("cakewatch_mqtt_refused_messages_total") >= 1
    assert rig.listener.events() == []
    assert watch.health()[0] == 200
    access.write_text("topic readwrite #\n")
    rig.broker.signal(1)  # mosquitto reads its lists again on SIGHUP
    # It asks again every 30 s; a new connection is asked soon.
    rig.gate.cut()
    ledger = rig.ledger(15)
    assert len(ledger.heard) >= 8
    ledger.check()


def test_a_message_over_the_brokers_limit_is_set_aside_and_does_not_block_what_follows(rig):
    long_tag = "PDAH-101-" + "x" * 31
    alone = {"farther_band_raised": "no"}
    bands = {long_tag: sites.band("7 inH2O", suppress=alone), "PDAH-1": sites.band("7.5 inH2O", latching="no")}
    device = rig.field.device()
    device.values[1, 0] = LOW
    rig.site({"gateway": sites.link(device.port)}, {"DC-101": sites.collector(101, "gateway", 1, 0, bands=bands)})
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    flap(rig, device, 2)
    assert rig.ledger().all_told
    sizes = {(one.json["tag"], one.json["happened"]): len(one.payload) for one in rig.listener.of("events")}
    too_large = max(sizes, key=sizes.__getitem__)
    limit = sorted(sizes.values())[-2] + 4  # seq and event id grow by a digit now and then
    assert too_large[0] == long_tag
    assert sizes[too_large] > limit
    rig.kill_broker()
    rig.broker.rewrite(QUEUE, f"message_size_limit {limit}")
    rig.start_broker()
    after = rig.listener.last_seq()
    flap(rig, device, 1)
    for tag, happened in sizes:
        if tag is not None and (tag, happened) != too_large:
            rig.listener.await_event(tag, happened, 20, after)
    # Blamed only once the connection ended three times with it alone under way.
    until(lambda: watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") == 0, 25)
    ledger = rig.ledger(0)
    heard = {one["event_id"] for one in ledger.heard}
    (missing,) = [one for one in ledger.journal if one["event_id"] not in heard]
    assert (missing["tag"], missing["happened"]) == too_large, "it is in the journal all the same"
    ledger.check_order()
    assert watch.metric("cakewatch_mqtt_set_aside_events_total") == 1
    assert f"event set aside outlet=mqtt seq={missing['seq']}" in watch.log()


def test_a_broker_that_is_gone_for_a_day_hears_all_of_it_later_in_order_each_with_its_moment(rig, tmp_path):
    """The day is the wall clock's: it runs ten minutes each time the alarms have come and gone."""
    wall = Wall(tmp_path)
    rig.kill_broker()
    numbers = range(101, 107)
    device = rig.field.device()
    device.values = {(n - 100, 0): itertools.cycle([LOW, HIGH]).__next__ for n in numbers}
    levels = {"PDAH": "5 inH2O", "PDAHH": "6 inH2O", "PDAHHH": "7 inH2O", "PDAHHHH": "7.5 inH2O"}
    rig.site(
        {"gateway": sites.link(device.port)},
        {
            f"DC-{n}": sites.collector(
                n, "gateway", n - 100, 0, bands={f"{tag}-{n}": sites.band(level) for tag, level in levels.items()}
            )
            for n in numbers
        },
    )
    watch = rig.daemon(bent=True, **wall.environ)
    for tenth_minute in range(1, 145):
        wall.set_off(600 * tenth_minute)
        time.sleep(0.05)
    assert watch.health()[0] == 200
    assert watch.metric("cakewatch_outlet_oldest_event_age_seconds", outlet="mqtt") >= 86_000
    for n in numbers:
        device.values[n - 100, 0] = LOW
    rig.start_broker()
    ledger = rig.ledger(60)
    ledger.check()
    assert len(ledger.heard) >= 1000
    moments = [datetime.fromisoformat(one["happened_at"]) for one in ledger.heard]
    step = timedelta(minutes=10, seconds=1)  # what happened before a step may be journaled right behind it
    assert all(later >= earlier - step for earlier, later in itertools.pairwise(moments))
    assert (moments[-1] - moments[0]).total_seconds() >= 84_000
    until(lambda: watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") == 0, 10)
    print(ledger.counts, f"from {moments[0]} to {moments[-1]}")


def refused(watch):
    return [line for line in watch.log().splitlines() if "refused us for user 'mill'" in line]


def test_a_wrong_password_is_one_plain_sentence_and_the_watch_goes_on(tmp_path):
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "mill", "right"], check=True)
    login = ("-u", "mill", "-P", "right")
    with Rig(tmp_path, f"password_file {passwords}", anonymous=False, listener_options=login) as rig:
        device, site = one_collector(rig)
        text = site.read_text().replace("mqtt:\n", "mqtt:\n  username: mill\n  password_env: MILL_PASSWORD\n")
        site.write_text(text)
        watch = rig.daemon(MILL_PASSWORD="wr0ng-s3cret")
        until(lambda: refused(watch), 8, watch.tail)
        flap(rig, device, 2)
        time.sleep(2.5)  # more attempts
        said = refused(watch)
        assert len(said) == 1, said
        assert "wrong user name or password" in said[0]
        assert "wr0ng-s3cret" not in watch.log()
        assert watch.health()[0] == 200
        assert watch.metric("cakewatch_mqtt_connected") == 0
        assert watch.metric("cakewatch_dp_inh2o", collector="DC-101") is not None
        assert watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") >= 5
        watch.stop()
        watch._environ["MILL_PASSWORD"] = "right"
        watch.start()
        ledger = rig.ledger(15)
        assert len(ledger.heard) >= 6
        ledger.check()
        assert json.dumps(ledger.heard).count("right") == 0


def test_a_broker_that_never_answers_costs_no_poll_and_is_named(rig):
    silent = rig.field.device(fault=Fault(Kind.HANG))
    device, site = one_collector(rig)
    site.write_text(site.read_text().replace(f"port: {rig.gate.port}", f"port: {silent.port}"))
    watch = rig.daemon()
    until(lambda: "never answered" in watch.log(), 12, watch.tail)
    gaps = [b.at_s - a.at_s for a, b in zip(device.requests, device.requests[1:], strict=False)]
    assert max(gaps) <= 0.1 + 0.3
    assert watch.health()[0] == 200
    rig.field.suffer(silent, OK)
