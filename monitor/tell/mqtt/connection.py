"""Connection: one connection to the broker from CONNECT to its end. It is never used again.

The library runs on our event loop by its socket callbacks; it has no thread that could die unnoticed. Only the
dialling (name service, TCP, TLS) happens in a thread of its own, because it blocks, and because the blocking form
alone says why it failed. The callbacks do nothing but note what came and cannot raise.
"""

import asyncio
import contextlib
import logging
import socket
import ssl
import threading
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import MQTT_LOG_ERR, Client, MQTTMessageInfo
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import PlantError
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.board import Message
from monitor.tell.mqtt.command_wire import CommandWire, Receiver, connect_properties
from monitor.tell.mqtt.lenient_client import LenientClient
from monitor.tell.mqtt.tls import tls_context
from monitor.tell.settings import MqttSettings

log = logging.getLogger(__name__)

#: How long TCP and TLS, and then the answer to CONNECT, may take, seconds each.
CONNECT_LIMIT_S = 5.0

#: The name service and several addresses may each take their time.
_DIAL_LIMIT_S = 20.0

_TICK_S = 1.0
_FAREWELL_LIMIT_S = 0.4
_HANG_UP_LIMIT_S = 0.2
_MAX_INFLIGHT = 20

Settled = Callable[[int, int], None]


