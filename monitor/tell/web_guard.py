"""Web guard: stands before every address of the table and lets in who may come.

What becomes of a request is decided here alone, from the table's right; no handler is reached without it.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from monitor.tell.command_rate import Bucket
from monitor.tell.web_access import Access, Refusal
from monitor.tell.web_asking import asked, error, peer_of, refuse
from monitor.tell.web_commands import refusal as as_answer
from monitor.tell.web_streams import FULL, Streams
from monitor.tell.web_table import Address, How, Right, Visitor

log = logging.getLogger(__name__)

_OPEN_TO_ALL = Visitor(how=How.SOCKET)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clocks:
    """The times that are asked for.

    Attributes:
        now_s: seconds of a clock that never steps back.
        utc_s: this moment, Unix seconds.
    """

    now_s: Callable[[], float]
    utc_s: Callable[[], float]

    @property
    def both(self) -> tuple[Callable[[], float], Callable[[], float]]:
        """The wall clock, then the other."""
        return self.utc_s, self.now_s


class Guard:
    """Lets in who may come.

    Args:
        access: judges; None where somebody else did: the file system (control socket), or the site file that
            opens a listener for /metrics to everybody.
        streams: the answers that last.
    """

    def __init__(self, access: Access | None, streams: Streams, clocks: Clocks) -> None:
        self._access = access
        self._streams = streams
        self._clocks = clocks
        # One line a second at most: whoever is turned away must not fill the disk with it.
        self._log_bucket = Bucket.full(10, 1.0, clocks.now_s())

    async def answer(self, address: Address, request: Request) -> Response:
        """What this request gets from that address."""
        visitor = self._judge(address, request)
        if isinstance(visitor, Refusal):
            self._log(address, request, visitor)
            return self._turned_away(address, visitor)
        if not address.lasts:
            return await address.handler(request, visitor)
        if self._streams.is_full:
            return error(503, FULL, {"Retry-After": "30"})
        response = await address.handler(request, visitor)
        return self._streams.lasting(response, lambda: self._is_welcome(visitor))

    def _judge(self, address: Address, request: Request) -> Visitor | Refusal:
        if self._access is None:
            return _OPEN_TO_ALL
        return self._access.judge(address.right, asked(request, self._clocks.now_s(), self._clocks.utc_s()))

    def _is_welcome(self, visitor: Visitor) -> bool:
        return self._access is None or self._access.lasts(visitor, self._clocks.utc_s())

    def _turned_away(self, address: Address, why: Refusal) -> Response:
        if address.right is not Right.OPERATE:
            return refuse(why)
        # Whoever sends a command reads an answer to a command, whatever becomes of it.
        told = as_answer(why.code, why.text, self._clocks.utc_s(), why.status, why.headers)
        return Response(told.body, told.status, headers=dict(told.headers), media_type="application/json")

    def _log(self, address: Address, request: Request, why: Refusal) -> None:
        # The address as the table has it: a link's token is a secret.
        left = self._log_bucket.take(self._clocks.now_s())
        if left is not None:
            self._log_bucket = left
            peer = peer_of(request) or "unknown"
            log.warning("turned away peer=%s path=%r status=%d why=%r", peer, address.path, why.status, why.text)
