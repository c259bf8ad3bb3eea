"""Web headers: what every answer tells the browser, so that a page of ours does nothing but what it is for."""

from collections.abc import Mapping

from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: Our page loads what is ours and nothing else; nobody may frame it (W3C Content Security Policy Level 3).
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)
_ALWAYS: Mapping[str, str] = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "cache-control": "no-store",
}
#: RFC 6797; a year (our choice).
_TLS_ONLY: Mapping[str, str] = {"strict-transport-security": "max-age=31536000"}


class SafeHeaders:
    """Adds them to every answer of an application; what an address says itself stands.

    Args:
        is_tls: people reach us by https.
    """

    def __init__(self, app: ASGIApp, *, is_tls: bool) -> None:
        self._app = app
        wanted = dict(_ALWAYS) | (dict(_TLS_ONLY) if is_tls else {})
        self._headers = {name.encode(): value.encode() for name, value in wanted.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                said = message.get("headers", [])
                names = {name.lower() for name, _ in said}
                more = [pair for pair in self._headers.items() if pair[0] not in names]
                message = {**message, "headers": [*said, *more]}
            await send(message)

        await self._app(scope, receive, send_with_headers)
