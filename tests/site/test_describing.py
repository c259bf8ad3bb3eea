"""A plan in plain words, to the letter; and the examples that the reference keeps switched off."""

from pathlib import Path

import pytest

from monitor.site import describing
from monitor.site.load import load

ENVIRON = {
    "CAKEWATCH_TOKEN_ANNA": "invented-token-of-nobody",
    "CAKEWATCH_PAGE_ANNA": "$argon2id$v=19$m=19456,t=2,p=1$aW52ZW50ZWQ$bm9ib2R5",
    "CAKEWATCH_ANNA_PUSH": "json://127.0.0.1:9/anna",
    "CAKEWATCH_ANNA_TEXT": "json://127.0.0.1:9/text",
    "CAKEWATCH_BEN_MAIL": "json://127.0.0.1:9/ben",
    "CAKEWATCH_PING": "http://127.0.0.1:9/ping",
}
ROOT = Path(__file__).parents[2]
GOOD = ROOT / "fixtures" / "site" / "good"
FIRST = (GOOD / "first.yaml").read_text(encoding="utf-8")


def load_text(text: str, folder: Path, environ=None):
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path, environ or {})


def managed():
    return load(GOOD / "alarm_management.yaml", {})


def test_what_was_planned_is_told_to_the_letter():
    told = "\n".join(describing.describe(managed())).replace(f"{GOOD}/", "") + "\n"

    assert told == (GOOD / "alarm_management.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ("", "annunciator: none; nothing is ever written to any device"),
        ("", "commands: on this machine itself anybody may do everything"),
        ("", "  from anywhere else nobody: commands.people is empty"),
        ("commands: {machine: none}\n", "commands: on this machine itself nobody may do anything unnamed"),
        (
            "http: none\ncommands: {people: {anna: {may: [test], through: [mqtt, http]}}}\n",
            "  anna may test: not by MQTT, which takes no commands; not by HTTP, which is off",
        ),
        ("mqtt: {host: 127.0.0.1}\n", "  commands are not taken"),
    ],
)
def test_what_is_shut_is_told_as_well(tmp_path, more, line):
    assert line in list(describing.describe(load_text(FIRST + more, tmp_path)))


def uncommented(text: str, key: str) -> str:
    """The example under a key that is switched off, switched on."""
    lines = text.splitlines()
    first = next(n for n, line in enumerate(lines) if line.lstrip().startswith(f"{key}:"))
    last = first + 1
    while last < len(lines) and lines[last].lstrip().startswith("#"):
        lines[last] = lines[last].replace("# ", "", 1)
        last += 1
    return "\n".join([*lines[:first], *lines[first + 1 :]]) + "\n"


def test_who_is_called_when_is_told_to_the_letter():
    told = "\n".join(describing.describe(load(GOOD / "phone.yaml", {}))).replace(f"{GOOD}/", "") + "\n"

    assert told == (GOOD / "phone.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("key", ["annunciator", "people", "phone"])
def test_an_example_that_is_switched_off_in_the_reference_works_when_switched_on(tmp_path, key):
    text = uncommented((ROOT / "config" / "site.example.yaml").read_text(encoding="utf-8"), key)
    plan = load_text(text, tmp_path, ENVIRON)

    if key == "annunciator":
        assert [output.name for output in plan.links["mill-gateway"].outputs] == ["horn", "beacon", "heartbeat"]
        assert plan.warnings == ()
    elif key == "phone":
        assert set(plan.phone.people) == {"anna", "ben"}
        assert [route.name for route in plan.phone.routes] == ["pressing"]
        assert plan.phone.all_well.at_s == (6 * 3600,)
        assert plan.phone.ping.every_s == 60
    else:
        assert set(plan.commands.people) == {"anna", "ben"}
        assert plan.http.tokens == {"anna": "invented-token-of-nobody"}


def test_who_may_only_look_is_called_and_not_told_to_acknowledge():
    people = load(GOOD / "phone.yaml", {}).phone.people

    assert (people["anna"].acknowledges, people["ben"].acknowledges) == (True, False)
