"""Names: which numeric addresses does a host name stand for?

The system's resolver cannot be interrupted, and may take half a minute. In asyncio's own threads it would hold
up the end of the process for as long; so each look-up has a daemon thread of its own, which is left behind
when nobody waits any more. With the waits between attempts to connect, a handful of them at most live at once.
"""

import asyncio
import contextlib
import ipaddress
import socket
import threading


class UnknownHostError(OSError):
    """A host name that stands for no address."""


async def addresses_of(host: str, port: int) -> list[str]:
    """Return the numeric addresses of a host, the preferred first; cancel it to give up.

    Raises:
        UnknownHostError: the name means nothing, in one plain sentence.
    """
    if _is_numeric(host):
        return [host]
    loop = asyncio.get_running_loop()
    found: asyncio.Future[list[str]] = loop.create_future()

    def settle(addresses: list[str]) -> None:
        if not found.done():
            found.set_result(addresses)

    def look_up() -> None:
        addresses = _look_up(host, port)
        with contextlib.suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(settle, addresses)

    threading.Thread(target=look_up, name="modbus-resolve", daemon=True).start()
    addresses = await found
    if not addresses:
        raise UnknownHostError(f"cannot resolve {host}")
    return addresses


def _look_up(host: str, port: int) -> list[str]:
    try:
        infos = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        return []
    return list(dict.fromkeys(str(info[4][0]) for info in infos))


def _is_numeric(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
