"""A web server on a thread of its own that plain clients can ask, with a rulebook that does as it is told."""

import asyncio
import http.client
import json
import socket
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from monitor.tell import control_socket
from monitor.tell.health import HealthReport
from monitor.tell.settings import HttpSettings
from monitor.tell.web import WebServer
from monitor.words import Answer, AnswerCode, Command

NOW_UTC_S = 1772352723.0
LIMIT_S = 15.0

ALARMS = [
    {"tag": "PDAH-101", "collector": "DC-101", "state": "unacknowledged", "priority": "high", "active": True},
    {"tag": "PDAH-102", "collector": "DC-102", "state": "shelved", "priority": "low", "active": False},
    {"tag": "PDAH-103", "collector": "DC-103", "state": "normal", "priority": "low", "active": False},
]


class Rulebook:
    """Answers every command with ``code``, and remembers it.

    Attributes:
        before: awaited before each answer.
    """

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Begin anew."""
        self.code = AnswerCode.DONE
        self.commands: list[Command] = []
        self.before: Callable[[], Any] | None = None

    async def submit(self, command: Command) -> Answer:
        self.commands.append(command)
        if self.before is not None:
            await self.before()
        text = f"{command.tag or 'the horn'} {self.code.value}, {command.by}"
        return Answer(
            command_id=command.command_id, code=self.code, text=text, at_utc_s=NOW_UTC_S, tag=command.tag
        )


class ServedWeb:
    """One running server; ``with`` ends it."""

    def __init__(
        self,
        settings: HttpSettings | None = None,
        control: Path | None = None,
        alarms: Callable[[], Any] = lambda: ALARMS,
        takes_commands: bool = True,
        **more: Any,
    ) -> None:
        self.rulebook = Rulebook()
        self.control = control
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever)
        self._make = lambda: WebServer(
            settings,
            lambda: lambda _accept: (b"figures", "text/plain"),
            lambda: HealthReport({"judge": "ok"}),
            alarms,
            self.rulebook.submit if takes_commands else None,
            control,
            **more,
        )

    def __enter__(self) -> "ServedWeb":
        self._thread.start()
        self.server = self._make()
        try:
            self._run(self.server.start())
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._run(self.server.stop())
        self._end()

    def connect(self) -> socket.socket:
        """A bare connection, to the TCP address if there is one."""
        if self.server.address is not None:
            return socket.create_connection(self.server.address, timeout=LIMIT_S)
        return control_socket.connect(self.control, LIMIT_S)

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str | None] | None = None
    ) -> tuple[int, Mapping[str, str], bytes]:
        """Status, headers and body; a header of None is left out."""
        connection = http.client.HTTPConnection("127.0.0.1", (self.server.address or ("", 80))[1])
        connection.sock = self.connect()
        given = {"Content-Type": "application/json"} | dict(headers or {})
        connection.putrequest(method, path, skip_host="Host" in given)
        for name, value in given.items():
            if value is not None:
                connection.putheader(name, value)
        if body is not None:
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body)
        found = connection.getresponse()
        answer = found.status, dict(found.getheaders()), found.read()
        connection.close()
        return answer

    def command(
        self, command: object, headers: Mapping[str, str | None] | None = None
    ) -> tuple[int, dict[str, Any]]:
        """Status and answer of one command."""
        status, _, body = self.ask("POST", "/api/v1/commands", json.dumps(command).encode(), headers)
        return status, json.loads(body)

    def call(self, what: Callable[[], Any]) -> Any:
        """Do this on the server's own event loop."""

        async def once() -> Any:
            return what()

        return self._run(once())

    def _run(self, what: Any) -> Any:
        return asyncio.run_coroutine_threadsafe(what, self._loop).result(LIMIT_S)

    def _end(self) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()
