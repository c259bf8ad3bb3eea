"""Bare loop: what the library alone can do. Reads with pymodbus's async client, one request after the other.

Runs in a process of its own. Each line ``SECONDS`` on the standard input is one round; the answer is
``{"requests": …, "seconds": …, "cpu_s": …}``.
"""

import asyncio
import json
import sys
import time

from pymodbus.client import AsyncModbusTcpClient


async def _rounds(port: int, units: int, points: int, count: int) -> None:
    client = AsyncModbusTcpClient("127.0.0.1", port=port)
    assert await client.connect()
    places = [(unit, address) for unit in range(1, units + 1) for address in range(0, points, count)]
    for line in sys.stdin:
        print(json.dumps(await _round(client, places, count, float(line))), flush=True)
    client.close()


async def _round(client: AsyncModbusTcpClient, places: list[tuple[int, int]], count: int, seconds: float) -> dict:
    requests, began_s, cpu_s = 0, time.perf_counter(), time.process_time()
    while time.perf_counter() - began_s < seconds:
        for unit, address in places[:50]:
            reply = await client.read_input_registers(address, count=count, device_id=unit)
            assert not reply.isError()
            assert len(reply.registers) == count
        requests += len(places[:50])
    return {
        "requests": requests,
        "seconds": time.perf_counter() - began_s,
        "cpu_s": time.process_time() - cpu_s,
    }


if __name__ == "__main__":
    asyncio.run(_rounds(*map(int, sys.argv[1:5])))
