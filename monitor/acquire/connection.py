"""Connection: one open way to the devices of a link, from its opening to its end. The home of pymodbus.

The library opens sockets and serial ports, builds frames and moves bytes. Its transactions are not used: here
every request has our own time limit; a lost connection fails the request in flight at once; nothing is
retried (on an RTU line a retry makes the surplus answer that is then taken for another register's) nor
reconnected (a connection that is not usable any more is closed, and whoever owns the link opens a fresh
one); and ``framing`` judges every byte that comes in. Its log is silenced: a hex dump for each timeout.
"""

import asyncio
import logging
import os
from collections.abc import Callable, Collection
from pathlib import Path
from typing import cast

from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.framer import FramerType

from monitor.acquire import exception_codes
from monitor.acquire.framing import EXCEPTION_BIT, Malformed, MbapStream, RtuLine, Shape
from monitor.acquire.line_time import t35_s
from monitor.acquire.names import UnknownHostError, addresses_of
from monitor.acquire.requests import Reply, Request, words_of
from monitor.acquire.settings import Address, LinkSettings, Parity, Protocol, SerialPort
from monitor.words import Failure, Reason

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

#: Opening may take this long even where requests may not: a lost first packet is sent again after 1 s.
OPEN_AT_LEAST_S = 1.2
#: Modbus TCP: transactions are counted from 1 to this, then anew; some gateways answer all with 0.
MOST_TRANSACTIONS = 0xFFFF
#: Modbus TCP: a connection on which this many requests in a row found no answer is replaced.
MOST_TIMEOUTS = 3

_PARITY_LETTER = {Parity.EVEN: "E", Parity.ODD: "O", Parity.NONE: "N"}


