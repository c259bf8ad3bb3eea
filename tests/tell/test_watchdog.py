"""What the service manager is told, heard on a socket of its kind."""

import socket
from pathlib import Path

import pytest

from monitor.tell.watchdog import Watchdog


@pytest.fixture(params=["path", "abstract"])
def ear(request, tmp_path):
    address = str(tmp_path / "notify") if request.param == "path" else f"\0cakewatch-test-{tmp_path.name}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(address)
        listener.settimeout(1)
        yield listener, address.replace("\0", "@")


def test_each_message_is_one_datagram_of_its_own(ear):
    listener, address = ear
    watchdog = Watchdog(address)
    watchdog.ready()
    watchdog.alive()
    watchdog.reloading()
    watchdog.stopping()

    assert [listener.recv(200).decode() for _ in range(4)] == [
        "READY=1",
        "WATCHDOG=1",
        "RELOADING=1",
        "STOPPING=1",
    ]


@pytest.mark.parametrize("address", [None, "", "/nowhere/at/all"])
def test_without_an_ear_nothing_happens(address):
    Watchdog(address).alive()

    assert not Path("/nowhere").exists()


def test_an_ear_that_is_full_never_holds_us_up(ear):
    _, address = ear
    watchdog = Watchdog(address)
    for _ in range(5000):
        watchdog.alive()
