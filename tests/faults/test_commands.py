"""Commands at the running daemon: three doors, one rulebook, told to a real subscriber, kept over a kill."""

import json
import os
import sqlite3
import threading

import pytest

from tests.rig import sites
from tests.rig.asking import by_http, by_mqtt, by_shell, now
from tests.rig.waiting import until

HIGH, LOW = 8000, 4000
TOKEN = "a-token-of-some-length-for-anna"


class Mill:
    """DC-101, whose PDAH-101 the test raises."""

    def __init__(self, rig, *, commands=None, mqtt_commands=True):
        self.rig = rig
        self.device = rig.field.device()
        self.device.values[1, 0] = LOW
        mqtt = {"commands": "yes"} if mqtt_commands else {}
        people = {"anna": {"may": "all", "token_env": "CAKEWATCH_TOKEN_ANNA"}, "ben": {"may": ["acknowledge"]}}
        self.path = rig.site(
            {"mill-gateway": sites.link(self.device.port)},
            {"DC-101": sites.collector(101, "mill-gateway", 1, 0, bands={"PDAH-101": sites.band()})},
            commands={"people": people} | (commands or {}),
            mqtt=mqtt,
        )
        self.watch = rig.daemon(CAKEWATCH_TOKEN_ANNA=TOKEN)
        rig.listener.await_good("DC-101", 8)

    def raise_it(self):
        after = self.rig.listener.last_seq()
        self.device.values[1, 0] = HIGH
        return self.rig.listener.await_event("PDAH-101", "raised", 5, after)

    def shell(self, *words):
        os.environ["CAKEWATCH_TOKEN_ANNA"] = TOKEN
        return by_shell(self.path, *words)


def asked(command, command_id, tag="PDAH-101", by="anna", **more):
    return {"command_id": command_id, "command": command, "tag": tag, "by": by, **more}


def test_a_person_at_the_shell_acknowledges_and_the_subscriber_hears_of_it(rig):
    mill = Mill(rig)
    mill.raise_it()
    code, text = mill.shell("ack", "PDAH-101", "--by", "shift-lead")

    assert code == 0, text
    assert "PDAH-101 acknowledged by shift-lead" in text
    event = rig.listener.await_event("PDAH-101", "acknowledged", 5)
    assert (event["by"], event["facts"]["door"]) == ("shift-lead", "command_line")
    until(lambda: rig.listener.alarm("DC-101", "PDAH-101") == "acknowledged", 5, rig.listener.short)
    assert mill.shell("ack", "PDAH-101")[0] == 1
    assert mill.shell("clear", "PDAH-101")[0] == 1
    rig.listener.check()


def test_the_same_command_through_mqtt_and_http_is_carried_out_once(rig):
    mill = Mill(rig)
    mill.raise_it()
    first = by_mqtt(rig.broker.port, asked("acknowledge", "c-1", sent_at=now()))
    status, again = by_http(rig.http_port, asked("acknowledge", "c-1"), Authorization=f"Bearer {TOKEN}")

    assert (first["code"], first["repeated"]) == ("done", False)
    assert (status, again["code"], again["repeated"]) == (200, "done", True)
    assert again["at"] == first["at"]
    assert len(rig.listener.events(happened="acknowledged")) == 1


def test_a_command_that_is_late_or_from_a_stranger_changes_nothing(rig):
    mill = Mill(rig)
    mill.raise_it()
    late = by_mqtt(rig.broker.port, asked("acknowledge", "c-1", sent_at="2020-01-01T00:00:00Z"))
    stranger = by_mqtt(rig.broker.port, asked("acknowledge", "c-2", by="nobody", sent_at=now()))
    not_hers = by_mqtt(rig.broker.port, asked("clear", "c-3", by="ben", sent_at=now()))

    assert [late["code"], stranger["code"], not_hers["code"]] == ["late", "unknown_person", "not_allowed"]
    assert rig.listener.events(happened="acknowledged") == []


def test_beyond_loopback_rules_a_wrong_token_is_refused(rig):
    mill = Mill(rig)
    mill.raise_it()
    status, answer = by_http(rig.http_port, asked("acknowledge", "c-1"), Authorization="Bearer wrong-token-000000")

    assert status in (401, 403)
    assert answer["done"] is False
    assert rig.listener.events(happened="acknowledged") == []


