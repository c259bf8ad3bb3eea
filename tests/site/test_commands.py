"""Who may do what: rights and tokens as the file says them."""

from pathlib import Path

import pytest

from monitor.scan.settings import CommandRules, PersonRights
from monitor.site import describing
from monitor.site.load import load
from monitor.site.problems import SiteFileError
from monitor.words import CommandKind, Door

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "fixtures" / "site" / "good"
FIRST = (GOOD / "first.yaml").read_text(encoding="utf-8")


def load_text(text: str, folder: Path, environ=None):
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path, environ or {})


def managed():
    return load(GOOD / "alarm_management.yaml", {})


def test_nothing_is_open_by_default_beyond_the_machine(tmp_path):
    plan = load_text(FIRST, tmp_path)

    assert plan.commands == CommandRules(
        people={}, machine=frozenset(CommandKind), longest_shelving_s=28800.0, late_after_s=30.0
    )
    assert dict(plan.http.tokens) == {}


def test_rights_come_out_as_written():
    plan = managed()

    assert plan.commands == CommandRules(
        people={
            "anna": PersonRights(may=frozenset(CommandKind)),
            "ben": PersonRights(
                may=frozenset({CommandKind.ACKNOWLEDGE, CommandKind.CLEAR}), doors=frozenset({Door.MQTT})
            ),
            "shift-lead": PersonRights(may=frozenset({CommandKind.SHELVE, CommandKind.UNSHELVE})),
        },
        machine=frozenset({CommandKind.ACKNOWLEDGE, CommandKind.SILENCE}),
        longest_shelving_s=43200.0,
        late_after_s=20.0,
    )
    assert plan.plant.commands is plan.commands
    assert plan.plant.links is plan.link_alarms
    assert plan.mqtt.commands is True


@pytest.mark.parametrize(
    ("machine", "kinds"),
    [
        ("all", frozenset(CommandKind)),
        ("none", frozenset()),
        ("[test]", frozenset({CommandKind.TEST})),
        ("[out_of_service, return_to_service]", frozenset({"out_of_service", "return_to_service"})),
    ],
)
def test_the_machine_may_what_is_listed(tmp_path, machine, kinds):
    assert load_text(f"{FIRST}commands: {{machine: {machine}}}\n", tmp_path).commands.machine == kinds


@pytest.mark.parametrize(
    "list_", ["[]", "[all]", "[Acknowledge]", "[acknowledge, [clear]]", "{acknowledge: yes}", "yes", "acknowledge"]
)
def test_what_is_no_list_of_commands_is_refused(tmp_path, list_):
    with pytest.raises(
        SiteFileError, match=r"commands.people.anna.may: must be all or none, or a list of some of"
    ):
        load_text(f"{FIRST}commands: {{people: {{anna: {{may: {list_}}}}}}}\n", tmp_path)


def test_tokens_go_to_http_and_nowhere_else(tmp_path):
    text = f"{FIRST}commands: {{people: {{anna: {{may: all, token_env: TOKEN}}, ben: {{may: all}}}}}}\n"
    plan = load_text(text, tmp_path, {"TOKEN": "sixteen-letters!"})

    assert plan.http.tokens == {"anna": "sixteen-letters!"}
    assert "sixteen-letters!" not in repr(plan) + "\n".join(describing.describe(plan))


@pytest.mark.parametrize(
    ("token", "is_taken"),
    [("a" * 15, False), ("a" * 16, True), ("a" * 16 + " b", False), ("ä" * 16, False), ("!~" * 8, True)],
)
def test_a_token_is_long_enough_and_fit_for_a_header(tmp_path, token, is_taken):
    text = f"{FIRST}commands: {{people: {{anna: {{may: all, token_env: TOKEN}}}}}}\n"
    if is_taken:
        assert load_text(text, tmp_path, {"TOKEN": token}).http.tokens == {"anna": token}
        return
    with pytest.raises(SiteFileError, match="token_env: must hold a token") as caught:
        load_text(text, tmp_path, {"TOKEN": token})
    assert token not in str(caught.value)


def test_two_people_are_told_apart_by_their_tokens(tmp_path):
    text = f"{FIRST}commands: {{people: {{anna: {{may: all, token_env: A}}, ben: {{may: all, token_env: B}}}}}}\n"

    with pytest.raises(
        SiteFileError, match=r"ben\.token_env: must be a token of one's own: anna has the same one"
    ):
        load_text(text, tmp_path, {"A": "sixteen-letters!", "B": "sixteen-letters!"})
