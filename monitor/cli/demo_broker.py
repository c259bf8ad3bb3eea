"""Demo broker: an MQTT broker in this very process, so that the demonstration needs no other program.

It speaks MQTT 3.1.1 only, keeps nothing on disk, listens on the loopback alone and is good for looking on. A
real site runs a real broker.
"""

import asyncio
import contextlib
import logging
import warnings
from collections.abc import AsyncIterator
from typing import Any, cast

from monitor.errors import CakewatchError

# The library's own defaults also log every packet and publish figures about itself.
_SETTINGS: dict[str, Any] = {
    "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
}


@contextlib.asynccontextmanager
async def broker(host: str = "127.0.0.1", port: int = 0) -> AsyncIterator[int]:
    """Run the broker for as long as the block lasts; yields the port it got (0 takes any free one).

    Raises:
        CakewatchError: the broker is not installed, or the port cannot be listened on.
    """
    running = _build(host, port)
    try:
        await running.start()
    except Exception as failure:
        raise CakewatchError(
            f"the demonstration's broker cannot listen on {host}:{port}; is the port taken?"
        ) from failure
    try:
        yield _port_of(running)
    finally:
        await _stop(running)


def _build(host: str, port: int) -> Any:
    _silence()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from amqtt.broker import Broker  # noqa: PLC0415 - an extra that only the demonstration needs
            from amqtt.contexts import BrokerConfig  # noqa: PLC0415 - as above
    except ImportError as missing:
        raise CakewatchError(
            "the demonstration's broker is not installed: run  sh deploy/demo  or  pip install 'cakewatch[demo]'"
        ) from missing
    settings = {"listeners": {"default": {"type": "tcp", "bind": f"{host}:{port}"}}, **_SETTINGS}
    return Broker(BrokerConfig.from_dict(settings))


def _silence() -> None:
    """Keep the broker's libraries off the screen: what goes wrong shows in the daemon's own words."""
    for name in ("amqtt", "transitions", "websockets"):
        logger = logging.getLogger(name)
        logger.setLevel(logging.CRITICAL + 1)
        logger.propagate = False


def _port_of(running: Any) -> int:
    # The library keeps no public record of the port it got.
    listener = running._servers["default"].instance  # noqa: SLF001 - see above
    return int(cast("asyncio.Server", listener).sockets[0].getsockname()[1])


async def _stop(running: Any) -> None:
    """Stop within two seconds whatever the clients do; the process is about to end anyway."""
    with contextlib.suppress(Exception):
        async with asyncio.timeout(2.0):
            await running.shutdown()
