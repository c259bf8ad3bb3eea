"""Stand-in phone: shows on the screen whatever comes to json://127.0.0.1:8099, for trying out without a gateway.

python3 deploy/stand_in_phone.py        Ctrl-C ends it
"""

import contextlib
import json
import sys
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PORT = 8099


class Phone(BaseHTTPRequestHandler):
    """Takes every message and shows for whom it is, its title and its text."""

    def do_POST(self) -> None:
        """Show one message; those to ``json://127.0.0.1:8099/anna`` are anna's."""
        told = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))))
        lines = (f"--- for {self.path.strip('/')}", told.get("title"), told["message"], "")
        show("\n".join(filter(None, lines)))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """No second line for each message."""


def show(text: str) -> None:
    """Put it on the screen at once, also where that is a file."""
    sys.stdout.write(f"{text}\n\n")
    sys.stdout.flush()


if __name__ == "__main__":
    show(f"waiting for messages to json://127.0.0.1:{PORT}/NAME")
    with contextlib.suppress(KeyboardInterrupt):
        ThreadingHTTPServer(("127.0.0.1", PORT), Phone).serve_forever()
