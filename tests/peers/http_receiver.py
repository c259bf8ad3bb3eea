"""An HTTP server that takes messages as JSON, and has bad manners where it is told to; real sockets, threads."""

import contextlib
import json
import socket
import struct
import threading
import time

from tests.peers.manners import Manner, Manners
from tests.peers.mosquitto import free_port

_ANSWERS = {
    Manner.TAKE: b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n",
    Manner.REFUSE: b"HTTP/1.1 500 Internal Server Error\r\nContent-Length: 0\r\nConnection: close\r\n\r\n",
}


class HttpReceiver:
    """``url`` is where it takes messages, in the notification library's notation; ``http_url`` in everybody's."""

    def __init__(self, manners: Manners | None = None, path: str = "take") -> None:
        self.port = free_port()
        self.manners = manners or Manners()
        self.url = f"json://127.0.0.1:{self.port}/{path}"
        self.http_url = f"http://127.0.0.1:{self.port}/{path}"
        self.requests: list[bytes] = []
        self.answers = dict(_ANSWERS)
        self._listening: socket.socket | None = None

    def open(self) -> "HttpReceiver":
        listening = socket.create_server(("127.0.0.1", self.port), backlog=128)
        self._listening = listening
        threading.Thread(target=self._accept, args=(listening,), daemon=True).start()
        return self

    def close(self) -> None:
        """From now on connections are refused."""
        if self._listening is not None:
            with contextlib.suppress(OSError):
                self._listening.shutdown(socket.SHUT_RDWR)
            self._listening.close()
            self._listening = None

    def _accept(self, listening: socket.socket) -> None:
        while True:
            try:
                one, _ = listening.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(one,), daemon=True).start()

    def _serve(self, one: socket.socket) -> None:
        manner = self.manners.next()
        with one, contextlib.suppress(OSError, ValueError):
            one.settimeout(30)
            if manner is Manner.DROP:
                return _reset(one)
            head, body = _request(one)
            self.requests.append(head)
            if manner in (Manner.TAKE, Manner.TAKE_AND_HANG, Manner.LOSE_ANSWER) and body:
                told = json.loads(body)
                self.manners.take(told["title"], told["message"], manner)
            if manner is Manner.LOSE_ANSWER:
                return _reset(one)
            if manner in (Manner.HANG, Manner.TAKE_AND_HANG):
                time.sleep(self.manners.hang_s)
                return None
            one.sendall(self.answers[manner])
        return None

    def __enter__(self) -> "HttpReceiver":
        return self.open()

    def __exit__(self, *_: object) -> None:
        self.close()


def _request(one: socket.socket) -> tuple[bytes, bytes]:
    got = b""
    while b"\r\n\r\n" not in got:
        got += _more(one)
    head, _, body = got.partition(b"\r\n\r\n")
    length = next(
        (int(line.split(b":")[1]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length")), 0
    )
    while len(body) < length:
        body += _more(one)
    return head, body


def _more(one: socket.socket) -> bytes:
    if not (got := one.recv(65536)):
        raise OSError("gone")
    return got


def _reset(one: socket.socket) -> None:
    one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
