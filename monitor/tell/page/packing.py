"""Packing: answers as JSON, made and packed in a thread so that the event loop goes on."""

import asyncio
import gzip
import json
from collections.abc import Callable
from concurrent.futures import Executor

from starlette.requests import Request
from starlette.responses import Response

from monitor.tell.page.files import takes_gzip

_KIND = "application/json"
_HEADERS = {"Cache-Control": "no-store", "Vary": "Accept-Encoding"}
#: Less is not worth it: it fits into one packet of a network as it is.
LEAST_PACKED = 1200


async def json_answer(request: Request, writer: Executor, make: Callable[[], bytes]) -> Response:
    """What ``make`` makes, as JSON."""
    packed = takes_gzip(request)
    body, coding = await asyncio.get_running_loop().run_in_executor(writer, _made, make, packed)
    return Response(body, headers=_HEADERS | coding, media_type=_KIND)


def refused(sentence: str, status: int = 400) -> Response:
    """What is wrong with a question, or why it cannot be answered just now."""
    body = json.dumps({"error": sentence}, ensure_ascii=False).encode("utf-8", "replace")
    return Response(body, status, headers=_HEADERS, media_type=_KIND)


def _made(make: Callable[[], bytes], packed: bool) -> tuple[bytes, dict[str, str]]:
    body = make()
    if not packed or len(body) < LEAST_PACKED:
        return body, {}
    return gzip.compress(body, 5, mtime=0), {"Content-Encoding": "gzip"}
