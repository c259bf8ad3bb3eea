"""Journal: every event comes back as it was, and the file itself refuses to be rewritten."""

import dataclasses
import sqlite3

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.remember import journal
from monitor.remember.database import Schema, open_database, transaction
from monitor.troubles import Clue, Suspicion, Trouble
from monitor.words import Event, EventKind
from tests.remember.making import an_event

ANY_TEXT = st.text(st.characters(), max_size=20)
FACTS = st.dictionaries(
    ANY_TEXT, st.one_of(ANY_TEXT, st.integers(), st.booleans(), st.none(), st.floats(allow_nan=False)), max_size=4
)
EVENTS = st.builds(
    Event,
    **{field.name: st.one_of(st.none(), ANY_TEXT) for field in dataclasses.fields(Event) if field.default is None}
    | {name: st.one_of(st.none(), st.sampled_from(enum)) for name, enum in journal._ENUMS.items()}
    | {name: st.one_of(st.none(), st.floats(allow_nan=False)) for name in ("value", "setpoint")}
    | {
        "kind": st.sampled_from(EventKind),
        "happened": ANY_TEXT,
        "text": ANY_TEXT,
        "at_utc_s": st.floats(-1e10, 1e10),
        "seen": st.one_of(st.none(), st.booleans()),
        "facts": FACTS,
        "event_id": st.just("a-1"),
        "seq": st.just(1),
    },
)


def _open(tmp_path) -> sqlite3.Connection:
    connection = open_database(tmp_path / "journal.db", Schema.JOURNAL)
    connection.execute("INSERT INTO cursors VALUES ('mqtt', 0)")
    return connection


@given(EVENTS)
def test_every_event_comes_back_as_it_was(event):
    assert journal.decode(event.seq, event.event_id, event.at_utc_s, journal.encode(event)) == event


def test_every_field_of_an_event_is_kept():
    filled = {
        name: f"a {name}"
        for name in (field.name for field in dataclasses.fields(Event))
        if name
        not in (*journal._ENUMS, "facts", "seq", "event_id", "at_utc_s", "value", "setpoint", "seen", "suspicions")
    }
    enums = {name: next(iter(enum)) for name, enum in journal._ENUMS.items()}
    behind = (
        Suspicion(Trouble.TORN_BAG, 0.6, (Clue("step_down", -1.5, 4.5, "inH2O"),), (Clue("flow_low"),)),
        Suspicion(Trouble.TAP_HOSE_OFF, 0.2),
    )
    event = Event(
        **filled,
        **enums,
        at_utc_s=1.5,
        value=2.0,
        setpoint=6.0,
        seen=False,
        facts={"a": 1},
        seq=3,
        suspicions=behind,
    )
    assert journal.decode(3, "", 1.5, journal.encode(event)) == event


def test_a_text_that_is_not_unicode_cannot_stop_the_journal(tmp_path):
    connection = _open(tmp_path)
    event = dataclasses.replace(an_event("by \udcff", tag="PDAH-\udcff"), seq=1, event_id="a-1")
    journal.add(connection, [event])
    assert journal.after(connection, 0, 1)[0].text == "by \udcff"
    assert len(journal.latest(connection, 1, "PDAH-\udcff")) == 1
    connection.close()


@pytest.mark.parametrize(
    "body", ["{", "[]", "null", '{"kind":"alarm"}', '{"kind":"unheard of","happened":"a","text":"b"}']
)
def test_a_row_that_cannot_be_read_still_is_an_event_to_get_past(body):
    event = journal.decode(7, "a-7", 5.0, body)
    assert (event.seq, event.event_id, event.at_utc_s, event.happened) == (7, "a-7", 5.0, journal.UNREADABLE)


def test_a_field_of_a_newer_version_is_passed_over():
    body = '{"kind":"system","happened":"started","text":"x","not_yet_invented":1}'
    assert journal.decode(1, "a-1", 5.0, body).happened == "started"


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("UPDATE journal SET body = '{}'", "an event is never rewritten"),
        ("DELETE FROM journal", "an outlet has not yet confirmed this event"),
        ("INSERT INTO journal VALUES (2, 'b', 0, NULL, '{}')", "an event goes after the last one"),
        ("INSERT OR REPLACE INTO journal VALUES (3, 'b', 0, NULL, '{}')", "an event goes after the last one"),
        ("UPDATE cursors SET seq = -1", "a cursor only goes forward"),
    ],
)
def test_the_file_refuses_what_would_change_the_past(tmp_path, statement, sentence):
    connection = _open(tmp_path)
    journal.add(connection, [dataclasses.replace(an_event(), seq=seq, event_id=f"a-{seq}") for seq in (1, 2, 3)])
    with pytest.raises(sqlite3.IntegrityError, match=sentence):
        connection.execute(statement)
    assert len(journal.after(connection, 0, 10)) == 3
    connection.close()


def test_a_person_with_an_sql_shell_can_read_the_events(tmp_path):
    connection = _open(tmp_path)
    journal.add(connection, [dataclasses.replace(an_event("DP is high"), seq=1, event_id="a-1")])
    row = connection.execute("SELECT at_utc, kind, happened, collector, tag, text FROM events").fetchone()
    assert row == ("2023-11-14T22:13:20.000Z", "alarm", "raised", "DC-101", "PDAH-101", "DP is high")
    connection.close()


def test_a_synced_transaction_syncs_and_another_does_not(tmp_path):
    connection = _open(tmp_path)
    for synced, level in ((True, 2), (False, 1), (True, 2)):
        with transaction(connection, synced=synced):
            assert connection.execute("PRAGMA synchronous").fetchone() == (level,)
    connection.close()


def test_a_transaction_that_fails_leaves_nothing(tmp_path):
    connection = _open(tmp_path)

    def fail_half_way() -> None:
        with transaction(connection, synced=True):
            journal.add(connection, [dataclasses.replace(an_event(), seq=1, event_id="a-1")])
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert journal.after(connection, 0, 10) == []
    connection.close()
