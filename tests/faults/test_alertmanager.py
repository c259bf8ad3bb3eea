"""The Prometheus way, whole: a register changes and a webhook hears of it; the programs between are real.

The rules and the route are the shipped ones; only their waiting times are shortened. One plant serves all tests:
each has its own collectors.
"""

import contextlib
import re
import time

import pytest

from tests.house.test_alerting import RULES
from tests.peers.alertmanager import Alertmanager
from tests.peers.fault_device import Fault, Kind
from tests.peers.prometheus import Prometheus
from tests.peers.webhook import Webhook
from tests.rig import sites
from tests.rig.asking import by_shell
from tests.rig.rig import Rig
from tests.rig.waiting import until

HIGH, LOW = 8000, 4000
FOR = {"5m": "2s", "2m": "1s", "1m": "1s"}
LINKS = {"mill": 101, "kiln": 102, "yard": 103, "quay": 104}


class Plant:
    """Four links with a collector each, watched by all three programs."""

    def __init__(self, folder, ends):
        self.rig = ends.enter_context(Rig(folder))
        self.devices = {name: self.rig.field.device() for name in LINKS}
        for device in self.devices.values():
            device.values[1, 0] = LOW
        self.rig.site(
            {name: sites.link(one.port, lost={"on_delay": "200 ms"}) for name, one in self.devices.items()},
            {f"DC-{number}": self._collector(name, number) for name, number in LINKS.items()},
            commands={"machine": "all"},
        )
        self.watch = self.rig.daemon()
        self.webhook = ends.enter_context(Webhook())
        manager = ends.enter_context(Alertmanager(folder, self.webhook.url))
        rules = re.sub(r"for: (\w+)", lambda found: f"for: {FOR.get(found[1], found[1])}", RULES.read_text())
        target = f"127.0.0.1:{self.rig.http_port}"
        self.prometheus = ends.enter_context(
            Prometheus(folder, target, rules=rules, alertmanager_port=manager.port)
        )
        until(lambda: manager.is_ready, 10, "no Alertmanager")
        self.prometheus.wait_for('sum(cakewatch_reading_quality{role="dp"})', 2 * len(LINKS))

    def _collector(self, link, number):
        priority = "urgent" if link == "mill" else "high"
        bands = {f"PDAH-{number}": sites.band(priority=priority)}
        return sites.collector(number, link, 1, 0, bands=bands)

    def shows(self, link, word):
        self.devices[link].values[1, 0] = word

    def heard(self, alertname, status="firing", **labels):
        return [one for one in self.webhook.of(alertname, status) if labels.items() <= one.labels.items()]

    def hears(self, alertname, status="firing", within_s=10.0, **labels):
        """The first alert of that name with those labels, as soon as it comes."""

        def everything():
            return [(one.status, one.labels) for one in self.webhook.heard]

        return until(lambda: self.heard(alertname, status, **labels), within_s, everything)[0]


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    with contextlib.ExitStack() as ends:
        yield Plant(tmp_path_factory.mktemp("plant"), ends)


def test_a_register_reaches_the_webhook_and_its_return_does(plant):
    began_s = time.monotonic()
    plant.shows("mill", HIGH)
    alarm = plant.hears("CakewatchAlarm", collector="DC-101")
    took_s = alarm.at_s - began_s

    assert alarm.path == "/call"
    assert alarm.labels["tag"] == "PDAH-101"
    assert (alarm.labels["priority"], alarm.labels["severity"]) == ("urgent", "page")
    assert alarm.annotations["summary"] == "DC-101 PDAH-101 (urgent) is active"
    assert alarm.annotations["dp"] == "DP now 8.0 inH2O"
    # Scan 0.1 s, scrape and evaluation 0.2 s each, group wait 0.1 s, all of it shortened for the test.
    assert took_s < 5

    plant.shows("mill", LOW)
    plant.hears("CakewatchAlarm", "resolved", tag="PDAH-101")


def test_an_acknowledgement_ends_the_alert_while_the_alarm_stands(plant):
    plant.shows("kiln", HIGH)
    plant.hears("CakewatchAlarm", collector="DC-102")
    time.sleep(1)
    assert not plant.heard("CakewatchAlarm", "resolved", collector="DC-102")

    code, said = by_shell(plant.watch.site, "ack", "PDAH-102", "--by", "anna")
    assert code == 0, said
    plant.hears("CakewatchAlarm", "resolved", collector="DC-102")

    assert plant.prometheus.value('cakewatch_alarm_state{tag="PDAH-102"}') == 4


def test_a_lost_link_is_told_once_and_keeps_the_readings_behind_it_quiet(plant):
    plant.rig.field.suffer(plant.devices["quay"], Fault(Kind.EXCEPTION, code=4))
    plant.rig.field.refuse(plant.devices["yard"])
    plant.rig.field.hang_up(plant.devices["yard"])

    lost = plant.hears("CakewatchAlarm", link="yard", within_s=15)
    other = plant.hears("CakewatchReadingBad", collector="DC-104", within_s=15)
    for behind in ('CakewatchReadingBad",collector="DC-103"', 'CakewatchLinkLost",link="yard"'):
        plant.prometheus.wait_for(f'ALERTS{{alertname="{behind},alertstate="firing"}}', 1)
    time.sleep(1.5)

    assert lost.annotations["summary"] == "link yard yard-LOST (high) is active"
    assert other.path == "/shift"
    assert not plant.heard("CakewatchReadingBad", collector="DC-103")
    assert not plant.heard("CakewatchLinkLost", link="yard")


def test_a_watcher_that_is_gone_is_missed_and_its_alarms_do_not_look_resolved(plant):
    plant.rig.field.suffer(plant.devices["quay"], Fault())
    plant.shows("quay", HIGH)
    plant.hears("CakewatchAlarm", collector="DC-104")
    plant.watch.kill()

    gone = plant.hears("CakewatchGone")
    time.sleep(1.5)

    assert gone.annotations["summary"] == "The watcher has gone quiet: nothing is watched"
    assert not plant.heard("CakewatchAlarm", "resolved", collector="DC-104")

    plant.watch.start()
    plant.hears("CakewatchGone", "resolved")
    plant.shows("quay", LOW)
    plant.hears("CakewatchAlarm", "resolved", collector="DC-104")
