"""SIGHUP: a valid change is followed, a wrong one refused; untouched collectors and latches notice neither."""

import signal
import socket
import time
from itertools import pairwise

import yaml

from tests.peers.mosquitto import free_port
from tests.rig import sites
from tests.rig.waiting import until

HIGH, LOW = 8000, 4000
PERIOD_S = 0.1
#: For a machine with other things to do.
SLACK_S = 0.3


class Mill:
    """DC-101 and DC-102, each on a link of its own."""

    def __init__(self, rig):
        self.rig = rig
        self.devices = [rig.field.device(), rig.field.device()]
        for device in self.devices:
            device.values[1, 0] = LOW
        self.links = {f"link-{i}": sites.link(device.port) for i, device in enumerate(self.devices)}
        self.collectors = {
            f"DC-{101 + i}": sites.collector(101 + i, f"link-{i}", 1, 0, bands=bands(101 + i)) for i in (0, 1)
        }
        self.path = self.write()
        self.watch = rig.daemon()
        for name in self.collectors:
            rig.listener.await_good(name, 8)

    def write(self, **changes):
        return self.rig.site(self.links, self.collectors, **changes)

    def reload(self, happened="reloaded", **changes):
        before = len(self.rig.listener.events(happened=happened))
        self.write(**changes)
        self.watch.hang_up()
        until(lambda: len(self.rig.listener.events(happened=happened)) > before, 8, self.watch.tail)

    def latch(self, number):
        device, after = self.devices[number - 101], self.rig.listener.last_seq()
        device.values[1, 0] = HIGH
        self.rig.listener.await_event(f"PDAH-{number}", "raised", 5, after)
        device.values[1, 0] = LOW
        self.rig.listener.await_event(f"PDAH-{number}", "latched", 5, after)


def bands(number, **more):
    return {f"PDAH-{number}": sites.band()} | more


def longest_gap_s(requests):
    return max(later.at_s - earlier.at_s for earlier, later in pairwise(requests))


def test_a_changed_collector_is_followed_and_the_other_loses_neither_poll_nor_latch(rig):
    mill = Mill(rig)
    mill.latch(102)
    untouched = mill.devices[1]
    connections, asked_before = untouched.accepted, len(untouched.requests)
    third = rig.field.device()
    third.values[1, 0] = HIGH
    mill.links["link-2"] = sites.link(third.port)
    mill.collectors["DC-103"] = sites.collector(103, "link-2", 1, 0, bands=bands(103))
    mill.collectors["DC-101"] = sites.collector(
        101, "link-0", 1, 0, bands=bands(101, **{"PDAHH-101": sites.band("7.5 inH2O")})
    )
    mill.reload()
    mill.devices[0].values[1, 0] = HIGH
    for tag, happened in (("PDAHH-101", "raised"), ("PDAH-101", "suppressed"), ("PDAH-103", "raised")):
        rig.listener.await_event(tag, happened, 8)
    time.sleep(0.5)
    requests = rig.field.requests(untouched)[asked_before - 1 :]
    assert longest_gap_s(requests) <= 2 * PERIOD_S + SLACK_S
    assert untouched.accepted == connections, "the untouched link was connected anew"
    assert mill.devices[0].accepted == 1, "its own settings had not changed either"
    assert rig.listener.alarm("DC-102", "PDAH-102") == "latched_unacknowledged"
    assert rig.listener.events(tag="PDAH-102", happened="cleared") == []
    assert {state.json["points"]["dp"]["quality"] for state in rig.listener.of("collectors/DC-102/state")[5:]} == {
        "good"
    }
    rig.ledger().check()
    rig.listener.check()


def test_a_removed_band_in_alarm_ends_with_an_event_and_never_comes_back_from_the_dead(rig):
    mill = Mill(rig)
    mill.latch(101)
    whole = mill.collectors["DC-101"]
    mill.collectors["DC-101"] = sites.collector(101, "link-0", 1, 0)
    mill.reload()
    removed = rig.listener.await_event("PDAH-101", "removed", 5)
    assert (removed["cause"], removed["state_before"], removed["state"]) == (
        "site_file", "latched_unacknowledged", "normal",
    )  # fmt: skip
    until(lambda: rig.listener.of("collectors/DC-101/alarms/PDAH-101")[-1].payload == b"", 5, "its topic stays")
    mill.watch.kill()
    mill.collectors["DC-101"] = whole
    mill.write()
    mill.watch.start()
    until(lambda: rig.listener.alarm("DC-101", "PDAH-101"), 8)
    assert rig.listener.alarm("DC-101", "PDAH-101") == "normal"
    mill.latch(101)
    rig.ledger().check()


def test_a_removed_collector_is_no_longer_asked_nor_told(rig):
    mill = Mill(rig)
    mill.latch(102)
    del mill.collectors["DC-102"], mill.links["link-1"]
    mill.reload()
    rig.listener.await_event("PDAH-102", "removed", 5)
    until(lambda: rig.listener.of("collectors/DC-102/state")[-1].payload == b"", 5)
    until(lambda: rig.listener.of("collectors/DC-102/alarms/PDAH-102")[-1].payload == b"", 5)
    asked = len(mill.devices[1].requests)
    time.sleep(0.4)
    assert len(mill.devices[1].requests) == asked
    assert mill.devices[1].connections == 0