class Connection:
    """One connection.

    Args:
        settings: the broker.
        client_id: under which we are known to it.
        will: what the broker tells the others if we vanish.
        settled: called with message id and reason code when the broker answered a QoS 1 message; it only notes.
        receiver: who takes the commands; None where none are taken, and then nothing is ever subscribed to.

    Attributes:
        commands: how they travel over this connection; None likewise.
        lost: resolves to the ConnectionLostError that ended the connection.
        max_packet_bytes: the broker's limit, None where it names none.
    """

    def __init__(
        self,
        settings: MqttSettings,
        client_id: str,
        will: Message,
        settled: Settled,
        receiver: Receiver | None = None,
    ) -> None:
        self._settings = settings
        self._client_id = client_id
        self._settled = settled
        self._loop = asyncio.get_running_loop()
        self._dialled: asyncio.Future[None] = self._loop.create_future()
        self._accepted: asyncio.Future[None] = self._loop.create_future()
        self._ticker: asyncio.TimerHandle | None = None
        self._abandoned = False
        self._complaint = ""
        self.lost: asyncio.Future[faults.ConnectionLostError] = self._loop.create_future()
        self.max_packet_bytes: int | None = None
        self._client = self._make_client(will)
        self.commands = None if receiver is None else CommandWire(self._client, settings.version, receiver)

    async def open(self) -> None:
        """Dial, log in and wait for the broker's answer.

        Raises:
            PlantError: with the reason in one sentence.
        """
        threading.Thread(target=self._dial, name="mqtt-dial", daemon=True).start()
        await self._in_time(self._dialled, _DIAL_LIMIT_S, faults.cannot_connect(self._settings, TimeoutError()))
        self._attach()
        await self._in_time(self._accepted, CONNECT_LIMIT_S, faults.no_connack(self._settings))

    @property
    def is_open(self) -> bool:
        """Whether messages can be handed in."""
        return self._client.is_connected() and not self.lost.done()

    @property
    def is_congested(self) -> bool:
        """Whether bytes wait because the broker takes none; nothing but events should be added then."""
        return self._client.want_write()

    def publish(self, topic: str, payload: bytes, *, confirmed: bool, retain: bool) -> int:
        """Hand one message in; returns its message id. A dead connection shows in ``lost``, not here."""
        info: MQTTMessageInfo = self._client.publish(topic, payload, qos=int(confirmed), retain=retain)
        return info.mid

    async def farewell(self, last_words: Message, is_confirmed: Callable[[int], bool]) -> None:
        """Say that we go, and hang up in good order; at most about half a second.

        Where the broker does not confirm the last words, the connection is cut without DISCONNECT, so that the
        last will speaks instead.
        """
        if self.is_open:
            message_id = self.publish(last_words.topic, last_words.payload, confirmed=True, retain=True)
            if await _until(lambda: is_confirmed(message_id), _FAREWELL_LIMIT_S):
                self._client.disconnect()
                await _until(lambda: self._client.socket() is None, _HANG_UP_LIMIT_S)
        self.cut()

    def cut(self) -> None:
        """Let go of the socket at once, whatever state it is in. Harmless when done twice."""
        self._abandoned = True
        if self._ticker is not None:
            self._ticker.cancel()
        sock = self._client.socket()
        if sock is not None and self._dialled.done():
            self._forget_socket(sock)
            with contextlib.suppress(OSError):
                sock.close()
        for future in (self._dialled, self._accepted, self.lost):
            future.cancel()

    async def _in_time(self, step: asyncio.Future[None], limit_s: float, otherwise: str) -> None:
        try:
            async with asyncio.timeout(limit_s):
                await step
        except TimeoutError:
            raise PlantError(otherwise) from None

    def _make_client(self, will: Message) -> LenientClient:
        version = MQTTProtocolVersion.MQTTv5 if self._settings.version == 5 else MQTTProtocolVersion.MQTTv311
        client = LenientClient(
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            protocol=version,
            clean_session=None if self._settings.version == 5 else True,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_LIMIT_S
        client.max_inflight_messages_set(_MAX_INFLIGHT)
        client.username_pw_set(self._settings.username, self._settings.password)
        client.will_set(will.topic, will.payload, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_publish = self._on_publish
        client.on_log = self._on_log
        return client

    # -------------------------------------------------------------- in the dialling thread
    def _dial(self) -> None:
        """Blocking: name service, TCP, TLS; then back to the loop with what came of it."""
        fault: BaseException | None = None
        try:
            if self._settings.tls is not None:
                self._client.tls_set_context(tls_context(self._settings.tls))
            self._client.connect(
                self._settings.host,
                self._settings.port,
                keepalive=self._settings.keepalive_s,
                properties=None if self.commands is None else connect_properties(self._settings.version),
            )
        except Exception as error:  # whatever the library lets through must become a sentence
            fault = error
        # The loop may be closed by now: then the whole process is ending, and nobody waits.
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._end_dialling, fault)

    # -------------------------------------------------------------- on the loop
    def _end_dialling(self, fault: BaseException | None) -> None:
        sock = self._client.socket()
        if self._abandoned and sock is not None:
            sock.close()
        if self._dialled.done():
            return
        if fault is None:
            self._dialled.set_result(None)
        else:
            self._dialled.set_exception(PlantError(faults.cannot_connect(self._settings, fault)))

    def _attach(self) -> None:
        """Let the event loop serve the socket from now on."""
        client = self._client
        client.on_socket_register_write = self._want_write
        client.on_socket_unregister_write = self._no_write
        client.on_socket_close = self._on_socket_close
        sock = client.socket()
        if sock is None:
            raise faults.lost(self._settings, 0, self._complaint)
        if isinstance(sock, socket.socket):
            # Otherwise an event that follows a state waits up to 40 ms for the broker's delayed acknowledgement.
            sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._loop.add_reader(sock, self._readable)
        if client.want_write():
            self._loop.add_writer(sock, self._writable)
        self._tick()

    def _readable(self) -> None:
        self._guarded(self._client.loop_read)
        # TLS may hold more in its own buffer than the socket shows as readable.
        while isinstance(sock := self._client.socket(), ssl.SSLSocket) and sock.pending():
            self._guarded(self._client.loop_read)

    def _writable(self) -> None:
        self._guarded(self._client.loop_write)

    def _tick(self) -> None:
        """Keepalive, once a second."""
        self._guarded(self._client.loop_misc)
        if not self._abandoned and not self.lost.done():
            self._ticker = self._loop.call_later(_TICK_S, self._tick)

    def _guarded(self, step: Callable[[], Any]) -> None:
        """Run a step of the library; what it lets through ends the connection, and nothing else."""
        try:
            step()
        except Exception as error:  # a broken packet may raise anything
            log.debug("mqtt library step failed", exc_info=True)
            self._end(faults.ConnectionLostError(faults.cannot_connect(self._settings, error)))
            sock = self._client.socket()
            if sock is not None:
                self._forget_socket(sock)

    def _end(self, lost: faults.ConnectionLostError) -> None:
        if not self._accepted.done():
            self._accepted.set_exception(lost)
        if not self.lost.done():
            self.lost.set_result(lost)

    def _forget_socket(self, sock: Any) -> None:
        with contextlib.suppress(OSError, ValueError):
            self._loop.remove_reader(sock)
            self._loop.remove_writer(sock)

    # -------------------------------------------------------------- callbacks of the library, on the loop
    def _on_connect(self, _client: Client, _data: Any, _flags: Any, code: ReasonCode, extra: Any) -> None:
        if self._accepted.done():
            return
        if code.is_failure:
            sentence = faults.connect_refused(self._settings, code.value)
            self._accepted.set_exception(PlantError(sentence))
            return
        self._client.on_log = None  # only a failed login needs it, and it costs some for every message
        self.max_packet_bytes = getattr(extra, "MaximumPacketSize", None)
        # The library never looks at the broker's Receive Maximum, and offers no public way once connected.
        allowed = min(_MAX_INFLIGHT, getattr(extra, "ReceiveMaximum", _MAX_INFLIGHT))
        self._client._max_inflight_messages = allowed  # noqa: SLF001
        self._accepted.set_result(None)

    def _on_disconnect(self, _client: Client, _data: Any, flags: Any, code: Any, _extra: Any) -> None:
        if flags.is_disconnect_packet_from_server:
            self._end(faults.ended_by_broker(self._settings, self._client_id, code.value))
        else:
            self._end(faults.lost(self._settings, code.value, self._complaint))

    def _on_publish(self, _client: Client, _data: Any, message_id: int, code: ReasonCode, _extra: Any) -> None:
        self._settled(message_id, code.value)

    def _on_log(self, _client: Client, _data: Any, level: int, text: str) -> None:
        # In TLS 1.3 a refused client certificate shows only here, after the handshake has gone well.
        if level == MQTT_LOG_ERR:
            self._complaint = text

    def _want_write(self, _client: Client, _data: Any, sock: Any) -> None:
        self._loop.add_writer(sock, self._writable)

    def _no_write(self, _client: Client, _data: Any, sock: Any) -> None:
        self._loop.remove_writer(sock)

    def _on_socket_close(self, _client: Client, _data: Any, sock: Any) -> None:
        self._forget_socket(sock)


async def _until(holds: Callable[[], bool], limit_s: float) -> bool:
    """Wait until it holds; False when it did not within the limit."""
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(limit_s):
            while not holds():  # noqa: ASYNC110 - once in a life, for half a second at most
                await asyncio.sleep(0.01)
    return holds()
