"""Fixtures of the tellers' tests. Asynchronous tests run by anyio's plugin, which comes with starlette."""

import pytest

from tests.peers.mosquitto import Mosquitto


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture
def broker(tmp_path):
    with Mosquitto(tmp_path) as running:
        yield running