def test_a_wrong_file_is_refused_with_an_event_and_watching_goes_on(rig):
    mill = Mill(rig)
    mill.latch(101)
    asked_before, connections = len(mill.devices[0].requests), mill.devices[0].accepted
    good = mill.path.read_text()
    for wrong in (good.replace("above:", "abvoe:"), "site: [", "", good + "\x00"):
        before = len(rig.listener.events(happened="reload_refused"))
        mill.path.write_text(wrong)
        mill.watch.hang_up()
        until(lambda n=before: len(rig.listener.events(happened="reload_refused")) > n, 8, mill.watch.tail)
    assert "above" in mill.watch.log(), "the log names the fault"
    assert longest_gap_s(rig.field.requests(mill.devices[0])[asked_before - 1 :]) <= 2 * PERIOD_S + SLACK_S
    assert mill.devices[0].accepted == connections
    assert rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged"
    mill.path.write_text(good)
    mill.watch.hang_up()
    until(lambda: rig.listener.events(happened="reloaded"), 8, mill.watch.tail)


def test_many_hang_ups_at_once_end_in_the_last_file(rig):
    mill = Mill(rig)
    for above in ("6.9 inH2O", "6.8 inH2O", "6.7 inH2O", "3 inH2O"):
        for name, number in (("DC-101", 101), ("DC-102", 102)):
            link = f"link-{number - 101}"
            mill.links[link] = sites.link(
                mill.devices[number - 101].port, timeout=f"{200 + int(float(above[:1]))} ms"
            )
            mill.collectors[name] = sites.collector(
                number, link, 1, 0, bands={f"PDAH-{number}": sites.band(above)}
            )
        mill.write()
        for _ in range(4):
            mill.watch.hang_up()
            time.sleep(0.01)
    for number in (101, 102):
        raised = rig.listener.await_event(f"PDAH-{number}", "raised", 10)
        assert raised["setpoint"] == 3
    assert mill.watch.health()[0] == 200
    assert "Traceback" not in mill.watch.log()
    assert "Task exception" not in mill.watch.log()


def test_a_hang_up_at_any_moment_of_the_start_harms_nothing(rig):
    mill = Mill(rig)
    for after_s in (0.3, 0.4, 0.45, 0.5, 0.55):
        mill.watch.kill()
        mill.watch.start(ready=False)
        time.sleep(after_s)
        for _ in range(5):
            mill.watch.hang_up()
            time.sleep(0.005)
        if until(lambda: mill.watch.is_up() or mill.watch.has_ended(), 10) and mill.watch.has_ended():
            assert mill.watch.wait(1) == -signal.SIGHUP, "before it listens to signals the system ends it"
    mill.watch.kill()
    mill.watch.start()
    assert rig.ledger().all_told
    assert "Traceback" not in mill.watch.log()
    assert rig.listener.events(happened="http_not_moved") == []


def test_told_to_stop_in_the_middle_of_a_reload_it_stops(rig):
    mill = Mill(rig)
    for after_s in (0.0, 0.01, 0.02, 0.05):
        mill.links["link-0"] = sites.link(mill.devices[0].port, timeout=f"{200 + int(after_s * 1000)} ms")
        mill.write()
        mill.watch.hang_up()
        time.sleep(after_s)
        code, took_s = mill.watch.stop()
        assert code == 0, mill.watch.tail()
        assert took_s <= 2.0
        mill.watch.start()
    assert "Traceback" not in mill.watch.log()
    ledger = rig.ledger()
    ledger.check()
    assert len([one for one in ledger.journal if one["happened"] == "stopped"]) == 4


def test_a_reload_that_wants_a_taken_http_port_says_so_and_the_rest_is_followed(rig):
    mill = Mill(rig)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        mill.collectors["DC-101"] = sites.collector(101, "link-0", 1, 0, bands={"PDAH-101": sites.band("3 inH2O")})
        mill.write(http={"port": taken.getsockname()[1]})
        mill.watch.hang_up()
        rig.listener.await_event("PDAH-101", "raised", 8)
        said = rig.listener.await_event(None, "http_not_moved", 5)
        assert str(taken.getsockname()[1]) in said["text"]
        assert mill.watch.health()[0] == 200, "the old address stays"
    mill.reload()
    until(mill.watch.is_up, 5)
    assert mill.watch.health()[0] == 200
    assert "Traceback" not in mill.watch.log()


def test_a_broker_that_a_reload_adds_is_told_what_happens_from_then_on(rig):
    device = rig.field.device()
    device.values[1, 0] = LOW
    links = {"gateway": sites.link(device.port)}
    collectors = {"DC-101": sites.collector(101, "gateway", 1, 0, bands=bands(101))}
    path = rig.site(links, collectors)
    without = yaml.safe_load(path.read_text())
    del without["mqtt"]
    sites.write(path, without)
    watch = rig.daemon()
    until(lambda: watch.metric("cakewatch_link_connected", link="gateway") == 1, 8)
    rig.site(links, collectors)
    watch.hang_up()
    rig.listener.await_good("DC-101", 8)
    device.values[1, 0] = HIGH
    rig.listener.await_event("PDAH-101", "raised", 8)
    assert "Traceback" not in watch.log()


def test_a_reload_moves_to_another_http_port_and_back(rig):
    mill = Mill(rig)
    other = free_port()
    mill.reload(http={"port": other})
    old, mill.watch.http_port = mill.watch.http_port, other
    until(mill.watch.is_up, 5)
    mill.watch.http_port = old
    assert not mill.watch.is_up()
    mill.reload()
    until(mill.watch.is_up, 5)


def test_an_alarm_whose_band_went_while_the_daemon_was_down_ends_with_an_event(rig):
    mill = Mill(rig)
    mill.latch(101)
    mill.watch.kill()
    mill.collectors["DC-101"] = sites.collector(101, "link-0", 1, 0)
    mill.write()
    mill.watch.start()
    removed = rig.listener.await_event("PDAH-101", "removed", 8)
    assert (removed["cause"], removed["state_before"]) == ("site_file", "latched_unacknowledged")
    until(lambda: rig.listener.of("collectors/DC-101/alarms/PDAH-101")[-1].payload == b"", 5, "its topic stays")
    rig.ledger().check()
