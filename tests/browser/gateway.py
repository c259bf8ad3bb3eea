"""Gateway: stands for whatever carries messages to phones; it keeps what was posted, and when."""

import json
import threading
import time
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass(frozen=True)
class Posted:
    """One message; ``at_s`` is Unix seconds."""

    person: str
    title: str
    text: str
    at_s: float

    def __str__(self) -> str:
        return f"to {self.person}: {self.title} | {self.text}"


class PhoneGateway:
    """A server on loopback, one address for each person."""

    def __init__(self) -> None:
        self.posted: list[Posted] = []
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), type("Bound", (_Taker,), {"taken": self.posted}))
        self._server.daemon_threads = True
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    def url(self, person: str) -> str:
        """The person's channel in the notification library's notation."""
        return f"json://127.0.0.1:{self._server.server_port}/{person}"

    def to(self, person: str, *words: str) -> list[Posted]:
        """Messages to one person that have all of these words."""
        return [
            one
            for one in self.posted
            if one.person == person and all(word in f"{one.title} {one.text}" for word in words)
        ]

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


class _Taker(BaseHTTPRequestHandler):
    taken: list[Posted]

    def do_POST(self) -> None:
        body: dict[str, Any] = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        self.taken.append(
            Posted(self.path.strip("/"), body.get("title", ""), body.get("message", ""), time.time())
        )
        self.send_response(200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Nothing; the test tells what it needs."""
