"""Gate: between the daemon and the broker; a test opens, shuts and cuts it.

It lets a test have the subscriber in its place before the daemon comes back to a restarted broker: whatever an
unbuffered event would otherwise miss is then a loss of ours, not of the broker's.
"""

import asyncio
import contextlib

from tests.peers.mosquitto import free_port
from tests.rig.field import Field

HOST = "127.0.0.1"


class Gate:
    """A TCP relay on a port of its own that keeps it while shut."""

    def __init__(self, field: Field, target_port: int) -> None:
        self.port = free_port()
        self.accepted = 0
        self._field = field
        self._target_port = target_port
        self._server: asyncio.Server | None = None
        self._writers: set[asyncio.StreamWriter] = set()
        self._flowing = asyncio.Event()
        self._flowing.set()
        self._tasks: set[asyncio.Task[None]] = set()
        self.open()
        field.at_the_end(self._shut)

    def open(self) -> None:
        self._field.run(self._open())

    def shut(self) -> None:
        """Refuse, and cut what stands."""
        self._field.run(self._shut())

    def cut(self) -> None:
        """Cut what stands; new connections are taken. What a stall held back is lost."""
        self._field.call(self._cut)

    def stall(self) -> None:
        """Keep what the daemon sends from now on, until ``flow`` or a cut."""
        self._field.call(self._flowing.clear)

    def flow(self) -> None:
        """Let everything pass again."""
        self._field.call(self._flowing.set)

    async def _open(self) -> None:
        if self._server is None:
            self._server = await asyncio.start_server(self._relay, HOST, self.port)

    async def _shut(self) -> None:
        if self._server is not None:
            self._server.close()
            self._server = None
        self._cut()
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def _cut(self) -> None:
        for writer in list(self._writers):
            writer.transport.abort()

    async def _relay(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._tasks.add(task)
        self.accepted += 1
        ends = [writer]
        self._writers.add(writer)
        try:
            far_reader, far_writer = await asyncio.open_connection(HOST, self._target_port)
            self._writers.add(far_writer)
            ends.append(far_writer)
            ways = [
                asyncio.ensure_future(self._pump(reader, far_writer, up=True)),
                asyncio.ensure_future(self._pump(far_reader, writer)),
            ]
            try:
                await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
            finally:
                for way in ways:
                    way.cancel()
        except (OSError, asyncio.CancelledError):
            pass  # shut, or the broker is not there: either way the daemon sees its connection end
        finally:
            self._tasks.discard(task)
            for end in ends:
                self._writers.discard(end)
                end.transport.abort()

    async def _pump(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, *, up: bool = False) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(65536):
                if up:
                    await self._flowing.wait()
                writer.write(data)
                await writer.drain()
