"""What a person at the shell may ask of the running daemon, and what the shell is told."""

import asyncio
import getpass
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.cli import alarm_commands, daemon_door
from monitor.cli.daemon_door import store_folder
from monitor.cli.main import main
from monitor.site.load import load
from monitor.tell import control_socket, web_commands
from monitor.words import AnswerCode, CommandKind, Door
from tests.tell.served import ServedWeb

ROOT = Path(__file__).parents[2]
FILES = ROOT / "fixtures" / "site"

HELD = [
    {
        "collector": "DC-102",
        "link": None,
        "tag": "PDAH-102",
        "priority": "high",
        "state": "shelved",
        "text": "shelved by anna until 2026-03-01 09:12:03 UTC: bag change; its condition is there",
        "active": False,
        "since": "2026-03-01T08:12:03.000Z",
        "setpoint": 7.0,
        "value": 7.42,
        "unit": "inH2O",
        "side": "above",
    },
    {
        "collector": None,
        "link": "mill-gateway",
        "tag": "mill-gateway-LOST",
        "priority": "low",
        "state": "out_of_service",
        "text": "out of service by ben since 2026-03-01 07:00:00 UTC: gateway sent in for repair",
        "active": False,
        "since": None,
        "setpoint": None,
        "value": None,
        "unit": None,
        "side": None,
    },
]
ACTIVE = HELD[0] | {"tag": "PDAH-101", "collector": "DC-101", "state": "unacknowledged", "active": True}
ACTIVE |= {"text": "unacknowledged", "value": 8.313}
LATCHED = ACTIVE | {"tag": "PDAL-101", "state": "latched_unacknowledged", "active": False, "text": "latched"}
LATCHED |= {"priority": "low", "side": "below", "setpoint": 1.0, "value": None}
NORMAL = ACTIVE | {"tag": "PDAH-103", "state": "normal", "active": False, "text": "normal", "since": None}


@pytest.fixture
def site(tmp_path):
    """A site file that names a password nobody here has."""
    path = tmp_path / "site.yaml"
    path.write_text("mqtt: {host: 127.0.0.1, password_env: NOT_SET_HERE}\nstore: {folder: store}\n")
    (tmp_path / "store").mkdir()
    return path


@pytest.fixture
def daemon(site):
    with ServedWeb(control=site.parent / "store" / control_socket.NAME, alarms=lambda: LISTED) as served:
        LISTED[:] = [ACTIVE, LATCHED, *HELD, NORMAL]
        yield served


LISTED: list[dict[str, object]] = []


def run(*arguments: object, color: bool = False):
    return CliRunner().invoke(main, [str(argument) for argument in arguments], color=color)


@pytest.mark.parametrize(
    ("command", "more", "kind"),
    [
        ("ack", (), CommandKind.ACKNOWLEDGE),
        ("clear", (), CommandKind.CLEAR),
        ("shelve", ("--for", "30min", "--reason", "bag change"), CommandKind.SHELVE),
        ("unshelve", (), CommandKind.UNSHELVE),
        ("out-of-service", ("--reason", "bag change"), CommandKind.OUT_OF_SERVICE),
        ("return-to-service", (), CommandKind.RETURN_TO_SERVICE),
        ("test-alarm", (), CommandKind.TEST),
    ],
)
def test_each_command_reaches_the_daemon_and_its_answer_the_person(site, daemon, command, more, kind):
    result = run(command, site, "PDAH-101", "--by", "anna", *more)

    assert (result.exit_code, result.stdout, result.stderr) == (0, "PDAH-101 done, anna\n", "")
    sent = daemon.rulebook.commands[0]
    assert (sent.kind, sent.tag, sent.by, sent.door, sent.proven) == (
        kind,
        "PDAH-101",
        "anna",
        Door.COMMAND_LINE,
        False,
    )
    assert sent.reason == ("bag change" if "--reason" in more else "")
    assert sent.for_s == (1800.0 if "--for" in more else None)


def test_silence_is_for_no_alarm(site, daemon):
    result = run("silence", site, "--by", "anna")

    assert (result.exit_code, result.stdout) == (0, "the horn done, anna\n")
    assert (daemon.rulebook.commands[0].kind, daemon.rulebook.commands[0].tag) == (CommandKind.SILENCE, "")


def test_a_refusal_is_on_standard_error_and_ends_with_1(site, daemon):
    daemon.rulebook.code = AnswerCode.STILL_ACTIVE
    result = run("clear", site, "PDAH-101", "--by", "anna")

    assert (result.exit_code, result.stdout, result.stderr) == (1, "", "PDAH-101 still_active, anna\n")


def test_several_alarms_are_several_commands_under_ids_that_can_be_repeated(site, daemon):
    result = run("ack", site, "PDAH-101", "PDAH-102", "PDAH-103", "--by", "anna", "--id", "shift-7")

    assert result.exit_code == 0
    assert [(one.command_id, one.tag) for one in daemon.rulebook.commands] == [
        ("shift-7:1", "PDAH-101"),
        ("shift-7:2", "PDAH-102"),
        ("shift-7:3", "PDAH-103"),
    ]


