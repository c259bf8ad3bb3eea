"""A real mosquitto on a free loopback port, which tests may restart, freeze, thaw and kill."""

import contextlib
import os
import random
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path

MOSQUITTO = shutil.which("mosquitto") or "/usr/sbin/mosquitto"


#: Below the range from which systems take the ports of outgoing connections: a server that is down for a while
#: must find its port free when it comes back, and nobody may connect to himself meanwhile.
STEADY_PORTS = range(11_000, 30_000)


def free_port() -> int:
    while True:
        port = random.choice(STEADY_PORTS)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


class Mosquitto:
    """One broker; ``lines`` are added below its listener and, without ``anonymous``, say who may connect."""

    def __init__(self, folder: Path, *lines: str, anonymous: bool = True) -> None:
        self.port = free_port()
        self._config = folder / f"mosquitto-{self.port}.conf"
        self._log = folder / f"mosquitto-{self.port}.log"
        head = [
            f"listener {self.port} 127.0.0.1",
            "user root",
            "persistence false",
            f"allow_anonymous {'true' if anonymous else 'false'}",
        ]
        self._config.write_text("\n".join([*head, *lines]) + "\n")
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> "Mosquitto":
        with self._log.open("ab") as log:
            self._process = subprocess.Popen([MOSQUITTO, "-v", "-c", str(self._config)], stdout=log, stderr=log)
        deadline = time.monotonic() + 5
        while time.monotonic() < deadline:
            if self._process.poll() is not None:
                raise AssertionError(f"mosquitto ended: {self.log_text()}")
            with socket.socket() as probe:
                probe.settimeout(0.2)
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return self
            time.sleep(0.02)
        raise AssertionError("mosquitto does not listen")

    def signal(self, number: int) -> None:
        assert self._process is not None
        os.kill(self._process.pid, number)

    def freeze(self) -> None:
        self.signal(signal.SIGSTOP)

    def thaw(self) -> None:
        self.signal(signal.SIGCONT)

    def kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)
            self._process = None

    def rewrite(self, *lines: str) -> None:
        """Replace what stands below the listener; takes effect at the next start."""
        head = self._config.read_text().splitlines()[:4]
        self._config.write_text("\n".join([*head, *lines]) + "\n")

    def log_text(self) -> str:
        return self._log.read_text()

    def __enter__(self) -> "Mosquitto":
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.kill()
