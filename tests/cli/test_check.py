"""The command check: plain words, every problem, and an exit code a script can trust."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.cli.check import check

ROOT = Path(__file__).parents[2]
FIRST = ROOT / "config" / "first-transmitter.yaml"
FILES = ROOT / "fixtures" / "site"


def run(*arguments: object, color: bool = False):
    return CliRunner().invoke(check, [str(argument) for argument in arguments], color=color)


def test_a_valid_file_is_told_in_plain_words():
    result = run(FIRST)

    assert result.exit_code == 0
    assert result.stderr == ""
    for words in (
        "mill-gateway unit 1, input register, protocol address 0 (reference 30001)",
        "819 counts = 4 mA = 0 inH2O; 4095 counts = 20 mA = 10 inH2O",
        "high: DP at or above 7 inH2O for 15 s; normal again below 6.8 inH2O for 15 s",
        "latching; cleared by the timer 30 min after its return to normal",
        "the site file is valid",
    ):
        assert words in result.stdout


def test_a_wrong_file_ends_with_2_and_every_problem():
    path = FILES / "bad" / "several_at_once.yaml"
    result = run(path)
    expected = path.with_suffix(".txt").read_text(encoding="utf-8")

    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.replace(f"{path.parent}/", "") == expected


def test_a_missing_file_ends_with_2_and_one_sentence(tmp_path):
    result = run(tmp_path / "absent.yaml")

    assert result.exit_code == 2
    assert result.stderr == f"{tmp_path}/absent.yaml: cannot be read: no such file or directory\n"


@pytest.mark.parametrize(("options", "code"), [((), 0), (("--strict",), 1)])
def test_warnings_are_told_and_fail_where_that_is_asked_for(options, code):
    result = run(*options, FILES / "risky" / "auto_clear_too_short.yaml")

    assert result.exit_code == code
    assert result.stderr.startswith("warning: ")
    assert "the site file is valid, with 1 warning\n" in result.stdout


def test_a_file_without_warnings_passes_the_strict_check():
    assert run("--strict", FIRST).exit_code == 0


def test_the_schema_is_printed_without_a_site_file():
    result = run("--schema")

    assert result.exit_code == 0
    assert json.loads(result.stdout)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_there_is_colour_on_a_terminal_alone():
    assert "\x1b[" not in run(FIRST).output
    assert "\x1b[" in run(FIRST, color=True).output


@pytest.mark.parametrize("path", sorted((FILES / "good").glob("*.yaml")), ids=lambda path: path.stem)
def test_every_good_file_can_be_told(path):
    assert run(path).exit_code == 0
