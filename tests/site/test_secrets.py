"""Secrets: read from where they belong, and shown nowhere, however the file is wrong."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.site import describing
from monitor.site.load import load
from monitor.site.problems import SiteFileError

SECRET = "hunter2-Zq9"
FIRST = (Path(__file__).parents[2] / "fixtures" / "site" / "good" / "first.yaml").read_text(encoding="utf-8")


def outcome(text: str, folder: Path, environ=None) -> str:
    """Everything that loading a file lets anybody see."""
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    try:
        plan = load(path, environ or {})
    except SiteFileError as error:
        return f"{error}{error!r}{error.problems!r}"
    return f"{plan!r}{plan.mqtt!r}{plan.http!r}{plan.commands!r}{plan.warnings}{list(describing.describe(plan))}"


def test_a_password_comes_from_the_environment(tmp_path):
    text = FIRST + "mqtt: {host: 127.0.0.1, username: mill, password_env: MQTT_PASSWORD}\n"
    (tmp_path / "site.yaml").write_text(text, encoding="utf-8")
    plan = load(tmp_path / "site.yaml", {"MQTT_PASSWORD": SECRET})

    assert plan.mqtt.password == SECRET
    assert SECRET not in outcome(text, tmp_path, {"MQTT_PASSWORD": SECRET})


@pytest.mark.parametrize("ending", ["", "\n", "\r\n"])
def test_a_password_comes_from_a_file_without_its_line_end(tmp_path, ending):
    (tmp_path / "secret").write_bytes(f"{SECRET}{ending}".encode())
    text = FIRST + "mqtt: {host: 127.0.0.1, username: mill, password_file: secret}\n"
    (tmp_path / "site.yaml").write_text(text, encoding="utf-8")

    assert load(tmp_path / "site.yaml", {}).mqtt.password == SECRET
    assert SECRET not in outcome(text, tmp_path)


@pytest.mark.parametrize(
    "content", ["", "\n", f"{SECRET}\nsecond line\n", f"user: {SECRET}\npass: x\n", "x" * 20_000]
)
def test_a_file_that_is_no_password_is_refused_unseen(tmp_path, content):
    (tmp_path / "secret").write_text(content, encoding="utf-8")
    seen = outcome(FIRST + "mqtt: {host: 127.0.0.1, password_file: secret}\n", tmp_path)

    assert "mqtt.password_file: must be a file that holds the password" in seen
    assert SECRET not in seen


@pytest.mark.parametrize(
    "block",
    [
        "{{host: 127.0.0.1, password: {0}}}",
        "{{host: 127.0.0.1, passwort: {0}}}",
        "{{host: 127.0.0.1, Password: {0}}}",
        "{{host: 127.0.0.1, password_env: {0}}}",
        "{{host: 127.0.0.1, password_env: {0} x}}",
        "{{host: 127.0.0.1, password_file: {0}}}",
        "{{host: 127.0.0.1, password_env: [{0}]}}",
        "{{host: 127.0.0.1, password: {{value: {0}}}}}",
        "{{host: 'mill:{0}@127.0.0.1'}}",
        "{{host: 127.0.0.1, username: 'mill:{0}@127.0.0.1', port: x}}",
        "'{0}",
        "{{password: !{0} x}}",
        "{{password: *{0}}}",
        "{{password: &{0} x}}",
        '{{password: "\\q{0}"}}',
        "{{tls: {{key_file: 12, password: {0}}}}}",
        "{0}",
        "[{0}]",
        "\n  password={0}\n  host: 127.0.0.1",
        "\n  password={0}",
    ],
)
def test_a_password_in_the_wrong_place_is_never_repeated(tmp_path, block):
    seen = outcome(f"{FIRST}mqtt: {block.format(SECRET)}\n", tmp_path)

    assert "site.yaml:" in seen
    assert SECRET not in seen


@pytest.mark.parametrize(
    "person",
    [
        "{{may: all, token: {0}}}",
        "{{may: all, Token: {0}}}",
        "{{may: all, secret: {0}}}",
        "{{may: all, token_env: {0}}}",
        "{{may: all, token_env: {0} x}}",
        "{{may: all, token_env: [{0}]}}",
        "{{may: all, token_env: {{value: {0}}}}}",
        "{{may: all, token_file: {0}}}",
        "{{may: all, token_env: {0}, token_file: {0}}}",
        "{{may: all, token: {{value: {0}}}}}",
        "{{token_env: {0}, may: [x]}}",
    ],
)
def test_a_token_in_the_wrong_place_is_never_repeated(tmp_path, person):
    seen = outcome(f"{FIRST}commands: {{people: {{anna: {person.format(SECRET)}}}}}\n", tmp_path)

    assert "site.yaml:" in seen
    assert SECRET not in seen


@pytest.mark.parametrize(
    "content", ["", "\n", f"{SECRET}\n", f"{SECRET} {SECRET}", f"{SECRET}\n{SECRET}", "x" * 20_000]
)
def test_a_file_that_is_no_token_is_refused_unseen(tmp_path, content):
    (tmp_path / "secret").write_text(content, encoding="utf-8")
    seen = outcome(f"{FIRST}commands: {{people: {{anna: {{may: all, token_file: secret}}}}}}\n", tmp_path)

    assert "commands.people.anna.token_file: must" in seen
    assert SECRET not in seen


def test_a_token_is_read_and_shown_nowhere(tmp_path):
    long_secret = f"{SECRET}-{SECRET}"
    text = f"{FIRST}commands: {{people: {{anna: {{may: all, token_env: TOKEN}}}}}}\n"

    assert SECRET not in outcome(text, tmp_path, {"TOKEN": long_secret})
    assert load(tmp_path / "site.yaml", {"TOKEN": long_secret}).http.tokens == {"anna": long_secret}


@given(st.data())
def test_a_password_is_never_repeated_wherever_the_file_breaks(tmp_path_factory, data):
    text = f"{FIRST}mqtt:\n  host: 127.0.0.1\n  password: {SECRET}\n"
    position = data.draw(st.integers(0, len(FIRST) + 20))
    junk = data.draw(
        st.sampled_from(["", "'", '"', "{", "[", "\t", ": ", "- ", "&a ", "*a ", "@", "\n", "#", "<<: "])
    )

    assert SECRET not in outcome(text[:position] + junk + text[position:], tmp_path_factory.getbasetemp())
