"""Outlets: the store, the broker and the HTTP address, as the file says them."""

from typing import Annotated

from pydantic import Field

from monitor.site.fields import choice, duration, line, matching, megabytes, whole, yes_no
from monitor.site.shape.alarms import DAY_S
from monitor.site.shape.block import Block, OrNone, defaulting, optional
from monitor.site.shape.links import Host, Port

FILE = line("the path of a file")
RELATIVE = "A relative path counts from the folder of the site file."


SECRET_ENV = matching(r"[A-Za-z_][A-Za-z0-9_]*", "must be the name of an environment variable")


class Store(Block):
    """Where events and history are kept."""

    folder: Annotated[str, line("the path of a folder")] = defaulting(
        "./data", f"Folder of the database. {RELATIVE} Default ./data."
    )
    history_step: Annotated[float, duration(1, 3600)] = defaulting(
        "10 s", "One row of history for each point and this long. 1 s to 1 h; default 10 s."
    )
    keep_history: Annotated[float, duration(3600, 3660 * DAY_S)] = defaulting(
        "90 d", "Older history is dropped. 1 h to 3660 d; default 90 d."
    )
    keep_minutes: Annotated[float, duration(3600, 3660 * DAY_S)] = defaulting(
        "400 d", "Older figures of single minutes are dropped. 1 h to 3660 d; default 400 d."
    )
    keep_hours: Annotated[float, duration(3600, 3660 * DAY_S)] = defaulting(
        "1830 d",
        "Older figures of single hours are dropped. 1 h to 3660 d; default 1830 d, five years and some days.",
    )
    max_history: Annotated[int, megabytes(1, 1_000_000)] = defaulting(
        "500 MB",
        "Beyond this size the oldest history is dropped. 1 MB to 1000 GB; default 500 MB.",
    )
    flush: Annotated[float, duration(1, 300)] = defaulting(
        "10 s",
        "Readings are written together this often, to spare flash memory. 1 s to 5 min; default 10 s. "
        "Events are written at once.",
    )
    keep_events: Annotated[int, whole(100, 100_000_000)] = defaulting(
        "100000", "Most events kept. 100 to 100000000; default 100000."
    )


class Tls(Block):
    """Encryption towards the broker."""

    ca_file: Annotated[str | None, FILE] = optional(
        f"Certificates to trust. {RELATIVE} Default: those of the system.",
    )
    certificate_file: Annotated[str | None, FILE] = optional("Client certificate. Together with key_file.")
    key_file: Annotated[str | None, FILE] = optional("Key of the client certificate. Together with it.")


class Mqtt(Block):
    """The broker."""

    host: Host = Field(description="Host name or IP address of the broker. Such as 127.0.0.1.")
    port: Port | None = optional(
        "TCP port. Default 1883, with tls 8883 (both registered).",
    )
    version: Annotated[str, choice(("5", "3.1.1"))] = defaulting(
        "5",
        "Version of MQTT. 5 (default) or 3.1.1; only with 5 does the broker say that it refused a message.",
    )
    client_id: Annotated[
        str, matching(r"[A-Za-z0-9._-]{0,64}", "must be letters, digits, dot, underscore and hyphen, 64 at most")
    ] = Field(
        default="",
        validate_default=False,
        description="Client identifier. Unique at the broker; default one of the host, the site and its store, "
        "the same at every start.",
    )
    username: Annotated[str | None, line("a user name")] = optional("User name at the broker. Default none.")
    password_env: Annotated[str | None, SECRET_ENV] = optional(
        "Environment variable that holds the password. Such as CAKEWATCH_MQTT_PASSWORD.",
    )
    password_file: Annotated[str | None, FILE] = optional(
        f"File that holds the password and nothing else. {RELATIVE}",
    )
    tls: Tls | None = Field(
        default=None, description="Encryption. Default none; write tls: {} for the system's trust."
    )
    base_topic: Annotated[
        str,
        matching(
            r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}(/[A-Za-z0-9._-]{1,64}){0,5}",
            "must be a topic of letters, digits, dot, underscore and hyphen, levels parted by /, no wildcard",
        ),
    ] = defaulting("cakewatch", "Everything is published below this topic. Default cakewatch.")
    keepalive: Annotated[float, duration(5, 3600)] = defaulting(
        "15 s", "A broker that was silent for longer is given up. 5 s to 1 h; default 15 s."
    )
    state_period: Annotated[float, duration(0.1, 3600)] = defaulting(
        "1 s", "State is published at most this often. 0.1 s to 1 h; default 1 s."
    )
    commands: Annotated[bool, yes_no()] = defaulting(
        "no",
        "Whether commands are taken from base_topic/commands. Default no; what each person may do stands in the "
        "section commands. MQTT proves nobody's name: the broker's access list must say who may send there.",
    )


class ServerTls(Block):
    """Encryption of our own HTTP address."""

    certificate_file: Annotated[str, FILE] = Field(
        description=f"Certificate with its chain, PEM. {RELATIVE} Read at the start and when it is changed here."
    )
    key_file: Annotated[str, FILE] = Field(description=f"Its key, PEM, without a passphrase. {RELATIVE}")


class MetricsAddress(Block):
    """Another address that serves /metrics and /health and nothing else, to whoever reaches it."""

    host: Host = defaulting("127.0.0.1", "Address to listen on. Default 127.0.0.1, this machine alone.")
    port: Port = Field(description="TCP port. Another than that of http.")


class Http(Block):
    """Where the page, /metrics, /health and the commands are served."""

    host: Host = defaulting(
        "127.0.0.1",
        "Address to listen on. Default 127.0.0.1, this machine alone. From any other machine nothing is shown "
        "without a login (commands.people).",
    )
    port: Port = defaulting("9464", "TCP port. Default 9464.")
    tls: ServerTls | None = Field(default=None, description="Encryption. Default none: plain HTTP.")
    metrics: Annotated[MetricsAddress | None, OrNone()] = Field(
        default=None,
        description="Another address for /metrics and /health alone, without a login. Default none.",
    )
    public_address: Annotated[
        str | None,
        matching(
            r"https?://[A-Za-z0-9.-]+(:[0-9]{1,5})?",
            "must be an address such as https://dp.alder-mill.example, without a path",
        ),
    ] = optional(
        "How people elsewhere reach the page. Such as https://dp.alder-mill.example; with it messages carry links "
        "to acknowledge by. Default none.",
    )
    link_life: Annotated[float, duration(300, 7 * DAY_S)] = defaulting(
        "8 h", "A link to acknowledge by is good for so long, once. 5 min to 7 d; default 8 h (our choice)."
    )
    session_life: Annotated[float, duration(300, 7 * DAY_S)] = defaulting(
        "12 h", "A login ends so long after it was last used. 5 min to 7 d; default 12 h (our choice)."
    )
