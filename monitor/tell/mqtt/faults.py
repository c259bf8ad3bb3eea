"""Faults: why the broker cannot be reached or does not want us, each as one plain sentence with the way out."""

import socket
import ssl
from collections.abc import Mapping

from monitor.errors import PlantError
from monitor.tell.mqtt.verdict import PACKET_TOO_LARGE, SESSION_TAKEN_OVER
from monitor.tell.settings import MqttSettings

_CLIENT_CERTIFICATE_WORDS = ("CERTIFICATE_REQUIRED", "HANDSHAKE_FAILURE", "UNKNOWN_CA", "BAD_CERTIFICATE")

#: Answers to CONNECT, in the numbers of MQTT 5.0 §3.2.2.2 (the library translates those of 3.1.1 into them).
_CONNECT_REFUSED: Mapping[int, str] = {
    0x84: "it does not speak this version of MQTT: try mqtt.version 3 (or 5)",
    0x85: "it does not accept the client identifier: set mqtt.client_id to one it knows",
    0x86: "wrong user name or password",
    0x87: "it does not let this user connect (not authorised)",
    0x88: "it is not available just now",
    0x89: "it is too busy just now",
    0x8A: "it has banned this client",
    0x8C: "it wants another kind of login",
    0x97: "a quota is used up",
    0x9A: "it takes no retained messages, and the last will is one",
    0x9F: "too many connections in a short time",
}

_MESSAGE_REFUSED: Mapping[int, str] = {
    0x80: "it gives no reason",
    0x83: "for a reason of its own",
    0x87: "this user may not publish there (not authorised): mend the broker's access list",
    0x90: "the topic name is not valid to it",
    0x95: "the message is too large for it",
    0x97: "a quota is used up",
    0x99: "the payload is not valid to it",
}

_ASK_OR_SWITCH_OFF = "mend the broker's access list, or take commands off in the site file"

_SUBSCRIPTION_REFUSED: Mapping[int, str] = {
    0x80: f"it gives no reason; if this user may not read there, {_ASK_OR_SWITCH_OFF}",
    0x83: "for a reason of its own",
    0x87: f"this user may not read there (not authorised): {_ASK_OR_SWITCH_OFF}",
    0x8F: "the topic is not valid to it",
    0x97: "a quota is used up",
}

_DISCONNECTED: Mapping[int, str] = {
    0x8B: "it is shutting down",
    0x8D: "it heard nothing from us for too long",
    0x93: "we had more messages under way than it allows",
    PACKET_TOO_LARGE: "a message is larger than it allows",
    0x98: "an administrator did it",
    0x9A: "it takes no retained messages",
}


_KEEPALIVE_TIMEOUT = 0x8D
_PROTOCOL_ERROR = 0x82


class ConnectionLostError(PlantError):
    """The connection is over.

    Attributes:
        code: the broker's reason code, None where it gave none.
    """

    def __init__(self, sentence: str, code: int | None = None) -> None:
        super().__init__(sentence)
        self.code = code


def cannot_connect(settings: MqttSettings, fault: BaseException) -> str:
    """Why no connection came about."""
    broker = where(settings)
    match fault:
        case PlantError():
            return str(fault)
        case ssl.SSLCertVerificationError():
            return _certificate(settings, fault)
        case ssl.SSLError():
            return _tls(broker, fault)
        case ConnectionRefusedError():
            return f"{broker} refuses connections: is the broker running, and is the port right?"
        case socket.gaierror():
            return f"the host name of {broker} is not known: check mqtt.host and the name service"
        case TimeoutError():
            return f"{broker} does not answer: check host, port and firewall"
        case ConnectionResetError() | BrokenPipeError():
            return f"{broker} closed the connection at once: does it expect TLS here, or none?"
        case _:
            reason = getattr(fault, "strerror", None) or f"{type(fault).__name__}: {fault}"
            return f"{broker} cannot be reached ({reason})"


def connect_refused(settings: MqttSettings, code: int) -> str:
    """What the broker's answer to CONNECT means."""
    reason = _CONNECT_REFUSED.get(code, f"reason code 0x{code:02X}")
    user = f" for user {settings.username!r}" if settings.username and code in (0x86, 0x87) else ""
    if code == 0x87 and settings.username:
        # Brokers answer a wrong password with "not authorised" as often as with its own code, on either version.
        reason = "not authorised (a wrong user name or password, or a user who may not connect)"
    return f"{where(settings)} refused us{user}: {reason}"


