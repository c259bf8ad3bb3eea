"""Wire: the network between the browser and the daemon; it may stop carrying without closing anything."""

import asyncio
import contextlib

from tests.rig.gate import Gate


class Wire(Gate):
    """A gate that stalls both ways: neither side hears anything, and neither is told."""

    async def _pump(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, *, up: bool = False) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(65536):
                await self._flowing.wait()
                writer.write(data)
                await writer.drain()