def test_without_an_id_each_command_has_one_of_its_own(site, daemon):
    run("ack", site, "PDAH-101", "--by", "anna")
    run("ack", site, "PDAH-101", "--by", "anna")
    run("ack", site, "PDAH-101", "--by", "anna", "--id", "a1")

    first, second, third = (one.command_id for one in daemon.rulebook.commands)
    assert first != second
    assert third == "a1"


def test_one_refusal_among_several_does_not_keep_the_others_from_being_done(site, daemon):
    async def refuse_the_second():
        daemon.rulebook.code = AnswerCode.DONE if len(daemon.rulebook.commands) != 2 else AnswerCode.UNKNOWN_ALARM

    daemon.rulebook.before = refuse_the_second
    result = run("ack", site, "PDAH-101", "PDAH-999", "PDAH-103", "--by", "anna")

    assert result.exit_code == 1
    assert result.stdout == "PDAH-101 done, anna\nPDAH-103 done, anna\n"
    assert result.stderr == "PDAH-999 unknown_alarm, anna\n"


def test_the_name_is_that_of_the_login_unless_it_is_said(site, daemon, monkeypatch):
    monkeypatch.setattr(os, "getlogin", lambda: "ben")
    run("ack", site, "PDAH-101")

    assert daemon.rulebook.commands[0].by == "ben"


def test_without_a_terminal_the_name_is_that_of_the_user_and_without_a_user_it_is_asked_for(
    site, daemon, monkeypatch
):
    def nobody():
        raise OSError("no terminal")

    monkeypatch.setattr(os, "getlogin", nobody)
    monkeypatch.setattr(getpass, "getuser", lambda: "shift-lead")
    run("ack", site, "PDAH-101")
    assert daemon.rulebook.commands[0].by == "shift-lead"
    monkeypatch.setattr(getpass, "getuser", nobody)
    result = run("ack", site, "PDAH-101")
    assert result.exit_code == 2
    assert "say it with --by NAME" in result.stderr


def test_more_alarms_than_the_door_takes_at_once_are_sent_at_its_pace(site, monkeypatch):
    monkeypatch.setattr(web_commands, "BURST", 3)
    monkeypatch.setattr(web_commands, "A_SECOND", 50.0)
    monkeypatch.setattr(daemon_door, "_PAUSE_S", 0.05)
    with ServedWeb(control=site.parent / "store" / control_socket.NAME) as daemon:
        result = run("ack", site, *(f"PDAH-{number}" for number in range(20)), "--by", "anna")

    assert result.exit_code == 0
    assert len(daemon.rulebook.commands) == 20


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("shelve", "SITE", "PDAH-101", "--reason", "x"), "Missing option '--for'"),
        (("shelve", "SITE", "PDAH-101", "--for", "1 h"), "Missing option '--reason'"),
        (("shelve", "SITE", "PDAH-101", "--for", "later", "--reason", "x"), 'such as "30 min"'),
        (("out-of-service", "SITE", "PDAH-101"), "Missing option '--reason'"),
        (("ack", "SITE"), "Missing argument 'TAG...'"),
        (("ack",), "Missing argument 'SITE'"),
        (("alarms", "SITE", "--all", "--held"), "leave one out"),
    ],
)
def test_a_command_line_that_lacks_something_ends_with_2(site, daemon, arguments, why):
    result = run(*(site if one == "SITE" else one for one in arguments))

    assert (result.exit_code, result.stdout) == (2, "")
    assert why in result.stderr
    assert daemon.rulebook.commands == []


@pytest.mark.parametrize("text", ["30min", "30 min", "0.5h", "1800", "1800 s"])
def test_times_are_read_as_in_the_site_file_or_as_seconds(site, daemon, text):
    run("shelve", site, "PDAH-101", "--for", text, "--reason", "bag change")

    assert daemon.rulebook.commands[0].for_s == 1800.0


@pytest.mark.parametrize("arguments", [("ack", "PDAH-101"), ("silence",), ("alarms",)])
def test_without_a_daemon_there_is_one_sentence_and_3(site, arguments):
    result = run(arguments[0], site, *arguments[1:])

    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr == (
        f"cakewatch: no cakewatch is running on the store {site.parent}/store: start it with cakewatch run\n"
    )


