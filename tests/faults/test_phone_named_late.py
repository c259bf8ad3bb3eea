"""People are named, first or anew, while an alarm stands that nobody has acknowledged: they are called for it."""

import pytest

from tests.peers.http_receiver import HttpReceiver
from tests.rig import sites
from tests.rig.rig import Rig
from tests.rig.waiting import until

PHONE = {
    "people": {"anna": {"channels": {"push": {"url_env": "ANNA_PUSH"}}}},
    "routes": {"all": {"steps": [{"people": ["anna"]}]}},
    "gather": "0 s",
}


class Mill:
    """One collector, one gateway, and a phone that the site file may have."""

    def __init__(self, rig, gateway):
        self.rig, self.gateway = rig, gateway
        self.device = rig.field.device()
        self.device.values[1, 0] = 4000
        self.environ = {"ANNA_PUSH": gateway.url}

    def write(self, phone=None):
        links = {"mill": sites.link(self.device.port)}
        collectors = {"DC-101": sites.collector(101, "mill", 1, 0, bands={"PDAH-101": sites.band()})}
        self.rig.site(links, collectors, **({} if phone is None else {"phone": phone}))

    def start(self):
        self.watch = self.rig.daemon(**self.environ)
        self.rig.listener.await_good("DC-101", 8)

    def reload(self, phone=None):
        before = len(self.rig.listener.events(happened="reloaded"))
        self.write(phone)
        self.watch.hang_up()
        until(lambda: len(self.rig.listener.events(happened="reloaded")) > before, 8, self.watch.tail)

    def alarm(self):
        self.device.values[1, 0] = 8000
        self.rig.listener.await_event("PDAH-101", "raised", 8)

    def called(self):
        return [one.body for one in self.gateway.manners.arrivals if "PDAH-101" in one.body]


@pytest.fixture
def mill(tmp_path):
    with Rig(tmp_path) as rig, HttpReceiver() as gateway:
        yield Mill(rig, gateway)


def test_who_is_named_first_while_an_alarm_stands_is_called_for_it(mill):
    mill.write()
    mill.start()
    mill.alarm()

    mill.reload(PHONE)

    (body,) = until(mill.called, 8)
    assert "DP 8 inH2O reached the high band" in body


def test_who_is_named_again_after_a_mistake_is_called_again_and_the_journal_says_that_nobody_was(mill):
    mill.write(PHONE)
    mill.start()
    mill.alarm()
    until(mill.called, 8)

    mill.reload()
    assert mill.rig.listener.events(happened="phone_off")
    mill.reload(PHONE)

    until(lambda: len(mill.called()) > 1, 8, mill.watch.tail)


def test_a_kill_and_a_start_call_nobody_twice_for_what_was_told(mill):
    mill.write(PHONE)
    mill.start()
    mill.alarm()
    until(mill.called, 8)
    until(lambda: mill.rig.listener.events(happened="notified"), 8)

    mill.watch.kill()
    mill.start()
    mill.device.values[1, 0] = 8100
    mill.rig.listener.await_good("DC-101", 8)

    assert len({body.rpartition("#")[2] for body in mill.called()}) == 1
