"""Fixtures of the tellers' tests. Asynchronous tests run by anyio's plugin, which comes with starlette."""

import pytest

from monitor.tell.mqtt import backoff
from tests.peers.mosquitto import Mosquitto


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture
def broker(tmp_path):
    with Mosquitto(tmp_path) as running:
        yield running


@pytest.fixture
def quick_backoff(monkeypatch):
    """Reconnects within a third of a second, so that a test of ten reconnects lasts no minute."""
    monkeypatch.setattr(backoff, "FIRST_S", 0.1)
    monkeypatch.setattr(backoff, "LONGEST_S", 0.3)
