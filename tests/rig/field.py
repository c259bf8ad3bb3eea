"""Field: Modbus devices of a test, served from an event loop of their own, so that the test may be plain code.

``FieldDevice`` adds to the fault device that a register may hold what a test wants instead of the value that
tells its own address.
"""

import asyncio
import struct
import threading
from collections.abc import Callable, Coroutine
from typing import Any

from tests.peers.fault_device import Fault, FaultDevice, Seen, register_value
from tests.peers.mosquitto import free_port

Register = tuple[int, int]  # unit, protocol address


class FieldDevice(FaultDevice):
    """A fault device whose registers may be set.

    Attributes:
        values: what a register holds, or a function that says so; without an entry it tells its own address.
        served: every number that was ever put into an answer for a register, for those with an entry.
    """

    def __init__(self, framing: str = "tcp", **settings: Any) -> None:
        super().__init__(framing, **settings)
        self.values: dict[Register, int | Callable[[], int]] = {}
        self.served: dict[Register, set[int]] = {}

    @property
    def is_listening(self) -> bool:
        return self._server.is_serving()

    def _data(self, unit_id: int, function: int, address: int, count: int) -> bytes:
        if function < 3:
            return super()._data(unit_id, function, address, count)
        return b"".join(struct.pack(">H", self._word(unit_id, function, address + i)) for i in range(count))

    def _word(self, unit_id: int, function: int, address: int) -> int:
        known = self.values.get((unit_id, address))
        if known is None:
            return register_value(unit_id, function, address)
        word = known() if callable(known) else known
        self.served.setdefault((unit_id, address), set()).add(word)
        return word


class Field:
    """An event loop in a thread; everything that it serves ends with it."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="field", daemon=True)
        self._thread.start()
        self._leave: list[Callable[[], Coroutine[Any, Any, Any]]] = []

    def device(self, framing: str = "tcp", **settings: Any) -> FieldDevice:
        """A device that listens on a port of its own, which stays free while it refuses."""
        device = FieldDevice(framing, port=free_port(), **settings)
        self.run(device.__aenter__())
        self._leave.append(device.__aexit__)
        return device

    def refuse(self, device: FaultDevice) -> None:
        """Have the device refuse connections."""
        self.run(device.refuse())

    def listen(self, device: FaultDevice) -> None:
        """Have it take connections again."""
        self.run(device.listen())

    def hang_up(self, device: FaultDevice) -> None:
        """Have it end the connections that stand."""
        self.call(device.hang_up)

    def suffer(self, device: FaultDevice, fault: Fault) -> None:
        """Give the device a fault, or with ``OK`` take it away."""
        self.call(lambda: setattr(device, "fault", fault))

    def requests(self, device: FaultDevice) -> list[Seen]:
        """What it was asked so far."""
        return list(device.requests)

    def now_s(self) -> float:
        """The clock by which requests are stamped."""
        return self._loop.time()

    def at_the_end(self, leave: Callable[[], Coroutine[Any, Any, Any]]) -> None:
        """Have this done before the loop ends."""
        self._leave.append(leave)

    def run(self, work: Coroutine[Any, Any, Any], within_s: float = 10.0) -> Any:
        """Do it on the loop, and wait."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(within_s)

    def call(self, what: Callable[[], object]) -> None:
        """The same for something that is no coroutine."""

        async def work() -> None:
            what()

        self.run(work())

    def close(self) -> None:
        for leave in reversed(self._leave):
            self.run(leave() if leave.__name__ != "__aexit__" else leave(None, None, None))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(5)
        self._loop.close()
