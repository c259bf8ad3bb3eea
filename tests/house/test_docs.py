"""The documents tell the truth: what they name exists, and what exists is named."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from monitor.tell import wording
from monitor.words import AlarmState, Quality, Reason

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
DOCUMENTS = sorted(
    path
    for path in ROOT.rglob("*.md")
    if not any(part.startswith(".") or part == "node_modules" for part in path.relative_to(ROOT).parts)
)

ALLOWED_AT_THE_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "monitor",
    "config",
    "deploy",
    "tests",
    "fixtures",
}


def tracked():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listed.stdout.splitlines()


def test_the_top_level_holds_what_it_should_and_nothing_else():
    top = {name.split("/")[0] for name in tracked()}

    assert {name for name in top if not name.startswith(".")} == ALLOWED_AT_THE_TOP


@pytest.mark.parametrize("folder", ["config", "deploy", "tests", "fixtures"])
def test_every_folder_beside_the_code_explains_itself(folder):
    assert (ROOT / folder / "README.md").is_file()


def test_the_readme_begins_with_the_job_then_the_two_commands_then_a_picture():
    job, demo, run, picture = (
        README.index("differential pressure"),
        README.index("sh deploy/demo"),
        README.index("sh tests/run"),
        README.index("](fixtures/pictures/demo.svg)"),
    )

    assert job < demo < run < picture


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_link_of_a_document_leads_somewhere(document):
    links = re.findall(r"\]\(([^)#:]+)\)", document.read_text())

    assert [link for link in links if not (document.parent / link).exists()] == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_file_that_a_document_names_exists(document):
    text = document.read_text()
    named = re.findall(r"`((?:monitor|config|deploy|tests|fixtures)/[\w./-]+?)/?`", text)

    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_developers_page_names_every_room():
    rooms = {path.name for path in (ROOT / "monitor").iterdir() if (path / "__init__.py").is_file()}

    assert [room for room in sorted(rooms) if f"`{room}/`" not in DEVELOPERS] == []


def test_the_readme_names_every_command():
    assert [name for name in main.list_commands(None) if f"cakewatch {name}" not in README] == []


@pytest.mark.parametrize("command", [[], *([name] for name in main.list_commands(None))], ids=" ".join)
def test_every_command_has_help_that_fits_a_terminal(command):
    result = CliRunner().invoke(main, [*command, "--help"])

    assert result.exit_code == 0
    assert "Usage:" in result.output
    assert max(map(len, result.output.splitlines())) <= 100


def test_version_is_told_by_the_installed_command():
    told = subprocess.run(
        [sys.executable, "-m", "monitor", "--version"], capture_output=True, text=True, check=True, cwd=ROOT
    )

    assert re.fullmatch(r"cakewatch, version \d+\.\d+\.\d+\n", told.stdout)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts_name_the_command(shell):
    result = CliRunner().invoke(main, ["completion", shell])

    assert result.exit_code == 0
    assert "_CAKEWATCH_COMPLETE" in result.output


def test_bash_takes_the_completion_script_and_completes():
    script = CliRunner().invoke(main, ["completion", "bash"]).output
    told = subprocess.run(["bash", "-n"], input=script, text=True, capture_output=True)
    completed = subprocess.run(
        [Path(sys.executable).parent / "cakewatch"],
        env={
            "_CAKEWATCH_COMPLETE": "bash_complete",
            "COMP_WORDS": "cakewatch ch",
            "COMP_CWORD": "1",
            "PATH": "/usr/bin:/bin",
        },
        capture_output=True,
        text=True,
    )

    assert told.returncode == 0
    assert "check" in completed.stdout


def test_the_readme_explains_every_quality_and_alarm_state():
    words = README.replace(",", "").lower()

    assert [quality for quality in Quality if quality.value not in words] == []
    for state in AlarmState:
        assert state.value.split("_")[0] in words


def test_every_reason_has_words_for_people():
    text = Path(wording.__file__).read_text()
    assert [reason for reason in Reason if reason is not Reason.NONE and f"Reason.{reason.name}" not in text] == []


#: A folder of one person's machine, or a number in somebody's list, says nothing to whoever clones this.
ELSEWHERE = re.compile(r"/home/\w|/root/\w|\bissue #?\d", re.IGNORECASE)


def test_nothing_points_to_a_place_that_a_clone_does_not_have():
    found = []
    for name in tracked():
        path = ROOT / name
        if path.suffix in {".png", ".svg"} or path == Path(__file__):
            continue
        found += [
            f"{name}: {line}" for line in path.read_text(errors="replace").splitlines() if ELSEWHERE.search(line)
        ]

    assert found == []
