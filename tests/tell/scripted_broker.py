"""A broker of a few lines that speaks MQTT 5 by script: for answers that a well-behaved broker never gives."""

import asyncio
from collections.abc import Callable

CONNACK = b"\x20\x03\x00\x00\x00"
CONNECT, PUBLISH, PINGREQ, DISCONNECT = 1, 3, 12, 14


def puback(message_id: int, code: int = 0) -> bytes:
    return bytes([0x40, 3, message_id >> 8, message_id & 0xFF, code])


class ScriptedBroker:
    """``answer(number, topic, message_id)`` gives the bytes for the so-many-th PUBLISH of a connection."""

    def __init__(self, answer: Callable[[int, str, int], bytes], connack: bytes = CONNACK) -> None:
        self._answer = answer
        self._connack = connack
        self.connections = 0
        self.topics: list[str] = []

    async def __aenter__(self) -> "ScriptedBroker":
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        self._server.close()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        number = 0
        try:
            while True:
                kind, body = await _packet(reader)
                if kind >> 4 == CONNECT:
                    writer.write(self._connack)
                elif kind >> 4 == PUBLISH:
                    length = int.from_bytes(body[:2])
                    topic, message_id = body[2 : 2 + length].decode(), 0
                    if kind & 0x06:
                        message_id = int.from_bytes(body[2 + length : 4 + length])
                    number += 1
                    self.topics.append(topic)
                    writer.write(self._answer(number, topic, message_id))
                elif kind >> 4 == DISCONNECT:
                    break
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        writer.close()


async def _packet(reader: asyncio.StreamReader) -> tuple[int, bytes]:
    kind = (await reader.readexactly(1))[0]
    length, shift = 0, 0
    while True:
        byte = (await reader.readexactly(1))[0]
        length |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return kind, await reader.readexactly(length)
