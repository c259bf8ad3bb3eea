"""Web body: the whole of a request's body, where it is small and comes in time."""

import asyncio
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field

#: The whole of a body must have come within this, seconds (our choice).
BODY_LIMIT_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfit:
    """Why a body was not read to its end."""

    status: int
    text: str
    headers: Mapping[str, str] = field(default_factory=dict)


async def read_body(
    pieces: AsyncIterator[bytes], announced_bytes: int | None, most_bytes: int, what: str
) -> bytes | Unfit:
    """The body, or why not.

    Args:
        pieces: as they come.
        announced_bytes: its size as the sender says; None where that is not said.
        most_bytes: a larger one is refused.
        what: it is, such as "a command".
    """
    large = Unfit(status=413, text=f"{what} has at most {most_bytes} bytes, and this is more; send one at a time")
    if announced_bytes is not None and announced_bytes > most_bytes:
        return large
    body = bytearray()
    try:
        async with asyncio.timeout(BODY_LIMIT_S):
            async for piece in pieces:
                body += piece
                if len(body) > most_bytes:
                    return large
    except TimeoutError:
        text = f"{what} did not come whole within {BODY_LIMIT_S:g} s; send it again"
        return Unfit(status=408, text=text, headers={"Connection": "close"})
    return bytes(body)
