"""Web index: the addresses that tell which addresses there are, for people and for programs."""

from collections.abc import Iterable

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from monitor import __version__
from monitor.tell.web_openapi import document
from monitor.tell.web_schemas import ERROR, INDEX_ANSWERS, OPENAPI
from monitor.tell.web_table import Address, Handler, Right, Visitor

_TEXT = {
    "200": {"description": "what there is", "content": {"text/plain": {"schema": {"type": "string"}}}},
    **ERROR,
}


class Index:
    """Lists a table of addresses, itself among them."""

    def __init__(self) -> None:
        self._table: tuple[Address, ...] = ()

    def before(self, others: Iterable[Address]) -> tuple[Address, ...]:
        """The whole table: what lists, then what is listed; a page of theirs at ``/`` replaces ours."""
        listed = tuple(others)
        own = [
            _look("/api/v1", "what there is", self._list, {"responses": INDEX_ANSWERS}),
            _look("/api/v1/", "the same", self._list, {"responses": INDEX_ANSWERS}),
            _look("/api/v1/openapi.json", "the OpenAPI document", self._document, {"responses": OPENAPI}),
        ]
        if not any(one.path == "/" for one in listed):
            text = Address(
                method="GET",
                path="/",
                right=Right.ANYBODY,
                says="what there is",
                handler=self._text,
                openapi={"responses": _TEXT},
            )
            own = [text, *own]
        self._table = (*own, *listed)
        return self._table

    async def _list(self, _request: Request, _visitor: Visitor) -> Response:
        return JSONResponse({f"{one.method} {one.path}": one.says for one in self._table})

    async def _document(self, _request: Request, _visitor: Visitor) -> Response:
        return JSONResponse(document(self._table, __version__))

    async def _text(self, _request: Request, _visitor: Visitor) -> Response:
        heading = "cakewatch: differential pressure across dust collector filters\n\n"
        lines = [f"{one.method:5}{one.path:28}{one.says}\n" for one in self._table]
        return PlainTextResponse("".join([heading, *lines]))


def _look(path: str, says: str, handler: Handler, openapi: dict[str, object]) -> Address:
    return Address(method="GET", path=path, right=Right.LOOK, says=says, handler=handler, openapi=openapi)
