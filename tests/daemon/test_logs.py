"""What the daemon's log lets through."""

import logging
import pkgutil

import pytest

import monitor
from monitor.daemon import logs


@pytest.fixture(autouse=True)
def _the_log_as_it_was():
    root, house = logging.getLogger(), logging.getLogger("monitor")
    before = root.handlers, root.level, house.level
    yield
    root.handlers = before[0]
    root.setLevel(before[1])
    house.setLevel(before[2])


def every_module():
    found = [module.name for module in pkgutil.walk_packages(monitor.__path__, "monitor.")]
    return [name for name in found if not name.endswith("__main__")]


def test_every_room_is_heard_and_libraries_only_when_something_is_broken():
    logs.begin({}, verbose=False)

    assert [name for name in every_module() if not logging.getLogger(name).isEnabledFor(logging.INFO)] == []
    assert not logging.getLogger("monitor.acquire.worker").isEnabledFor(logging.DEBUG)
    assert not logging.getLogger("uvicorn").isEnabledFor(logging.INFO)


def test_verbose_lets_the_details_of_the_house_through_and_nobody_elses():
    logs.begin({}, verbose=True)

    assert logging.getLogger("monitor.acquire.worker").isEnabledFor(logging.DEBUG)
    assert not logging.getLogger("uvicorn").isEnabledFor(logging.INFO)


@pytest.mark.parametrize(("environ", "begins_with"), [({"JOURNAL_STREAM": "8:1"}, "INFO "), ({}, "20")])
def test_the_service_managers_log_has_stamps_of_its_own(environ, begins_with, capsys):
    logs.begin(environ, verbose=False)
    logging.getLogger("monitor.daemon.core").info("event id=1")

    assert capsys.readouterr().err.startswith(begins_with)
