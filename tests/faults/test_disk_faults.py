"""A disk that is full and a journal that is broken: the watch goes on, says so, and mends itself."""

import time

import pytest

from tests.rig.load import one_collector
from tests.rig.small_disk import small_disk
from tests.rig.waiting import until

HIGH, LOW = 8000, 4000
PAGE = 4096


@pytest.fixture(params=[True, False], ids=["a full file system", "a bound on file size"])
def disk(request, rig):
    with small_disk(rig.path / "disk", mounted=request.param) as made:
        yield made
        rig.close()  # the daemon must be gone before the file system is


def watched(rig, disk):
    """One collector that flaps every half second or so, its store on the small disk."""
    rig.folder = disk.folder / "store"
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    return device, watch


def flapping():
    return HIGH if int(time.monotonic() / 0.25) % 2 else LOW


def is_journal_ill(watch):
    code, report = watch.health()
    return code == 503 and report["checks"]["journal"] != "ok"


def test_a_full_disk_stops_neither_judging_nor_telling_and_is_made_good_when_there_is_room(rig, disk):
    device, watch = watched(rig, disk)
    device.values[1, 0] = flapping
    rig.listener.await_event("PDAH-101", "raised", 5)
    disk.fill(watch.pid)
    until(lambda: is_journal_ill(watch), 20, lambda: (watch.health(), watch.tail()))
    said = watch.health()[1]["checks"]["journal"]
    assert str(rig.folder / "journal.db") in said
    assert said.split(": ", 1)[1] in watch.log(), "the log says the same"
    others = {name: check for name, check in watch.health()[1]["checks"].items() if name != "journal"}
    assert set(others.values()) == {"ok"}
    after, written = rig.listener.last_seq(), len(rig.ledger(0).journal)
    for happened in ("raised", "latched"):
        rig.listener.await_event("PDAH-101", happened, 8, after)
    until(lambda: rig.listener.last_seq() >= after + 8, 15, "it went on telling")
    assert len(rig.ledger(0).journal) <= written + 4, "the disk is not full"
    assert watch.metric("cakewatch_journal_healthy") == 0
    assert watch.metric("cakewatch_journal_waiting_events") > 0
    disk.make_room(watch.pid)
    until(lambda: watch.health()[0] == 200, 20, watch.health)
    device.values[1, 0] = LOW
    until(lambda: rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged", 5)
    until(lambda: watch.metric("cakewatch_journal_waiting_events") == 0, 10)
    ledger = rig.ledger()
    ledger.check()
    print(ledger.counts)
    watch.kill()
    watch.start()
    until(lambda: rig.listener.last("availability")["online"], 8)
    until(lambda: rig.listener.dp("DC-101")["quality"] == "good", 8)
    assert rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged"
    rig.ledger().check()
    rig.listener.check()


def test_a_daemon_can_be_stopped_while_the_disk_is_full(rig, disk):
    device, watch = watched(rig, disk)
    device.values[1, 0] = flapping
    disk.fill(watch.pid)
    until(lambda: is_journal_ill(watch), 20, lambda: (watch.health(), watch.tail()))
    code, took_s = watch.stop()
    assert took_s <= 2.0
    assert code == 0
    assert "not everything was written" in watch.log()
    offline = until(lambda: (a := rig.listener.last("availability")) and not a["online"] and a, 3)
    assert offline["why"] == "stopped"
    assert "Traceback" not in watch.log()


def holds_events(page):
    return b'"happened":"latched"' in page and b"CREATE TABLE" not in page


def break_file(path, first, last):
    with path.open("r+b") as file:
        file.seek(first)
        file.write(b"\xa5" * (last - first))


def test_a_journal_beyond_reading_is_set_aside_at_the_start_and_an_event_says_so(rig):
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    watch.stop()
    journal = rig.folder / "journal.db"
    break_file(journal, 0, journal.stat().st_size)
    watch.start()
    said = rig.listener.await_event(None, "store_set_aside", 8)
    aside = list(rig.folder.glob("journal.db.broken-*"))
    assert len(aside) == 1
    assert aside[0].name in said["text"]
    assert watch.health()[0] == 200
    device.values[1, 0] = HIGH
    rig.listener.await_event("PDAH-101", "raised", 8)
    assert "Traceback" not in watch.log()


def test_a_journal_with_a_broken_page_of_events_keeps_its_latch(rig):
    device, _ = one_collector(rig)
    watch = rig.daemon()
    rig.listener.await_good("DC-101", 8)
    for _ in range(12):
        after = rig.listener.last_seq()
        device.values[1, 0] = HIGH
        rig.listener.await_event("PDAH-101", "raised", 5, after)
        device.values[1, 0] = LOW
        rig.listener.await_event("PDAH-101", "latched", 5, after)
    watch.stop()
    journal = rig.folder / "journal.db"
    pages = [
        at for at in range(0, journal.stat().st_size, PAGE) if holds_events(journal.read_bytes()[at : at + PAGE])
    ]
    assert len(pages) >= 2
    for at in pages:
        break_file(journal, at, at + PAGE)
    watch.start()
    said = rig.listener.await_event(None, "store_set_aside", 8)
    rig.listener.await_good("DC-101", 8)
    kept = rig.listener.alarm("DC-101", "PDAH-101") == "latched_unacknowledged"
    assert kept != ("latches are lost" in said["text"]), said["text"]
    assert kept, "the page of the latch was whole"
