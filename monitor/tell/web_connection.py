"""Web connection: one connection of the HTTP address, which may be idle only where that costs nobody anything.

A probe that leaks its sockets must not blind the monitoring. So a connection must bring a whole request within
seconds and take its answer in time; and where there are too many, the one that has been quiet the longest goes,
not the one that has just come.
"""

import asyncio
import socket
from typing import Any

from uvicorn import Config
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle
from uvicorn.server import ServerState

from monitor.tell.web_streams import LASTS

#: Connections at once, beside those whose answer has no end; as many requests can be under way.
MAX_CONNECTIONS = 50
#: A request must be whole within this, counted from the connection or from its first byte (our choice).
REQUEST_LIMIT_S = 5.0
#: An answer must be taken within this; longer than a usual scrape timeout of 10 s (our choice). One without an end
#: goes on, as long as everything that was written was once taken within this.
ANSWER_LIMIT_S = 30.0
#: A connection may wait this long for its next request; longer than a usual scrape interval, so that a scraper
#: keeps its connection.
KEEP_ALIVE_S = 75


#: An answer without an end is looked at so often within its limit.
_LOOKS = 10


class BoundedConnection(H11Protocol):
    """One connection.

    Attributes:
        quiet_since_s: when it came, or when its last answer was complete, seconds of the event loop.
    """

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self.quiet_since_s = self.loop.time()
        self._deadline: asyncio.TimerHandle | None = None
        self._awaited: object = None
        self._taken_s = 0.0

    @property
    def is_answering(self) -> bool:
        """Whether a request is under way, or an answer not wholly taken."""
        cycle: RequestResponseCycle | None = self.cycle
        if cycle is not None and not cycle.response_complete:
            return True
        return self.transport.get_write_buffer_size() > 0

    @property
    def lasts(self) -> bool:
        """Whether an answer without an end is under way."""
        cycle: RequestResponseCycle | None = self.cycle
        return cycle is not None and not cycle.response_complete and bool(dict(cycle.scope).get(LASTS))

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the library does
        """Take it, and let the quietest go if that is one too many."""
        super().connection_made(transport)
        _give_up_on_the_dead(transport)
        self._make_room()
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Take some bytes, of a request mostly."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """Be quiet again, until the next request."""
        self.quiet_since_s = self.loop.time()
        super().on_response_complete()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._await(None, 0.0)
        super().connection_lost(exc)

    def let_go(self) -> None:
        """Abort it if its answer has no end and is not taken: it could not be told that this is the end."""
        if self.lasts and self.transport.get_write_buffer_size() > 0:
            self.transport.abort()

    def _make_room(self) -> None:
        # The closing ones are out of this set only a turn of the loop later.
        bounded = [one for one in self.connections if isinstance(one, BoundedConnection)]
        open_ones = [one for one in bounded if not one.transport.is_closing() and not one.lasts]
        if len(open_ones) <= MAX_CONNECTIONS:
            return
        quiet = [one for one in open_ones if not one.is_answering]
        # A connection that has just come is quiet too: where all others are at work, it is the one to go.
        min(quiet, key=lambda one: (one is self, one.quiet_since_s)).transport.abort()

    def _watch(self) -> None:
        """Await what is due next: the end of the answer, the next request, or the rest of this one."""
        if self.is_answering:
            self._await(self.cycle, ANSWER_LIMIT_S)
        elif self.timeout_keep_alive_task is not None and not self.conn.trailing_data[0]:
            self._await(None, 0.0)
        else:
            self._await("request", REQUEST_LIMIT_S)

    def _await(self, what: object, limit_s: float) -> None:
        if what is self._awaited:
            return
        if self._deadline is not None:
            self._deadline.cancel()
        self._awaited = what
        self._taken_s = self.loop.time()
        self._deadline = None if what is None else self.loop.call_later(limit_s, self._out_of_time)

    def _is_taken(self) -> bool:
        """Whether the other side still takes what is written."""
        now_s = self.loop.time()
        if self.transport.get_write_buffer_size() == 0:
            self._taken_s = now_s
        return now_s - self._taken_s < ANSWER_LIMIT_S

    def _out_of_time(self) -> None:
        # Nobody says when the last bytes of an answer were taken, so it is looked up here.
        if self._awaited is self.cycle and not self.is_answering:
            self._watch()
        elif self._awaited is self.cycle and self.lasts and self._is_taken():
            self._deadline = self.loop.call_later(ANSWER_LIMIT_S / _LOOKS, self._out_of_time)
        else:
            # Not closed: closing waits for the very bytes that the other side does not take.
            self.transport.abort()


def _give_up_on_the_dead(transport: asyncio.Transport) -> None:
    """Have the system end a connection whose other side is gone: a phone that left the yard never says so.

    The system itself would try for a quarter of an hour (tcp(7), TCP_USER_TIMEOUT).
    """
    found = transport.get_extra_info("socket")
    if found is not None and found.family in (socket.AF_INET, socket.AF_INET6):
        found.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, round(ANSWER_LIMIT_S * 1000))
