"""Watchdog: tells the service manager that we are ready, alive, reloading or going (sd_notify(3)).

One datagram of plain text to the socket named in ``$NOTIFY_SOCKET``. Without one, nothing is sent.
"""

import contextlib
import socket


class Watchdog:
    """The service manager's ear.

    Args:
        address: the value of ``$NOTIFY_SOCKET``; None or empty where nobody listens. A leading ``@`` names an
            abstract socket.
    """

    def __init__(self, address: str | None) -> None:
        self._address = f"\0{address[1:]}" if address and address.startswith("@") else address or ""

    def ready(self) -> None:
        """Started, or reloaded: everything runs."""
        self._send("READY=1")

    def alive(self) -> None:
        """Everything that must move has moved; to be sent at least twice in each ``WatchdogSec``."""
        self._send("WATCHDOG=1")

    def reloading(self) -> None:
        """A changed site file is being taken in (``Type=notify``); ``ready`` must follow."""
        self._send("RELOADING=1")

    def stopping(self) -> None:
        """About to end."""
        self._send("STOPPING=1")

    def _send(self, message: str) -> None:
        if not self._address:
            return
        # A service manager that does not listen must never cost us anything.
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
            ear.setblocking(False)
            ear.sendto(message.encode(), self._address)
