"""Web routes: the application of one door, made from its table of addresses.

Metrics and lists are written in a thread of their own, one after another, so that a large site's never hold up the
event loop.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.tell.web_asking import error
from monitor.tell.web_guard import Guard
from monitor.tell.web_headers import SafeHeaders
from monitor.tell.web_table import Address

_NOT_THERE = "there is nothing under this address; /api/v1 lists what there is"
_OTHERWISE = "this address is not used in that way; /api/v1 lists what there is"


def application(table: Iterable[Address], guard: Guard, *, is_tls: bool) -> SafeHeaders:
    """Every address of this table, guarded.

    Args:
        table: every address.
        guard: stands before each.
        is_tls: people reach it by https.
    """
    by_path: defaultdict[str, dict[str, Address]] = defaultdict(dict)
    for address in table:
        by_path[address.path][address.method] = address
    # What has no variable part goes first: /api/v1/alarms is none of /api/v1/{anything}.
    paths = sorted(by_path, key=lambda path: "{" in path)
    routes = [_route(path, by_path[path], guard) for path in paths]
    app = Starlette(routes=routes, exception_handlers={404: _not_there, 405: _otherwise})
    # A redirection repeats the Host that was sent; a command would be sent to wherever that is.
    app.router.redirect_slashes = False
    return SafeHeaders(app, is_tls=is_tls)


def _route(path: str, methods: Mapping[str, Address], guard: Guard) -> Route:
    async def answer(request: Request) -> Response:
        method = "GET" if request.method == "HEAD" else request.method
        return await guard.answer(methods[method], request)

    return Route(path, answer, methods=list(methods))


async def _not_there(_request: Request, _error: Exception) -> Response:
    return error(404, _NOT_THERE)


async def _otherwise(_request: Request, found: Exception) -> Response:
    allowed = found.headers if isinstance(found, HTTPException) else None
    return error(405, _OTHERWISE, allowed)
