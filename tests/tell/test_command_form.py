"""The JSON of commands and answers: read as meant or refused with a sentence, and as its schema says."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from monitor.tell.command_fields import LONGEST_FOR_S, MOST_BYTES
from monitor.tell.command_form import (
    Origin,
    answer_payload,
    read_answer,
    read_command,
    write_answer,
    write_command,
)
from monitor.words import (
    ABOUT_COLLECTOR,
    ABOUT_NO_ALARM,
    AlarmState,
    Answer,
    AnswerCode,
    Command,
    CommandKind,
    Door,
)

SCHEMA = json.loads((Path(__file__).parents[2] / "config" / "commands.schema.json").read_text(encoding="utf-8"))
HERE = Origin(door=Door.HTTP)
ANNA = Origin(door=Door.HTTP, person="anna")
MQTT = Origin(door=Door.MQTT, must_be_stamped=True)
ACK = {"command_id": "a1", "command": "acknowledge", "tag": "PDAH-101", "by": "anna"}
SHELVE = ACK | {"command": "shelve", "reason": "bag change", "for": "30 min"}


def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(SCHEMA | {"anyOf": [{"$ref": f"#/$defs/{name}"}]})


def read(command: object, origin: Origin = HERE) -> Command | Answer:
    return read_command(json.dumps(command).encode(), origin, 7.0)


def refused(command: object, origin: Origin = HERE) -> str:
    answer = read(command, origin)
    assert isinstance(answer, Answer)
    assert answer.code is AnswerCode.MALFORMED
    return answer.text


def test_a_whole_command_is_read_as_it_stands():
    assert read(SHELVE | {"sent_at": "2026-03-01T09:12:03.25+01:00"}) == Command(
        command_id="a1",
        kind=CommandKind.SHELVE,
        by="anna",
        door=Door.HTTP,
        tag="PDAH-101",
        sent_utc_s=1772352723.25,
        reason="bag change",
        for_s=1800.0,
    )


def test_a_token_says_who_asks_and_no_other_name_may_stand_beside_it():
    nameless = {key: value for key, value in ACK.items() if key != "by"}
    proven = read(nameless, ANNA)
    other = read(ACK | {"by": "ben"}, ANNA)

    assert (proven.by, proven.proven) == ("anna", True)
    assert read(ACK, ANNA) == proven
    assert (other.code, other.command_id, other.tag) == (AnswerCode.NOT_ALLOWED, "a1", "PDAH-101")
    assert other.text == 'the token is that of anna, and "by" says ben: leave "by" out, or use your own token'
    assert '"by" must say who asks' in refused(nameless)


def test_silence_is_for_no_alarm_and_every_other_command_for_one():
    assert read({"command_id": "a1", "command": "silence", "by": "anna"}).tag == ""
    assert "this is not about one alarm" in refused(ACK | {"command": "silence"})
    for kind in set(CommandKind) - ABOUT_NO_ALARM - ABOUT_COLLECTOR:
        assert '"tag" must name the alarm' in refused({"command_id": "a1", "command": kind.value, "by": "anna"})


def test_only_shelving_has_an_end():
    assert "only shelving has an end" in refused(ACK | {"for": "30 min"})
    assert read({key: SHELVE[key] for key in SHELVE if key != "for"}).for_s is None  # the rulebook asks for it


def test_through_mqtt_a_command_says_when_it_was_sent():
    assert '"sent_at" must say when it was sent' in refused(ACK, MQTT)
    assert read(ACK | {"sent_at": "2026-03-01T08:12:03Z"}, MQTT).sent_utc_s == 1772352723.0


@pytest.mark.parametrize("key", ["tag", "reason", "for", "sent_at"])
def test_null_counts_as_absent(key):
    silence = {"command_id": "a1", "command": "silence", "by": "anna"}

    assert read(silence | {key: None}) == read(silence)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("30 min", 1800.0),
        ("30min", 1800.0),
        ("1.5 h", 5400.0),
        ("90 s", 90.0),
        ("1 d", 86400.0),
        ("2 hours", 7200.0),
        (90, 90.0),
        (0.5, 0.5),
        ("366 d", LONGEST_FOR_S),
    ],
)
def test_lengths_of_time_that_are_read(text, seconds):
    assert read(SHELVE | {"for": text}).for_s == seconds


@pytest.mark.parametrize(
    "text",
    [
        "",
        "30",
        "30 m",
        "30 parsecs",
        "-5 min",
        "0 s",
        "367 d",
        "1e3 s",
        "30 min 5 s",
        0,
        -1,
        1e9,
        10**400,
        True,
        [30],
    ],
)
def test_lengths_of_time_that_are_none(text):
    assert '"for" must be a length of time above 0, such as "30 min"' in refused(SHELVE | {"for": text})


@pytest.mark.parametrize(
    ("text", "utc_s"),
    [
        ("2026-03-01T08:12:03Z", 1772352723.0),
        ("2026-03-01t08:12:03z", 1772352723.0),
        ("2026-03-01 08:12:03.5-00:00", 1772352723.5),
        ("2026-03-01T13:42:03+05:30", 1772352723.0),
        ("2016-12-31T23:59:60Z", 1483228800.0),
        ("1969-12-31T23:59:59Z", -1.0),
    ],
)
def test_moments_that_are_read(text, utc_s):
    assert read(ACK | {"sent_at": text}).sent_utc_s == utc_s


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-01T08:12:03",
        "2026-03-01",
        "20260301T081203Z",
        "2026-W09-7T08:12:03Z",
        "2026-02-30T08:12:03Z",
        "2026-03-01T24:00:00Z",
        "2026-03-01T08:12:61Z",
        "2026-03-01T08:12:03+24:00",
        "٢٠٢٦-03-01T08:12:03Z",
        1772352723,
        "now",
    ],
)
def test_moments_that_are_none(text):
    assert '"sent_at" must be a moment with its offset as in RFC 3339' in refused(ACK | {"sent_at": text})


@pytest.mark.parametrize(
    "odd", ["", " ", "a\nb", "a\tb", "a\x00", "\u202eanna", "\ud800", "x" * 65, 5, True, ["anna"]]
)
@pytest.mark.parametrize("key", ["by", "tag"])
def test_names_are_one_line_that_can_be_shown(key, odd):
    assert f'"{key}" must be one line of 1 to 64 printable characters' in refused(ACK | {key: odd})


def test_reasons_may_be_longer_than_names_and_in_any_language():
    assert read(SHELVE | {"reason": "Schläuche getauscht ✓ " + "x" * 178}).reason.startswith("Schläuche")
    assert '"reason" must be one line of 1 to 200' in refused(SHELVE | {"reason": "x" * 201})


@pytest.mark.parametrize("odd", ["", "a b", "ä", "x" * 65, "a/b", "a\n", 7])
def test_ids_are_short_and_plain(odd):
    assert '"command_id" must be letters, digits and . _ : - and at most 64' in refused(ACK | {"command_id": odd})


def test_an_unknown_key_is_named_and_its_value_is_not():
    text = refused(ACK | {"pasword": "hunter2"})

    assert '"pasword" is no key of a command' in text
    assert "hunter2" not in text


def test_a_refusal_bears_the_id_and_the_tag_where_they_could_be_read():
    answer = read(ACK | {"command": "ack"})

    assert (answer.command_id, answer.tag, answer.at_utc_s) == ("a1", "PDAH-101", 7.0)
    assert answer.text == (
        'the command cannot be read: "command" must be one of acknowledge, clear, shelve, unshelve, '
        "out_of_service, return_to_service, test, silence, filters_changed, record_action, test_message "
        '(found "ack"); '
        "correct it and send it again"
    )


def test_many_faults_are_told_in_one_short_sentence():
    text = refused({f"key{number}": number for number in range(200)})

    assert len(text) < 600
    assert "and 200 more" in text  # command, command_id and by are missing, and are told first


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "found none at line 1, column 1"),
        (b"\xff\xfe", "found bytes that are not UTF-8"),
        (b"[]", "found a list"),
        (b'"acknowledge"', 'found "acknowledge"'),
        (b"{", "found none at line 1"),
        (b'{"a": 1} {', "found none at line 1, column 10"),
        (b'{"a": NaN}', "JSON, which has no NaN"),
        (b'{"a": -Infinity}', "JSON, which has no -Infinity"),
        (b'{"by": "anna", "by": "ben"}', "each key once"),
        (b"[" * 4000, "too many brackets in one another"),
        (b'{"a":' * 800 + b"1" + b"}" * 8, "found none"),
        (b" " * (MOST_BYTES + 1), f"at most {MOST_BYTES} bytes (found {MOST_BYTES + 1})"),
        (b'\xef\xbb\xbf{"a": 1}', "found none at line 1, column 1"),
    ],
)
def test_what_is_no_json_object_is_told_as_that(data, why):
    answer = read_command(data, HERE, 7.0)

    assert answer.code is AnswerCode.MALFORMED
    assert why in answer.text


def test_an_answer_is_written_and_read_as_the_same():
    answer = Answer(
        command_id="a1",
        code=AnswerCode.STILL_ACTIVE,
        text="PDAH-101 cannot be cleared while its condition is still there",
        at_utc_s=1772352723.25,
        tag="PDAH-101",
        state=AlarmState.UNACKNOWLEDGED,
        repeated=True,
    )

    assert read_answer(write_answer(answer)) == answer
    assert answer_payload(answer)["done"] is False


@pytest.mark.parametrize(
    "data", [b"", b"[]", b"null", b"{}", b'{"command_id":1,"code":"x"}', b"[" * 9000, b"\xff"]
)
def test_what_is_no_answer_is_a_value_error(data):
    with pytest.raises(ValueError):
        read_answer(data)


ANSWERS = st.builds(
    Answer,
    command_id=st.from_regex(r"[A-Za-z0-9._:-]{0,64}", fullmatch=True),
    code=st.sampled_from(AnswerCode),
    text=st.text(),
    at_utc_s=st.integers(0, 4 * 10**12).map(lambda ms: ms / 1000),
    tag=st.text(max_size=64),
    state=st.none() | st.sampled_from(AlarmState),
    repeated=st.booleans(),
)


@given(ANSWERS)
def test_every_answer_is_as_its_schema_says(answer):
    validator("answer").validate(json.loads(write_answer(answer)))


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=64).filter(
    str.isprintable
)


MOMENTS = st.none() | st.integers(0, 4 * 10**12).map(lambda ms: ms / 1000)


@st.composite
def commands(draw):
    kind = draw(st.sampled_from(CommandKind))
    is_about_collector = kind in ABOUT_COLLECTOR
    return Command(
        command_id=draw(st.from_regex(r"[A-Za-z0-9._:-]{1,64}", fullmatch=True)),
        kind=kind,
        by=draw(NAMES),
        door=Door.HTTP,
        tag="" if kind in ABOUT_NO_ALARM or is_about_collector else draw(NAMES),
        sent_utc_s=draw(MOMENTS),
        reason=draw(st.just("") | NAMES),
        for_s=draw(st.none() | st.floats(0.001, LONGEST_FOR_S)) if kind is CommandKind.SHELVE else None,
        person=draw(st.just("") | NAMES) if kind is CommandKind.TEST_MESSAGE else "",
        collector=draw(NAMES) if is_about_collector else "",
        at_utc_s=draw(MOMENTS) if is_about_collector else None,
        action=draw(NAMES) if kind is CommandKind.RECORD_ACTION else "",
    )


@given(commands())
def test_every_command_is_written_as_its_schema_says_and_read_as_the_same(command):
    data = write_command(command)

    validator("command").validate(json.loads(data))
    assert read_command(data, HERE, 0.0) == command


# Odd things at every key, one or more at once; lengths in the spelling that the schema promises.
ODD = st.sampled_from([None, "", " ", "x" * 65, "x" * 201, "a\nb", 0, -1, 5, 1.5, 1e12, True, [], {}, "ok", "a b"])
SHEETS = st.fixed_dictionaries(
    {"command_id": st.just("a1"), "command": st.sampled_from(CommandKind)},
    optional={
        "tag": st.just("PDAH-101"),
        "by": st.just("anna"),
        "reason": st.just("bag change"),
        "for": st.sampled_from(["30 min", "1.5 h", 90]),
        "sent_at": st.sampled_from(["2026-03-01T08:12:03Z", "yesterday"]),
    },
)


@given(
    SHEETS,
    st.dictionaries(st.sampled_from(["command_id", "command", "tag", "reason", "for", "sent_at", "x"]), ODD),
)
def test_what_the_schema_takes_is_what_the_reader_takes(sheet, changes):
    sheet = sheet | changes
    is_taken = isinstance(read(sheet, ANNA), Command)

    assert validator("command").is_valid(sheet) == is_taken


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)


@given(
    st.binary(max_size=200)
    | JSON.map(lambda value: json.dumps(value).encode())
    | st.dictionaries(st.sampled_from([*SHELVE, "sent_at"]), JSON).map(lambda value: json.dumps(value).encode()),
    st.sampled_from([HERE, ANNA, MQTT]),
)
def test_whatever_comes_is_a_command_or_one_printable_sentence(data, origin):
    found = read_command(data, origin, 0.0)

    if isinstance(found, Answer):
        assert found.code in (AnswerCode.MALFORMED, AnswerCode.NOT_ALLOWED)
        assert found.text.isprintable()
        assert len(found.text) < 1200
        validator("answer").validate(answer_payload(found))


CHANGED = {"command_id": "a1", "command": "filters_changed", "by": "anna", "collector": "DC-101"}
RECORD = CHANGED | {"command": "record_action", "reason": "wet dust", "action": "dried the air"}


def test_a_new_set_of_filters_is_told_of_a_collector():
    told = read(CHANGED | {"at": "2026-03-01T06:00:00-05:00", "reason": "third set"})

    assert (told.kind, told.collector, told.tag) == (CommandKind.FILTERS_CHANGED, "DC-101", "")
    assert told.at_utc_s == 1772362800.0  # date -u -d 2026-03-01T11:00:00 +%s
    assert told.reason == "third set"


def test_a_corrective_action_is_told_with_its_cause():
    told = read(RECORD)

    assert (told.collector, told.reason, told.action, told.at_utc_s) == (
        "DC-101", "wet dust", "dried the air", None
    )  # fmt: skip


def test_what_is_about_a_collector_is_about_no_alarm_and_the_other_way_round():
    assert "about a collector, not about one alarm" in refused(CHANGED | {"tag": "PDAH-101"})
    assert '"collector" must not be there' in refused(ACK | {"collector": "DC-101"})
    assert '"at" must not be there' in refused(ACK | {"at": "2026-03-01T06:00:00Z"})
    assert '"action" must not be there' in refused(CHANGED | {"action": "x"})
    assert '"action" must say what was done' in refused({k: v for k, v in RECORD.items() if k != "action"})
