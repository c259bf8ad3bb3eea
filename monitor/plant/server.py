"""Server: the simulated plant behind a real Modbus TCP server.

Each collector is one unit, as behind a gateway. Addresses are protocol addresses, from 0, as on the wire:

    input register   0     DP (one register; 0 and 1 where it takes two)
    input register   2     header pressure, psi × 10
    input register   3     air flow, cfm ÷ 10
    discrete input   0     fan running
    discrete input   1     cleaning active
    coil             0     cleaning active, for clients that look for it there

The plant moves on when it is asked, up to the time on the clock; nobody can write to it.
"""

import asyncio
from collections.abc import Callable
from typing import cast

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from monitor.clock import Clock
from monitor.errors import PlantError
from monitor.plant.plant import Device, Plant, Signals
from monitor.plant.transmitter import dp_words

REGISTER_COUNT = 4


def input_registers(device: Device, signals: Signals) -> list[int]:
    """Return the unit's input registers, addresses 0 to 3."""
    dp = dp_words(device.dp, signals.dp_inh2o, loop_broken=signals.loop_broken)
    return [*dp, *[0] * (2 - len(dp)), round(signals.header_psig * 10.0), round(signals.flow_cfm / 10.0)]


class PlantServer:
    """A listening server; ``port`` is the one it got."""

    def __init__(self, server: ModbusTcpServer, host: str) -> None:
        self._server = server
        self.host = host
        # The library types its listener as a transport; it is the server that asyncio made.
        self.port: int = cast("asyncio.Server", server.transport).sockets[0].getsockname()[1]

    async def close(self) -> None:
        """Stop listening and hang up on every client."""
        await self._server.shutdown()  # type: ignore[no-untyped-call]  # the library leaves it untyped


async def serve(plant: Plant, clock: Clock, host: str = "127.0.0.1", port: int = 0) -> PlantServer:
    """Start to serve; plant time 0 is now, the clock's scan seconds are plant seconds, port 0 is any free one.

    Raises:
        PlantError: the port cannot be listened on.
    """
    zero_s = clock.now().mono_s
    devices = [_unit(plant, device, lambda: clock.now().mono_s - zero_s) for device in plant.devices]
    server = ModbusTcpServer([*devices, _nobody()], address=(host, port))
    try:
        await server.serve_forever(background=True)
    except RuntimeError as failure:
        raise PlantError(f"the simulated plant cannot listen on {host}:{port}; is the port taken?") from failure
    return PlantServer(server, host)


def _unit(plant: Plant, device: Device, now_s: Callable[[], float]) -> SimDevice:
    async def answer(
        function_code: int,
        _start: int,
        _address: int,
        _count: int,
        registers: list[int],
        written: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        if written is not None:
            return ExcCodes.ILLEGAL_FUNCTION
        plant.advance_to(now_s())
        signals = plant.signals(device.collector.name)
        match function_code:
            case 4:  # read input registers, Application Protocol V1.1b3 §6.4
                registers[:REGISTER_COUNT] = input_registers(device, signals)
            case 2:  # read discrete inputs, §6.2
                # The library packs sixteen discrete inputs into one word, the first in the lowest bit.
                registers[0] = signals.fan_running | signals.cleaning_active << 1
            case 1:  # read coils, §6.1
                registers[0] = int(signals.cleaning_active)
            case _:
                return ExcCodes.ILLEGAL_FUNCTION
        return None

    return SimDevice(device.unit_id, _memory(), action=answer)


def _nobody() -> SimDevice:
    """Answer for every unit that is not there as a gateway does (exception code 0B)."""

    async def answer(*_request: object) -> ExcCodes | None:
        return ExcCodes.GATEWAY_NO_RESPONSE

    return SimDevice(0, _memory(), action=answer)


def _memory() -> tuple[list[SimData], list[SimData], list[SimData], list[SimData]]:
    """Coils, discrete inputs, holding registers, input registers; filled at each request."""
    bits = [SimData(0, count=16, values=False, datatype=DataType.BITS)]
    words = [SimData(0, count=REGISTER_COUNT, values=0, datatype=DataType.REGISTERS)]
    return list(bits), list(bits), list(words), list(words)
