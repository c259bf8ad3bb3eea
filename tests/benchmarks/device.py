"""Device: a Modbus TCP server in a process of its own, as fast as plain Python can be; it counts.

One thread, one epoll. Every unit of a port has the same registers; input and holding registers are the same.
Values are the raw counts of a 4–20 mA card: 0 at 4 mA and 0 inH2O, 27648 at 20 mA and 10 inH2O.

Commands come line by line on the standard input: ``count`` answers ``{"requests": …}``, ``flip PORT_INDEX
ADDRESS HIGH`` changes a register and notes when, ``flips`` answers ``[[unix_s, port_index, address, high], …]``.
"""

import argparse
import json
import math
import select
import socket
import struct
import sys
import time

COUNTS_PER_INH2O = 2764.8
LOW_INH2O, HIGH_INH2O = 4.5, 8.0
_HEAD = struct.Struct(">HHHBBHH")


class Device:
    """The server."""

    def __init__(self, ports: int, points: int, *, moving: bool) -> None:
        self.requests = 0
        self.flips: list[tuple[float, int, int, bool]] = []
        self._points = points
        self._moving = moving
        self._epoll = select.epoll()
        self._listeners: dict[int, tuple[socket.socket, int]] = {}
        self._peers: dict[int, tuple[socket.socket, bytearray]] = {}
        self._registers: list[bytearray] = []
        self.ports = [self._listen(index) for index in range(ports)]
        self._epoll.register(sys.stdin.fileno(), select.EPOLLIN)
        self._due_s = time.monotonic()
        self._second = 0

    def serve(self) -> None:
        """Answer until the standard input ends."""
        while True:
            timeout = max(0.0, self._due_s - time.monotonic()) if self._moving else -1
            for number, _ in self._epoll.poll(timeout):
                if number in self._peers:
                    self._answer(number)
                elif number in self._listeners:
                    self._accept(number)
                elif not self._obey():
                    return
            if self._moving and time.monotonic() >= self._due_s:
                self._move()

    def _listen(self, index: int) -> int:
        listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self._listeners[listener.fileno()] = (listener, index)
        self._epoll.register(listener.fileno(), select.EPOLLIN)
        still = struct.pack(">H", round(LOW_INH2O * COUNTS_PER_INH2O))
        self._registers.append(bytearray(still * (self._points + 125)))
        return listener.getsockname()[1]

    def _accept(self, number: int) -> None:
        listener, index = self._listeners[number]
        peer, _ = listener.accept()
        peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._peers[peer.fileno()] = (peer, self._registers[index])
        self._epoll.register(peer.fileno(), select.EPOLLIN)

    def _answer(self, number: int) -> None:
        peer, registers = self._peers[number]
        try:
            data = peer.recv(4096)
        except ConnectionResetError:
            data = b""
        if len(data) != _HEAD.size:  # gone (every client here sends one whole request at a time)
            self._epoll.unregister(number)
            peer.close()
            del self._peers[number]
            return
        transaction, _, _, unit, function, address, count = _HEAD.unpack(data)
        self.requests += 1
        size = 2 * count
        head = struct.pack(">HHHBBB", transaction, 0, 3 + size, unit, function, size)
        peer.send(head + registers[2 * address : 2 * address + size])

    def _obey(self) -> bool:
        words = sys.stdin.readline().split()
        if not words:
            return False
        if words[0] == "flip":
            self._flip(int(words[1]), int(words[2]), high=words[3] == "1")
        else:
            answer = {"requests": self.requests} if words[0] == "count" else self.flips
            print(json.dumps(answer), flush=True)
        return True

    def _flip(self, index: int, address: int, *, high: bool) -> None:
        counts = round((HIGH_INH2O if high else LOW_INH2O) * COUNTS_PER_INH2O)
        struct.pack_into(">H", self._registers[index], 2 * address, counts)
        self.flips.append((time.time(), index, address, high))

    def _move(self) -> None:
        """Each second: a cleaning sawtooth on every point, and each second another point goes high for 20 s."""
        self._due_s += 1.0
        self._second += 1
        total = self._points * len(self._registers)
        high = {(self._second - ago) * 7919 % total for ago in range(20)}
        for point in range(total):
            phase = (self._second / (60 + point % 40) + point * 0.618) % 1
            dp_inh2o = 4 + phase + 0.02 * math.sin(point + 3.0 * self._second) + (3.5 if point in high else 0)
            index, address = divmod(point, self._points)
            struct.pack_into(">H", self._registers[index], 2 * address, round(dp_inh2o * COUNTS_PER_INH2O))


def main() -> None:
    """Serve as the arguments say; prints the ports first."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--ports", type=int, default=1)
    arguments.add_argument("--points", type=int, default=1000)
    arguments.add_argument("--moving", action="store_true")
    given = arguments.parse_args()
    device = Device(given.ports, given.points, moving=given.moving)
    print(json.dumps(device.ports), flush=True)
    device.serve()


if __name__ == "__main__":
    main()
