"""How ``cakewatch run`` ends when it cannot even begin; the daemon at work is tested in the rig."""

import logging
import subprocess
import sys
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


def run_to_the_end(folder: Path, *scenes: str) -> subprocess.CompletedProcess[str]:
    """Run the daemon on a site of its own, with these lines of code before it."""
    site = folder / "site.yaml"
    site.write_text(f"{SITE.read_text(encoding='utf-8')}\nhttp: off\nstore: {{folder: {folder / 'store'}}}\n")
    lines = (_STAGE, *scenes, "sys.argv = ['cakewatch', 'run', sys.argv[1]]", "main()")
    return subprocess.run(
        [sys.executable, "-c", "\n".join(lines), str(site)],
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )


#: ``at(module, function, before=…, after=…)``: have us sent a signal as it first begins, or ends.
_STAGE = """
import functools, importlib, os, signal, sys, threading
from monitor.cli.main import main

def at(module, name, before=None, after=None):
    place = importlib.import_module(module)
    for part in name.split(".")[:-1]:
        place = getattr(place, part)
    name = name.split(".")[-1]
    function = getattr(place, name)
    @functools.wraps(function)
    def with_signals(*args, **kwargs):
        nonlocal before, after
        now, then, before, after = before, after, None, None
        now and os.kill(os.getpid(), now)
        try:
            return function(*args, **kwargs)
        finally:
            then and os.kill(os.getpid(), then)
    setattr(place, name, with_signals)

class AtImport:
    def __init__(self, module, number):
        self.module, self.number = module, number
    def find_spec(self, name, path=None, target=None):
        if name == self.module:
            os.kill(os.getpid(), self.number)

def in_a_while(number):
    threading.Timer(1.5, os.kill, (os.getpid(), number)).start()
"""


@pytest.mark.parametrize(
    "scene",
    [
        "sys.meta_path.insert(0, AtImport('monitor.cli.run', signal.SIGTERM))",
        "sys.meta_path.insert(0, AtImport('monitor.daemon.running', signal.SIGTERM))",
        "sys.meta_path.insert(0, AtImport('monitor.daemon.running', signal.SIGINT))",
        "at('monitor.site.load', 'load', before=signal.SIGTERM)",
        "at('monitor.remember.opening', 'open_store', before=signal.SIGTERM)",
        "at('monitor.remember.opening', 'open_store', after=signal.SIGTERM)",
        "at('monitor.daemon.core', 'Core.restore', before=signal.SIGTERM)",
    ],
)
def test_told_to_stop_while_it_starts_it_stops_as_told(tmp_path, scene):
    ended = run_to_the_end(tmp_path, scene)

    assert ended.returncode == 0, ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize(
    ("scene", "reloads"),
    [
        ("sys.meta_path.insert(0, AtImport('monitor.daemon.running', signal.SIGHUP))", 0),
        ("at('monitor.site.load', 'load', after=signal.SIGHUP)", 1),
        ("at('monitor.remember.opening', 'open_store', before=signal.SIGHUP)", 1),
        ("at('monitor.daemon.core', 'Core.restore', before=signal.SIGHUP)", 1),
    ],
)
def test_told_to_read_again_while_it_starts_it_does_so_if_it_had_read_before(tmp_path, scene, reloads):
    ended = run_to_the_end(tmp_path, scene, "in_a_while(signal.SIGTERM)")

    assert ended.returncode == 0, ended.stderr
    assert ended.stderr.count("started watching") == 1
    assert ended.stderr.count("site file reloaded: watching 1 collector\n") == reloads
    assert ended.stderr.index("started watching") < ended.stderr.find("site file reloaded") or not reloads
