"""Outlet settings: the broker and the HTTP address."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from monitor.words import Priority


@dataclass(frozen=True, slots=True, kw_only=True)
class TlsSettings:
    """TLS towards the broker.

    Attributes:
        ca_file: certificates to trust; None for the system's.
        certificate_file, key_file: the client certificate, both or neither.
    """

    ca_file: Path | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """One broker.

    Attributes:
        version: 5, or 3 for MQTT 3.1.1.
        password: read from the environment or a file when the site file was read; never shown.
        base_topic: everything is published below it.
        state_period_s: a collector's state is published at most this often, 0.1 or more.
        max_payload_bytes: larger messages are never offered to the broker.
        commands: whether commands are taken from ``<base_topic>/commands``.
    """

    host: str
    port: int
    version: int = 5
    client_id: str = ""
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: TlsSettings | None = None
    base_topic: str = "cakewatch"
    keepalive_s: int = 15
    state_period_s: float = 1.0
    max_payload_bytes: int = 65536
    commands: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerTls:
    """TLS of our own HTTP address: a certificate with its chain, and its key, both PEM."""

    certificate_file: Path
    key_file: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpSettings:
    """Where the page, the commands, /metrics and /health are served; loopback by default.

    Attributes:
        tokens: the secret of each person who has one, by name; read when the site file was read, never shown.
        password_hashes: likewise, the Argon2 hash of each person who may log in.
        tls: None for plain HTTP.
        metrics: another address, host and port, that serves /metrics and /health and nothing else; None: none.
        public_address: how phones and people elsewhere reach the page, such as ``https://dp.alder-mill.example``,
            without a slash at its end; empty: messages carry no links.
        link_life_s: a link to acknowledge by is good for so long, seconds of the wall clock.
        session_life_s: a login ends so long after it was last used.
    """

    host: str = "127.0.0.1"
    port: int = 9464
    tokens: Mapping[str, str] = field(default_factory=dict, repr=False)
    password_hashes: Mapping[str, str] = field(default_factory=dict, repr=False)
    tls: ServerTls | None = None
    metrics: tuple[str, int] | None = None
    public_address: str = ""
    link_life_s: float = 8 * 3600.0
    session_life_s: float = 12 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnunciatorSettings:
    """Horn and beacon. Which entries are written, and on which link, stands in the link's plan.

    Attributes:
        link: the link whose plan has the outputs.
        least_priority: alarms below it move neither horn nor beacon.
        heartbeat_s: the heartbeat changes this often, scan seconds; an annunciator that sees it stand still for
            three times as long must take the watch for dead.
    """

    link: str
    least_priority: Priority
    heartbeat_s: float = 5.0
