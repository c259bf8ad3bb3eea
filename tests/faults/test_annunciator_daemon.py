"""The annunciator at the running daemon: horn, silence, sound again, heartbeat; no other write over the wire."""

import time

from tests.peers.recording_device import RecordingDevice
from tests.rig import sites
from tests.rig.asking import by_shell
from tests.rig.waiting import until

HIGH, LOW = 8000, 4000
HORN, BEACON, HEARTBEAT = (9, 5, 0), (9, 6, 20), (9, 6, 21)


class Panel(RecordingDevice):
    """An annunciator that also answers the reads of DC-101's and DC-102's transmitters."""

    def __init__(self):
        super().__init__()
        self.values = {(1, 0): LOW, (2, 0): LOW}

    def _word(self, unit_id, function, address):
        return self.values.get((unit_id, address), 0)

    def _data(self, unit_id, function, address, count):
        if function not in (3, 4):
            return super()._data(unit_id, function, address, count)
        return b"".join(self._word(unit_id, function, address + i).to_bytes(2, "big") for i in range(count))


def annunciator(**changes):
    return {
        "link": "mill-gateway",
        "unit_id": 9,
        "least_priority": "medium",
        "heartbeat_period": "1 s",
        "horn": {"table": "coil", "protocol_address": 0},
        "beacon": {"table": "holding register", "protocol_address": 20},
        "heartbeat": {"table": "holding register", "protocol_address": 21},
    } | changes


def site(rig, panel, **more):
    return rig.site(
        {"mill-gateway": sites.link(panel.port)},
        {
            f"DC-10{unit}": sites.collector(
                100 + unit, "mill-gateway", unit, 0, bands={f"PDAH-10{unit}": sites.band()}
            )
            for unit in (1, 2)
        },
        **more,
    )


def shows(panel, entry):
    return panel.written.get(entry)


def test_the_horn_sounds_is_silenced_sounds_again_and_nothing_else_is_ever_written(rig):
    panel = rig.field.run(_opened(rig))
    path = site(rig, panel, annunciator=annunciator())
    watch = rig.daemon()
    rig.listener.await_good("DC-102", 8)
    until(lambda: shows(panel, HORN) == 0, 8, lambda: panel.writes)

    panel.values[1, 0] = HIGH
    until(lambda: shows(panel, HORN) and shows(panel, BEACON), 8, lambda: panel.writes)
    assert by_shell(path, "silence")[0] == 0
    until(lambda: not shows(panel, HORN), 8, lambda: panel.writes)
    assert rig.listener.alarm("DC-101", "PDAH-101") == "unacknowledged"
    assert shows(panel, BEACON)

    panel.values[2, 0] = HIGH
    until(lambda: shows(panel, HORN), 8, lambda: panel.writes)
    assert by_shell(path, "ack", "PDAH-101", "PDAH-102")[0] == 0
    until(lambda: not shows(panel, HORN), 8, lambda: panel.writes)

    before = shows(panel, HEARTBEAT)
    until(lambda: shows(panel, HEARTBEAT) != before, 8, lambda: panel.writes)
    watch.kill()
    watch.start()
    time.sleep(1.5)
    site(rig, panel)
    watch.hang_up()
    rig.listener.await_event(None, "reloaded", 8)
    written = len(panel.writes)
    time.sleep(2.0)

    assert len(panel.writes) == written, "the annunciator was taken out of the site file"
    assert {write[:3] for write in panel.writes} == {HORN, BEACON, HEARTBEAT}


def test_a_horn_that_the_site_file_leaves_behind_is_switched_off_first(rig):
    panel = rig.field.run(_opened(rig))
    site(rig, panel, annunciator=annunciator())
    watch = rig.daemon()
    rig.listener.await_good("DC-102", 8)
    panel.values[1, 0] = HIGH
    until(lambda: shows(panel, HORN) and shows(panel, BEACON), 8, lambda: panel.writes)
    site(rig, panel, annunciator=annunciator(horn={"table": "coil", "protocol_address": 7}))
    watch.hang_up()
    rig.listener.await_event(None, "reloaded", 10)

    assert not shows(panel, HORN)
    until(lambda: shows(panel, (9, 5, 7)), 8, lambda: panel.writes)


def test_a_daemon_that_is_killed_leaves_a_heartbeat_that_stands_still(rig):
    panel = rig.field.run(_opened(rig))
    site(rig, panel, annunciator=annunciator())
    watch = rig.daemon()
    until(lambda: (shows(panel, HEARTBEAT) or 0) >= 2, 10, lambda: panel.writes)
    watch.kill()
    time.sleep(0.3)
    stood, written = shows(panel, HEARTBEAT), len(panel.writes)
    time.sleep(2.5)

    assert (shows(panel, HEARTBEAT), len(panel.writes)) == (stood, written)


def test_without_an_annunciator_in_the_file_nothing_is_written(rig):
    panel = rig.field.run(_opened(rig))
    path = site(rig, panel)
    rig.daemon()
    rig.listener.await_good("DC-101", 8)
    panel.values[1, 0] = HIGH
    rig.listener.await_event("PDAH-101", "raised", 8)
    for command in (["silence"], ["test-alarm", "PDAH-101"], ["ack", "PDAH-101"]):
        assert by_shell(path, *command)[0] == 0
    time.sleep(1.0)

    assert panel.writes == []


def test_an_annunciator_that_takes_nothing_is_told_of(rig):
    panel = rig.field.run(_opened(rig))
    site(rig, panel, annunciator=annunciator())
    watch = rig.daemon()
    until(lambda: shows(panel, HORN) == 0, 8, lambda: panel.writes)
    rig.field.call(lambda: panel.refuses.add((9, HORN[2])))
    panel.values[1, 0] = HIGH
    told = rig.listener.await_event(None, "annunciator_lost", 25)

    assert "horn" in told["text"]
    assert watch.metric("cakewatch_link_unwritten_outputs", link="mill-gateway") == 1
    rig.field.call(panel.refuses.clear)
    rig.listener.await_event(None, "annunciator_restored", 15)


async def _opened(rig):
    panel = Panel()
    await panel.__aenter__()
    rig.field.at_the_end(lambda: panel.__aexit__(None, None, None))
    return panel