def test_with_commands_off_the_broker_is_never_asked_for_any(rig):
    mill = Mill(rig, mqtt_commands=False)
    mill.raise_it()

    assert by_mqtt(rig.broker.port, asked("acknowledge", "c-1", sent_at=now())) is None
    assert rig.listener.events(happened="acknowledged") == []


def test_a_shelf_and_an_out_of_service_survive_kill_and_end_as_promised(rig):
    mill = Mill(rig)
    mill.raise_it()
    code, text = mill.shell("shelve", "PDAH-101", "--for", "6s", "--reason", "filter change", "--by", "anna")
    assert code == 0, text
    mill.shell("out-of-service", "PDT-101-BAD", "--reason", "loop check", "--by", "ben")
    mill.watch.kill()
    mill.watch.start()

    _, text = mill.shell("alarms", "--held")
    assert "PDT-101-BAD" in text
    assert "loop check" in text
    assert "ben" in text
    rig.listener.await_event("PDAH-101", "unshelved", 15)
    raised = rig.listener.await_event("PDAH-101", "raised", 5, after=2)
    first = rig.listener.events(tag="PDAH-101", happened="raised")[0]
    assert raised["occurrence"] == first["occurrence"]
    until(lambda: rig.listener.alarm("DC-101", "PDT-101-BAD") == "out_of_service", 5, rig.listener.short)
    rig.listener.check()


def test_commands_in_flight_at_a_kill_are_done_once_or_not_at_all(rig):
    """Whoever got no answer sends it again under its id after the restart."""
    mill = Mill(rig)
    mill.raise_it()
    answers = []

    def ask():
        try:
            answers.append(by_http(rig.http_port, asked("acknowledge", "c-1")))
        except OSError as error:
            answers.append(error)

    asking = threading.Thread(target=ask)
    asking.start()
    mill.watch.kill()
    asking.join(20)
    mill.watch.start()
    status, answer = by_http(rig.http_port, asked("acknowledge", "c-1"))

    assert (status, answer["code"]) == (200, "done")
    with sqlite3.connect(f"file:{rig.folder / 'journal.db'}?mode=ro", uri=True) as journal:
        rows = [json.loads(body) for (body,) in journal.execute("SELECT body FROM journal")]
    assert sum(row.get("happened") == "acknowledged" for row in rows) == 1


@pytest.mark.parametrize("command", ["ack", "silence", "alarms"])
def test_without_a_daemon_the_shell_says_so(rig, command):
    mill = Mill(rig)
    mill.watch.stop()
    code, text = mill.shell(command, *(["PDAH-101"] if command == "ack" else []))

    assert code == 3
    assert "no cakewatch is running" in text
    assert "Traceback" not in text


def test_one_dead_link_is_one_alarm_to_the_subscriber(rig):
    device = rig.field.device()
    for unit in range(1, 9):
        device.values[unit, 0] = LOW
    rig.site(
        {"mill-gateway": sites.link(device.port, lost={"on_delay": "100 ms", "off_delay": "100 ms"})},
        {
            f"DC-{100 + unit}": sites.collector(100 + unit, "mill-gateway", unit, 0, bands={
                f"PDAH-{100 + unit}": sites.band()
            })
            for unit in range(1, 9)
        },
    )  # fmt: skip
    rig.daemon()
    for unit in range(1, 9):
        rig.listener.await_good(f"DC-{100 + unit}", 8)
    rig.field.refuse(device)
    rig.listener.await_event("PDT-108-BAD", "suppressed", 10)
    rig.listener.await_event("PDAH-108", "suppressed", 10)
    rig.listener.prove()

    assert [one["tag"] for one in rig.listener.events(happened="raised")] == ["mill-gateway-LOST"]
    rig.listener.check()
    rig.field.listen(device)
    rig.listener.await_event("mill-gateway-LOST", "returned", 15)
    for unit in range(1, 9):
        rig.listener.await_event(f"PDAH-{100 + unit}", "released", 10)
    rig.listener.prove()

    assert len(rig.listener.events(happened="raised")) == 1
