"""The plant's server, asked by an independent Modbus client (pyModbusTCP, not the library that serves)."""

import asyncio
from collections.abc import Callable

import pytest
from pyModbusTCP.client import ModbusClient

from monitor.clock import Clock
from monitor.errors import PlantError
from monitor.plant.demo_plant import demo_plant
from monitor.plant.server import input_registers, serve


class StandingClock(Clock):
    """A clock that a test sets by hand."""

    def __init__(self) -> None:
        super().__init__()
        self.mono_s = 500.0

    def now(self):
        return super().now()._replace(mono_s=self.mono_s)


def ask(question: Callable[[ModbusClient], object], after_s: float = 0.0) -> object:
    async def run() -> object:
        clock = StandingClock()
        server = await serve(demo_plant(), clock)
        clock.mono_s += after_s
        client = ModbusClient("127.0.0.1", server.port, timeout=2.0)
        try:
            return await asyncio.to_thread(question, client)
        finally:
            await asyncio.to_thread(client.close)
            await server.close()

    return asyncio.run(run())


def registers_of(unit_id: int) -> Callable[[ModbusClient], object]:
    def question(client: ModbusClient) -> object:
        client.unit_id = unit_id
        return client.read_input_registers(0, 4)

    return question


@pytest.mark.parametrize("position", [0, 1, 2])
def test_the_wire_shows_what_the_plant_holds_at_that_second(position: int) -> None:
    plant = demo_plant()
    device = plant.devices[position]
    plant.advance_to(1234.0)
    wanted = input_registers(device, plant.signals(device.collector.name))
    assert ask(registers_of(device.unit_id), after_s=1234.5) == wanted


def test_a_twelve_bit_dp_stands_where_its_range_puts_it() -> None:
    # Unit 1 begins at 4.5 inH2O of 0 to 10 inH2O, 819 to 4095 counts: 2293 by hand, noise of a few counts.
    words = ask(registers_of(1))
    assert words[0] == pytest.approx(819 + 0.45 * 3276, abs=30)
    assert words[2] == 900


def test_fan_and_cleaning_are_discrete_inputs() -> None:
    def question(client: ModbusClient) -> object:
        client.unit_id = 1
        return client.read_discrete_inputs(0, 2), client.read_coils(0, 1)

    assert ask(question) == ([True, False], [False])
    # Plant minute 30: without compressed air, cleaning never ends.
    assert ask(question, after_s=1800.0) == ([True, True], [True])


def test_a_broken_wire_shows_the_lowest_count_of_the_card() -> None:
    words = ask(registers_of(2), after_s=50.0 * 60.0)
    assert words[0] == 65536 - 4864


def test_nobody_can_write_to_the_plant() -> None:
    def question(client: ModbusClient) -> object:
        client.unit_id = 1
        return client.write_single_coil(0, True), client.last_except

    assert ask(question) == (False, 1)


def test_an_absent_unit_is_answered_as_by_a_gateway() -> None:
    def question(client: ModbusClient) -> object:
        client.unit_id = 9
        return client.read_input_registers(0, 1), client.last_except

    assert ask(question) == (None, 0x0B)


def test_an_address_beyond_the_map_is_an_illegal_address() -> None:
    def question(client: ModbusClient) -> object:
        client.unit_id = 1
        return client.read_input_registers(4, 1), client.last_except

    assert ask(question) == (None, 2)


def test_a_taken_port_gets_a_sentence() -> None:
    async def run() -> None:
        first = await serve(demo_plant(), Clock())
        try:
            with pytest.raises(PlantError, match=r"cannot listen on 127\.0\.0\.1:\d+; is the port taken"):
                await serve(demo_plant(), Clock(), port=first.port)
        finally:
            await first.close()

    asyncio.run(run())