def no_connack(settings: MqttSettings) -> str:
    """The connection stands, but the broker never answered CONNECT."""
    other = "3" if settings.version == 5 else "5"
    return (
        f"{where(settings)} took the connection but never answered: "
        f"it hangs, or it does not speak this version of MQTT (try mqtt.version {other})"
    )


def message_refused(topic: str, code: int) -> str:
    """Why the broker did not take a message."""
    return f"the broker refuses messages to {topic}: {_MESSAGE_REFUSED.get(code, f'reason code 0x{code:02X}')}"


def subscription_refused(topic: str, code: int) -> str:
    """Why the broker lets no commands come to us."""
    reason = _SUBSCRIPTION_REFUSED.get(code, f"reason code 0x{code:02X}")
    return f"no command can come in by MQTT: the broker does not let us subscribe to {topic}: {reason}"


def subscription_unanswered(topic: str) -> str:
    """The broker has not said whether commands may come to us."""
    return (
        f"the broker has not answered our subscription to {topic}: it is not known whether commands come through"
    )


def ended_by_broker(settings: MqttSettings, client_id: str, code: int) -> ConnectionLostError:
    """The broker ended the connection and said why."""
    if code == SESSION_TAKEN_OVER:
        return ConnectionLostError(
            f"another client connected to {where(settings)} with our client identifier {client_id!r} and took the "
            "session over: give each daemon its own mqtt.client_id",
            code,
        )
    reason = _DISCONNECTED.get(code, f"reason code 0x{code:02X}")
    return ConnectionLostError(f"{where(settings)} ended the connection: {reason}", code)


def lost(settings: MqttSettings, noticed: int, complaint: str) -> ConnectionLostError:
    """The connection ended without a word from the broker.

    Args:
        settings: the broker.
        noticed: what our library makes of it, as a reason code of MQTT 5.0.
        complaint: what the library said about the socket, if anything.
    """
    broker = where(settings)
    if noticed == _KEEPALIVE_TIMEOUT:
        return silent(settings, settings.keepalive_s)
    if noticed == _PROTOCOL_ERROR:
        return ConnectionLostError(f"{broker} sent something that MQTT {settings.version} does not have")
    if any(word in complaint.upper() for word in ("CERTIFICATE", "HANDSHAKE", "UNKNOWN CA")):
        return ConnectionLostError(
            f"{broker} does not accept our client certificate, or wants one and got none ({complaint})"
        )
    return ConnectionLostError(f"{broker} closed the connection, or the network did")


def silent(settings: MqttSettings, waited_s: float) -> ConnectionLostError:
    """The connection stands, but the broker confirms nothing."""
    return ConnectionLostError(
        f"{where(settings)} has confirmed nothing for {waited_s:.0f} s though the connection stands: it hangs"
    )


def where(settings: MqttSettings) -> str:
    """The broker, for sentences."""
    return f"the broker {settings.host}:{settings.port}"


def _certificate(settings: MqttSettings, fault: ssl.SSLCertVerificationError) -> str:
    reason = fault.verify_message or str(fault)
    broker = where(settings)
    if "mismatch" in reason or "not valid for" in reason:
        return f"the certificate of {broker} is made out to another name: mqtt.host must be a name it carries"
    if "expired" in reason or "not yet valid" in reason:
        return f"the certificate of {broker} is out of date ({reason}): renew it, or set this machine's clock"
    return f"the certificate of {broker} is signed by nobody we trust ({reason}): check mqtt.tls.ca_file"


def _tls(broker: str, fault: ssl.SSLError) -> str:
    reason = fault.reason or str(fault)
    if any(word in reason for word in _CLIENT_CERTIFICATE_WORDS):
        return f"{broker} does not accept our client certificate, or wants one and got none ({reason})"
    if "WRONG_VERSION_NUMBER" in reason or "RECORD_LAYER" in reason:
        return f"{broker} does not speak TLS on this port ({reason})"
    return f"TLS with {broker} failed ({reason})"
