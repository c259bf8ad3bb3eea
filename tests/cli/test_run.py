"""How ``cakewatch run`` ends when it cannot even begin; the daemon at work is tested in the rig."""

import logging
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from monitor.cli.run import CANNOT_START, OUR_FAULT
from monitor.errors import StoreError
from monitor.remember.store import Store

SITE = Path(__file__).parents[2] / "config" / "first-transmitter.yaml"


@pytest.fixture(autouse=True)
def _the_log_as_it_was():
    root, house = logging.getLogger(), logging.getLogger("monitor")
    before = root.handlers, root.level, house.level
    yield
    root.handlers = before[0]
    root.setLevel(before[1])
    house.setLevel(before[2])


def run_with(monkeypatch, error):
    def refuse(*_args, **_kwargs):
        raise error

    monkeypatch.setattr(Store, "open", refuse)
    return CliRunner().invoke(main, ["run", str(SITE)])


def test_a_fault_of_our_own_is_on_the_log_with_all_that_is_known_of_it(monkeypatch):
    ended = run_with(monkeypatch, KeyError("PDAH-101"))

    assert ended.exit_code == OUR_FAULT
    assert "Traceback" in ended.stderr
    assert "KeyError: 'PDAH-101'" in ended.stderr


def test_what_the_world_refuses_is_one_sentence(monkeypatch):
    ended = run_with(monkeypatch, StoreError("the store folder cannot be written: name another"))

    assert ended.exit_code == CANNOT_START
    assert ended.stderr.splitlines() == ["cakewatch: the store folder cannot be written: name another"]
