"""Starting and stopping: what is promised to the service manager, and what a kill must not take."""

import signal
import socket
import time

from tests.peers.fault_device import Fault, Kind
from tests.peers.mosquitto import free_port
from tests.rig import sites
from tests.rig.load import one_collector
from tests.rig.waiting import until
from tests.rig.watch import Watch

HIGH, LOW = 8000, 4000  # thousandths of an inch of water, beyond the band and well inside


def test_sigterm_under_load_ends_within_two_seconds_with_everything_committed(rig):
    device = rig.field.device()
    beat = lambda: HIGH if int(time.monotonic() / 0.15) % 2 else LOW  # noqa: E731
    device.values = {(unit, 0): beat for unit in range(1, 9)}
    rig.site(
        {"gateway": sites.link(device.port)},
        {
            f"DC-{100 + unit}": sites.collector(
                100 + unit, "gateway", unit, 0, bands={f"PDAH-{100 + unit}": sites.band()}
            )
            for unit in range(1, 9)
        },
    )
    watch = rig.daemon()
    until(lambda: len(rig.listener.events()) > 60, 15, rig.listener.short)
    code, took_s = watch.stop()
    assert code == 0, watch.tail()
    assert took_s <= 2.0
    offline = until(lambda: (a := rig.listener.last("availability")) and not a["online"] and a, 3)
    assert offline["why"] == "stopped"
    assert offline["at"] is not None
    rig.listener.connect()
    assert rig.listener.of("availability")[-1].retained, "who comes later is told, too"
    rows = rig.ledger(0).journal
    assert rows[-1]["happened"] == "stopped"
    rig.daemon()
    until(lambda: rig.listener.events(happened="stopped"), 8, rig.listener.short)
    ledger = rig.ledger()
    ledger.check_order()
    ledger.check_chains()
    rig.listener.check()


def test_sigterm_ends_within_two_seconds_though_everything_else_hangs(rig):
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    rig.field.suffer(device, Fault(Kind.HANG))
    rig.broker.freeze()
    with socket.create_connection(("127.0.0.1", rig.http_port)) as browser:
        browser.sendall(b"GET /metrics HTTP/1.1\r\n")  # and never the rest of it
        time.sleep(0.3)
        code, took_s = watch.stop()
    rig.broker.thaw()
    assert code == 0, watch.tail()
    assert took_s <= 2.0
    assert rig.ledger().journal[-1]["happened"] == "stopped"


def test_a_second_daemon_on_the_same_store_is_refused_in_a_sentence(rig):
    _, site = one_collector(rig)
    first = rig.daemon()
    second_site = site.with_name("second.yaml")
    second_site.write_text(site.read_text().replace(f"port: {rig.http_port}", f"port: {free_port()}"))
    with Watch(second_site, 0) as second:
        assert second.start(ready=False).wait(15) == 3
        said = second.log().strip().splitlines()
    assert len([line for line in said if line.startswith("cakewatch: ")]) == 1, said
    assert str(rig.folder) in said[-1]
    assert "Traceback" not in second.log()
    assert first.health()[0] == 200


def test_a_taken_http_port_is_refused_in_a_sentence(rig):
    one_collector(rig)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", rig.http_port))
        taken.listen()
        watch = rig.daemon(ready=False)
        assert watch.wait(15) == 3
    assert f"{rig.http_port}" in watch.log().strip().splitlines()[-1]
    assert "Traceback" not in watch.log()


def test_a_wrong_site_file_ends_with_exit_code_2_and_its_faults(rig):
    _, site = one_collector(rig)
    site.write_text(site.read_text().replace("collectors:", "colectors:"))
    watch = rig.daemon(ready=False)
    assert watch.wait(15) == 2
    assert "collectors" in watch.log()
    assert "Traceback" not in watch.log()


def test_a_latched_alarm_survives_kill_9_and_is_cleared_by_its_timer(rig):
    device, _ = one_collector(rig, auto_clear="4 s")
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    device.values[1, 0] = HIGH
    rig.listener.await_event("PDAH-101", "raised", 5)
    device.values[1, 0] = LOW
    rig.listener.await_event("PDAH-101", "latched", 5)
    watch.kill()
    vanished = until(lambda: (a := rig.listener.last("availability")) and not a["online"] and a, 5)
    assert vanished["why"] == "connection lost"
    watch.start()
    assert rig.listener.await_good("DC-101", 8)
    until(lambda: rig.listener.last("availability")["online"], 5)
    # The event was heard before the kill; the state behind it may come only now.
    until(lambda: rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged", 2)
    cleared = rig.listener.await_event("PDAH-101", "cleared", 8)
    assert (cleared["cause"], cleared["seen"]) == ("timer", False)
    until(lambda: rig.listener.alarm("DC-101", "PDAH-101") == "normal", 5)
    rig.ledger().check()


def test_an_on_delay_that_runs_over_a_kill_neither_starts_anew_nor_fires_early(rig):
    delay_s, before_s = 4.5, 2.5
    device, _ = one_collector(rig, on_delay=f"{delay_s} s")
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    device.values[1, 0] = HIGH
    until(lambda: rig.listener.dp("DC-101")["raw"] == HIGH, 5)
    began_s = time.monotonic()
    time.sleep(before_s)
    watch.kill()
    killed_s = time.monotonic()
    time.sleep(2.0)  # nobody watches: this counts for nothing
    watch.start()
    until(lambda: rig.listener.dp("DC-101")["raw"] == HIGH and rig.listener.last("availability")["online"], 8)
    back_s = time.monotonic()
    rig.listener.await_event("PDAH-101", "raised", 10)
    raised = next(
        one
        for one in rig.listener.of("events")
        if (one.json["tag"], one.json["happened"]) == ("PDAH-101", "raised")
    )
    watched_s = (killed_s - began_s) + (raised.at_s - back_s)
    assert watched_s >= delay_s - 0.6, "fired early: the subscriber hears of the first reading up to 0.2 s late"
    assert raised.at_s - back_s <= delay_s - before_s + 2.5, "what was counted before the kill was lost"


def test_a_crash_loop_does_not_keep_an_alarm_from_being_raised(rig):
    device, _ = one_collector(rig, on_delay="4 s")
    device.values[1, 0] = HIGH
    watch = rig.daemon()
    for _ in range(12):
        time.sleep(1.6)  # with the start before it, about two seconds
        if rig.listener.events(tag="PDAH-101", happened="raised"):
            break
        watch.kill()
        watch.start()
    assert rig.listener.events(tag="PDAH-101", happened="raised"), f"not within {watch.starts} starts of 2 s"


def test_a_daemon_told_to_stop_at_any_moment_of_its_start_ends_quietly(rig):
    one_collector(rig)
    watch = rig.daemon(ready=False)
    for after_s in (0.05, 0.3, 0.4, 0.45, 0.5, 0.55, 0.65):
        time.sleep(after_s)
        code, took_s = watch.stop()
        assert code in (0, -signal.SIGTERM), f"before it listens to signals the system ends it: {watch.tail()}"
        assert took_s <= 2.5
        watch.start(ready=False)
    assert "Traceback" not in watch.log()
