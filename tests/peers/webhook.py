"""A receiver of Alertmanager's webhooks: keeps what it was sent, with the second at which it came."""

import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, NamedTuple


class Heard(NamedTuple):
    """One alert of one message; ``at_s`` on the monotonic clock."""

    at_s: float
    path: str
    status: str
    labels: dict[str, str]
    annotations: dict[str, str]


class Webhook:
    def __init__(self) -> None:
        self.heard: list[Heard] = []
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self.heard))
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"

    def of(self, alertname: str, status: str = "firing") -> list[Heard]:
        return [one for one in list(self.heard) if one.labels["alertname"] == alertname and one.status == status]

    def __enter__(self) -> "Webhook":
        threading.Thread(target=self._server.serve_forever, name="webhook", daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()


def _handler(heard: list[Heard]) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            at_s = time.monotonic()
            told: dict[str, Any] = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            heard.extend(
                Heard(at_s, self.path, one["status"], one["labels"], one["annotations"]) for one in told["alerts"]
            )
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    return Handler