class Connection:
    """One connection: opened once, closed once. Made inside a running event loop, used by one task.

    Args:
        link: where to, in which framing.
        lost: called once if the other side ends it (never for our own ``close``).
    """

    def __init__(self, link: LinkSettings, lost: Callable[[], None]) -> None:
        self.usable = False
        self.proven = False  # something well-formed came over it
        self._place = place_of(link)
        self._lost = lost
        self._host, self._port = (link.where.host, link.where.port) if isinstance(link.where, Address) else ("", 0)
        self._open_limit_s = open_limit_s(link)
        self._rtu = link.protocol is not Protocol.TCP
        self._wire: MbapStream | RtuLine = RtuLine() if self._rtu else MbapStream()
        self._silence_s = t35_s(link.where) if isinstance(link.where, SerialPort) else 0.0
        self._free_at_s = 0.0
        self._answer: asyncio.Future[bytes | Failure] | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._limit_s = self._deadline_s = 0.0
        self._timeouts = 0
        self._transaction = 0
        self._loop = asyncio.get_running_loop()
        self._client = self._make_client(link)
        self._exchange = self._client.ctx
        # All bytes are ours: the library would keep some of them to mix with the next answer.
        self._exchange.data_received = self._on_bytes  # type: ignore[method-assign]  # it offers no other way in

    @property
    def is_open(self) -> bool:
        """Whether the other side still holds it."""
        return self._exchange.transport is not None

    def _make_client(self, link: LinkSettings) -> AsyncModbusTcpClient | AsyncModbusSerialClient:
        if isinstance(link.where, Address):
            return AsyncModbusTcpClient(
                link.where.host,
                port=link.where.port,
                framer=FramerType.RTU if self._rtu else FramerType.SOCKET,
                timeout=link.timeout_s,
                retries=0,
                reconnect_delay=0,
                trace_connect=self._on_connect,
            )
        return AsyncModbusSerialClient(
            link.where.device,
            baudrate=link.where.baud,
            bytesize=link.where.data_bits,
            parity=_parity_letter(link.where),
            stopbits=link.where.stop_bits,
            timeout=link.timeout_s,
            retries=0,
            reconnect_delay=0,
            trace_connect=self._on_connect,
        )

    async def open(self) -> Failure | None:
        """Open it within ``open_limit_s``; return why not, or None."""
        doing = f"resolve {self._host}"
        try:
            async with asyncio.timeout(self._open_limit_s):
                hosts = await addresses_of(self._host, self._port) if self._host else [""]
                doing = f"connect to {self._place}"
                await self._connect(hosts)
                await self._settle()
        except TimeoutError:
            self.close()
            return Failure(Reason.NO_CONNECTION, f"cannot {doing} within {self._open_limit_s:g} s")
        except UnknownHostError as error:
            self.close()
            return Failure(Reason.NO_CONNECTION, str(error))
        except Exception as error:  # pyserial lets termios.error through, which is no OSError
            self.close()
            return Failure(Reason.NO_CONNECTION, f"cannot open {self._place}: {_why(error)}")
        except BaseException:
            self.close()
            raise
        self.usable = True
        return None

    async def _connect(self, hosts: list[str]) -> None:
        """Connect to the first that takes us (a serial port has no host)."""
        for i, host in enumerate(hosts):
            if host:
                self._exchange.init_setup_connect_listen(host, self._port)
            try:
                # Not client.connect(): that one keeps the reason of a refusal to itself.
                self._exchange.transport, _ = await self._exchange.call_create()
            except OSError:
                if i == len(hosts) - 1:
                    raise
            else:
                return

    async def _settle(self) -> None:
        """Let the library finish: a serial port is set up in the next two turns of the loop."""
        await asyncio.sleep(0)
        await asyncio.sleep(0)

    def close(self) -> None:
        """Close it at once; bytes not yet sent are dropped, a request in flight fails."""
        self.usable = False
        transport = cast("asyncio.Transport | None", self._exchange.transport)
        self._client.close()
        if transport is not None:
            # close() alone would wait for ever for a frozen peer to take the last bytes.
            transport.abort()
        if self._timer is not None:
            self._timer.cancel()
        self._end(self._closed("was closed by us"))

    async def ask(self, request: Request, timeout_s: float, owed: Collection[Shape] = ()) -> Reply:
        """Ask once, and return the answer or why there is none. Never raises for what a device does.

        Args:
            request: what to ask.
            timeout_s: real seconds.
            owed: RTU only: shapes of answers that this unit may still send late; never one of our own shape.
        """
        if self._silence_s:
            await self._keep_silence()
        if not self.is_open:
            return Reply(failure=self._closed("is closed"), answered=False)
        self._wire.expect(request.block.unit_id, request.shape, owed)
        answer = self._answer = self._loop.create_future()
        self._set_timer(timeout_s)
        try:
            self._send(request)
            outcome = await answer
        finally:
            self._answer = None
            self._wire.rest(unanswered=self._unanswered(answer))
        return (
            Reply(failure=outcome, answered=False)
            if isinstance(outcome, Failure)
            else self._read(outcome, request)
        )

    def _send(self, request: Request) -> None:
        # Not client.execute(): its retries, its timeouts and its own idea of a fitting answer stay out. Nor its
        # pdu_send(), which would build the same frame anew at every scan.
        self._transaction = self._transaction % MOST_TRANSACTIONS + 1
        frame = request.rtu if self._rtu else self._transaction.to_bytes(2, "big") + request.mbap
        cast("asyncio.Transport", self._exchange.transport).write(frame)

    def _read(self, frame: bytes, request: Request) -> Reply:
        """Return what a whole fitting frame holds."""
        self._timeouts = 0
        self.proven = True
        if self._silence_s:
            self._free_at_s = self._loop.time() + self._silence_s
        at = self._wire.pdu_at
        function = frame[at]
        if function & EXCEPTION_BIT:
            return Reply((), exception_codes.failure_of(frame[at + 1]), True, function)
        if request.shape.echo:
            return Reply((), None, True, function)
        data = frame[at + 2 : at + 2 + request.shape.data_bytes]
        return Reply(words_of(data, request.block), None, True, function)

    async def _keep_silence(self) -> None:
        wait_s = self._free_at_s - self._loop.time()
        if wait_s > 0:
            await asyncio.sleep(wait_s)

    def _on_bytes(self, data: bytes) -> None:
        sighting = self._wire.feed(data, self._transaction)
        if isinstance(sighting, Malformed):
            if self._rtu or not sighting.in_step:
                self.usable = False
            self._end(Failure(Reason.MALFORMED_REPLY, sighting.detail))
        elif sighting is not None:
            self._end(sighting)

    def _on_connect(self, connected: bool) -> None:
        if connected:
            return
        self.usable = False
        self._end(self._closed("was closed by the other side"))
        self._lost()

    def _set_timer(self, timeout_s: float) -> None:
        """Set the time limit. One timer serves many requests: it is moved on when it rings too early."""
        self._limit_s = timeout_s
        self._deadline_s = self._loop.time() + timeout_s
        if self._timer is not None and self._timer.when() > self._deadline_s:
            self._timer.cancel()
            self._timer = None
        if self._timer is None:
            self._timer = self._loop.call_at(self._deadline_s, self._ring)

    def _ring(self) -> None:
        self._timer = None
        if self._answer is None or self._answer.done():
            return
        if self._loop.time() < self._deadline_s:
            self._timer = self._loop.call_at(self._deadline_s, self._ring)
            return
        self._timeouts += 1
        if self._rtu or not self._wire.clean or self._timeouts >= MOST_TIMEOUTS:
            self.usable = False
        self._end(self._nothing_fitting())

    def _nothing_fitting(self) -> Failure:
        if self._wire.unfit:
            detail = f"no valid answer within {self._limit_s:g} s, but bytes that are none"
            return Failure(Reason.MALFORMED_REPLY, detail)
        return Failure(Reason.NO_ANSWER, f"no answer within {self._limit_s:g} s")

    def _end(self, outcome: bytes | Failure) -> None:
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(outcome)

    @staticmethod
    def _unanswered(answer: asyncio.Future[bytes | Failure]) -> bool:
        return answer.cancelled() or not answer.done() or isinstance(answer.result(), Failure)

    def _closed(self, how: str) -> Failure:
        return Failure(Reason.NO_CONNECTION, f"connection to {self._place} {how}")


def not_yet(link: LinkSettings) -> Failure:
    """Return why there is nothing to report before the first connection stands."""
    return Failure(Reason.NO_CONNECTION, f"connecting to {place_of(link)}")


def hung_up(link: LinkSettings) -> Failure:
    """Return that the other side ended the connection."""
    return Failure(Reason.NO_CONNECTION, f"{place_of(link)} closed the connection")


def open_limit_s(link: LinkSettings) -> float:
    """Return how long opening a connection may take, real seconds."""
    return max(link.timeout_s, OPEN_AT_LEAST_S)


def place_of(link: LinkSettings) -> str:
    """Return where a link leads, for people: ``192.0.2.7:502`` or ``/dev/ttyUSB0``."""
    if isinstance(link.where, Address):
        return f"{link.where.host}:{link.where.port}"
    return link.where.device


def _parity_letter(port: SerialPort) -> str:
    # A pseudo-terminal has no line and no parity, and refuses the second time it is told one.
    on_a_line = not Path(port.device).resolve().is_relative_to("/dev/pts")
    return _PARITY_LETTER[port.parity] if on_a_line else _PARITY_LETTER[Parity.NONE]


def _why(error: Exception) -> str:
    number = getattr(error, "errno", None)
    if isinstance(number, int) and number > 0:
        return os.strerror(number).lower()
    return str(error) or type(error).__name__
