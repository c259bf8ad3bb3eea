"""Web asking: a request as the judges of rights see it, and the answer of whoever is turned away."""

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from monitor.tell.web_access import Asked, Refusal

_ONLY_READS = frozenset({"GET", "HEAD"})


def asked(request: Request, now_s: float, now_utc_s: float) -> Asked:
    """What is known of it before its right is judged."""
    return Asked(
        peer=peer_of(request),
        headers=request.headers.getlist,
        is_tls=request.scope.get("scheme") == "https",
        changes=request.method not in _ONLY_READS,
        now_s=now_s,
        now_utc_s=now_utc_s,
    )


def peer_of(request: Request) -> str | None:
    """The address at the other end; None where that is not known any more."""
    return None if request.client is None else request.client.host


def announced_bytes(request: Request) -> int | None:
    """The size of the body as announced; the server has already refused what is no number."""
    found = request.headers.get("content-length")
    return int(found) if found is not None and found.isascii() and found.isdecimal() else None


def error(status: int, text: str, headers: Mapping[str, str] | None = None) -> Response:
    """A sentence, as JSON."""
    return JSONResponse({"error": text}, status, headers=dict(headers or {}))


def refuse(refusal: Refusal) -> Response:
    """The answer of whoever is turned away."""
    return error(refusal.status, refusal.text, refusal.headers)
