"""Web streams: answers without an end of their own, and what ends them all the same.

The visitor's session (logged out, run out), the stop of the server, and the bound on how many there are.
"""

import asyncio
import contextlib
from collections.abc import Callable

from starlette.responses import Response
from starlette.types import Message, Receive, Scope, Send

#: Streams at once (our choice).
MOST = 50
#: Whether a stream's visitor would still be let in is looked at so often, seconds.
LOOK_AGAIN_S = 60.0
#: Set in the scope of a request whose answer lasts; its connection then bears with it.
LASTS = "cakewatch.lasts"
FULL = f"{MOST} pages are open already, which is as many as are served live; close one, and load this anew"


class Streams:
    """The streams of one server."""

    def __init__(self) -> None:
        self._closing: asyncio.Event = asyncio.Event()
        self._open = 0

    @property
    def is_full(self) -> bool:
        """Whether no further one is served."""
        return self._open >= MOST

    def close(self) -> None:
        """End them all; none begins any more."""
        self._closing.set()

    def lasting(self, response: Response, is_welcome: Callable[[], bool]) -> "Lasting":
        """The response, ended with its visitor's welcome."""
        return Lasting(self, response, is_welcome)

    async def run(self, answer: asyncio.Task[None], is_welcome: Callable[[], bool]) -> bool:
        """Wait for the answer, or until it must end; returns whether it came to its own end."""
        closing = asyncio.ensure_future(self._closing.wait())
        self._open += 1
        try:
            while not self._closing.is_set() and is_welcome():
                await asyncio.wait({answer, closing}, timeout=LOOK_AGAIN_S, return_when=asyncio.FIRST_COMPLETED)
                if answer.done():
                    return True
            return False
        finally:
            self._open -= 1
            closing.cancel()


class Lasting(Response):
    """A response that its visitor's session, or the stop of the server, ends."""

    def __init__(self, streams: Streams, response: Response, is_welcome: Callable[[], bool]) -> None:
        super().__init__()
        self._streams = streams
        self._response = response
        self._is_welcome = is_welcome

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it."""
        scope[LASTS] = True
        begun = False

        async def send_and_note(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        answer = asyncio.ensure_future(self._response(scope, receive, send_and_note))
        try:
            if await self._streams.run(answer, self._is_welcome):
                return answer.result()
        finally:
            answer.cancel()
            await asyncio.wait({answer})
            await self._let_go()
        return await _end(send, has_begun=begun)

    async def _let_go(self) -> None:
        """Close what was being sent now, not when the garbage is collected: it may hold a place somewhere."""
        close = getattr(getattr(self._response, "body_iterator", None), "aclose", None)
        if close is not None:
            await close()


async def _end(send: Send, *, has_begun: bool) -> None:
    """Say that this was all; whoever does not take that does not hold up the stop either."""
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(0.1):
            if not has_begun:
                await send({"type": "http.response.start", "status": 503, "headers": []})
            await send({"type": "http.response.body", "body": b"", "more_body": False})
