"""Stream: the answer without an end that an open page listens to, packed where the browser takes that."""

import asyncio
import contextlib
import zlib
from typing import Protocol

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from monitor.tell.page.feed import Feed
from monitor.tell.page.listener import Listener
from monitor.tell.page.writing import RETRY

#: A page that takes nothing for so long is given up, seconds (our choice; it comes back by itself).
PATIENCE_S = 30.0


class _Packer(Protocol):
    def compress(self, data: bytes, /) -> bytes: ...
    def flush(self, mode: int = ..., /) -> bytes: ...


class EventStream(Response):
    """Everything that is news, from the whole plant on.

    Args:
        feed: tells it.
        listener: of this page, joined; it is let go at the end, however that comes.
        packed: pack with gzip.
    """

    def __init__(self, feed: Feed, listener: Listener, *, packed: bool = False) -> None:
        headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no", "Vary": "Accept-Encoding"}
        if packed:
            headers["Content-Encoding"] = "gzip"
        super().__init__(None, headers=headers, media_type="text/event-stream")
        # It has no length that could be told.
        self.raw_headers = [pair for pair in self.raw_headers if pair[0] != b"content-length"]
        self._feed = feed
        self._listener = listener
        self._packer: _Packer | None = zlib.compressobj(5, zlib.DEFLATED, 31) if packed else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send until the page is closed, or the daemon ends."""
        del scope
        gone = asyncio.create_task(_gone(receive))
        telling = asyncio.create_task(self._tell(send))
        try:
            await asyncio.wait({gone, telling}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._feed.leave(self._listener)
            await _ended(gone)
            # A stream that was closed is told its end; one that hangs is not waited for.
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(asyncio.shield(telling), 0.2)
            await _ended(telling)

    async def _tell(self, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
        try:
            await self._send(send, self._pack(RETRY))
            while told := await self._feed.next(self._listener):
                await self._send(send, self._pack(told))
            rest = b"" if self._packer is None else self._packer.flush()
            await self._send(send, rest, more=False)
        except (TimeoutError, OSError):
            return  # nobody takes it: the connection's own limit ends it

    async def _send(self, send: Send, body: bytes, *, more: bool = True) -> None:
        async with asyncio.timeout(PATIENCE_S):
            await send({"type": "http.response.body", "body": body, "more_body": more})

    def _pack(self, told: bytes) -> bytes:
        if self._packer is None:
            return told
        return self._packer.compress(told) + self._packer.flush(zlib.Z_SYNC_FLUSH)


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


async def _ended(task: "asyncio.Task[None]") -> None:
    task.cancel()
    await asyncio.wait({task})