def test_a_socket_that_is_not_for_us_is_told_as_that(site, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(control_socket, "connect", refuse)
    result = run("ack", site, "PDAH-101")

    assert result.exit_code == 3
    assert "may not be used by you: ask as the user that the daemon runs as, or as root" in result.stderr


def test_a_daemon_that_falls_silent_leaves_the_way_to_learn_what_became_of_it(site, daemon, monkeypatch):
    monkeypatch.setattr(daemon_door, "ANSWER_LIMIT_S", 0.2)
    daemon.rulebook.before = _sleep
    result = run("ack", site, "PDAH-101", "--id", "a1")

    assert result.exit_code == 3
    assert "did not answer; to learn what became of it, send it again with --id a1" in result.stderr


async def _sleep():
    await asyncio.sleep(1.0)


def test_another_program_on_the_socket_is_no_traceback(site):
    with ServedWeb(control=site.parent / "store" / control_socket.NAME, takes_commands=False):
        result = run("ack", site, "PDAH-101")

    assert result.exit_code == 3
    assert "does not speak as this cakewatch does" in result.stderr


def test_a_site_file_that_cannot_be_read_ends_with_2(tmp_path):
    result = run("ack", tmp_path / "absent.yaml", "PDAH-101")

    assert (result.exit_code, result.stderr) == (
        2,
        f"{tmp_path}/absent.yaml: cannot be read: no such file or directory\n",
    )


def test_a_site_file_that_is_broken_says_all_that_is_wrong(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text("store: {folder: 5 inH2O\n")
    result = run("ack", path, "PDAH-101")

    assert result.exit_code == 2
    assert f"{path}:1:" in result.stderr


@pytest.mark.parametrize("path", sorted(FILES.glob("[gr]*/*.yaml")), ids=lambda path: path.stem)
def test_the_store_is_where_the_daemon_has_it(path):
    assert store_folder(path) == load(path, os.environ).store.folder


def test_what_is_active_latched_and_held_back_is_listed(site, daemon):
    result = run("alarms", site)

    assert result.exit_code == 0
    assert result.stdout.splitlines() == [
        "active (1)",
        "  high  PDAH-101  DC-101  8.31 inH2O (above 7)  unacknowledged since 2026-03-01 08:12:03 UTC",
        "waiting for a person (1)",
        "  low  PDAL-101  DC-101  no value (below 1)  latched since 2026-03-01 08:12:03 UTC",
        "held back (2)",
        f"  high  PDAH-102           DC-102             7.42 inH2O (above 7)  {HELD[0]['text']}",
        f"  low   mill-gateway-LOST  link mill-gateway                        {HELD[1]['text']}",
    ]


def test_the_held_and_the_normal_are_listed_where_they_are_asked_for(site, daemon):
    held, everything = run("alarms", site, "--held").stdout, run("alarms", site, "--all").stdout

    assert held.splitlines()[0] == "held back (2)"
    assert "PDAH-101" not in held
    assert "normal (1)" in everything
    assert "PDAH-103" in everything


def test_nothing_to_show_is_said(site, daemon):
    LISTED[:] = [NORMAL]

    assert run("alarms", site).stdout == "no alarm is active, latched or held back\n"
    assert run("alarms", site, "--held").stdout == "no alarm is held back\n"


def test_json_is_what_the_daemon_knows(site, daemon):
    assert json.loads(run("alarms", site, "--json", "--all").stdout) == LISTED
    assert json.loads(run("alarms", site, "--json", "--held").stdout) == HELD


def test_there_is_colour_on_a_terminal_alone_and_a_reason_moves_no_cursor(site, daemon):
    LISTED[:] = [ACTIVE | {"text": "un\x1b[2Jacknowledged"}]

    assert "\x1b[" not in run("alarms", site).stdout
    assert "\x1b[31m" in run("alarms", site, color=True).stdout
    assert "\x1b[2J" not in run("alarms", site, color=True).stdout


def test_tags_are_completed_from_the_running_daemon(site, daemon):
    assert _completed("PDAH", "ack", site) == ["PDAH-101", "PDAH-102", "PDAH-103"]
    assert _completed("mill", "clear", site) == ["mill-gateway-LOST"]


def test_completion_without_a_daemon_offers_nothing_and_says_nothing(site):
    assert _completed("PDAH", "ack", site) == []
    assert _completed("PDAH", "ack", site.parent / "absent.yaml") == []


def _completed(begun: str, *words: object) -> list[str]:
    line = " ".join(["cakewatch", *map(str, words), begun])
    result = CliRunner().invoke(
        main,
        prog_name="cakewatch",
        env={
            "_CAKEWATCH_COMPLETE": "bash_complete",
            "COMP_WORDS": line,
            "COMP_CWORD": str(len(words) + 1),
        },
    )
    assert result.stderr == ""
    return [one.removeprefix("plain,") for one in result.stdout.split()]


def test_asking_the_daemon_needs_none_of_the_large_libraries(site):
    code = f"""
import sys
from monitor.cli.main import main
try:
    main(["ack", {str(site)!r}, "PDAH-101", "--by", "anna"])
except SystemExit as end:
    assert end.code == 3, end.code
assert not {{"pydantic", "pymodbus", "starlette", "uvicorn", "paho", "rich"}} & set(sys.modules)
"""
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, timeout=30)


def test_the_refusals_exit_code_is_as_the_help_says():
    assert (alarm_commands.REFUSED, daemon_door.NO_DAEMON) == (1, 3)
    assert "1 refused" in " ".join(run("ack", "--help").stdout.split())
