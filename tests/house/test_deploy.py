"""Every file in deploy/ is one that its program takes."""

import configparser
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"


@pytest.mark.parametrize("script", ["deploy/demo", "deploy/make-venv", "tests/run"])
def test_a_script_is_good_posix_shell(script):
    assert (ROOT / script).read_text().startswith("#!/bin/sh\n")
    assert subprocess.run(["sh", "-n", ROOT / script]).returncode == 0


def test_ci_calls_the_readmes_test_command():
    assert "sh tests/run" in (ROOT / ".ci" / "run").read_text()
    assert "sh tests/run" in (ROOT / "README.md").read_text()


def unit():
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str
    parser.read(DEPLOY / "cakewatch.service")
    return parser


def test_the_unit_runs_reloads_and_guards_the_daemon():
    service = unit()["Service"]

    assert service["Type"] == "notify"
    assert service["ExecStart"].split()[1:2] == ["run"]
    assert "HUP" in service["ExecReload"]
    assert service["ProtectSystem"] == "strict"
    assert service["NoNewPrivileges"] == "yes"
    assert int(service["WatchdogSec"]) >= 10


def test_the_broker_takes_its_file(tmp_path):
    """Started for a moment on a free port: mosquitto refuses a file it does not understand."""
    text = (DEPLOY / "mosquitto.conf").read_text().replace("listener 1883", "listener 0")
    file = tmp_path / "mosquitto.conf"
    file.write_text(f"{text}\npersistence_location {tmp_path}/\nuser root\n")
    broker = subprocess.Popen(
        ["mosquitto", "-c", file], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        with pytest.raises(subprocess.TimeoutExpired):
            broker.wait(1.0)
    finally:
        broker.terminate()
        said = broker.communicate(timeout=5)[0]

    assert "autosave_on_changes true" in text
    assert "Error" not in said
