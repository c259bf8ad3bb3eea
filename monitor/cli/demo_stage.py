"""Demo stage: the ports and the site file that one demonstration plays on."""

import importlib.resources
import json
import socket
import string
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import CakewatchError

HOST = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class Ports:
    """Three ports on the loopback; 0 stands for any free one."""

    http: int = 0
    mqtt: int = 0
    modbus: int = 0

    @classmethod
    def from_first(cls, first: int | None) -> "Ports":
        """Return three neighbouring ports from ``first`` on, or three free ones."""
        return cls() if first is None else cls(http=first, mqtt=first + 1, modbus=first + 2)


def free_port(wanted: int = 0) -> int:
    """Return the port that can be listened on: the wanted one, or for 0 any free one.

    Raises:
        CakewatchError: the wanted port is taken.
    """
    with socket.socket() as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, wanted))
        except OSError as failure:
            raise CakewatchError(f"port {wanted} on {HOST} is taken; choose others with --port") from failure
        return int(listener.getsockname()[1])


def site_text(ports: Ports, folder: Path) -> str:
    """Return the demonstration's site file with its ports and store folder filled in."""
    form = importlib.resources.files("monitor.plant").joinpath("demo_site.yaml").read_text(encoding="utf-8")
    # The comment that explains the placeholders is not one of them.
    head, _, rest = form.partition("site:\n")
    filled = string.Template("site:\n" + rest).substitute(
        modbus_port=ports.modbus,
        mqtt_port=ports.mqtt,
        http_port=ports.http,
        folder=json.dumps(str(folder), ensure_ascii=False),
    )
    return head + filled
