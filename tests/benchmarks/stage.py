"""Stage: the processes a benchmark plays with: broker, device, bare loop, subscriber and the daemon itself."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.peers.mosquitto import MOSQUITTO, free_port

ROOT = Path(__file__).parents[2]
CAKEWATCH = str(Path(sys.executable).with_name("cakewatch"))


class Child:
    """A process of ours that answers line by line."""

    def __init__(self, *command: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", *command], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )

    def tell(self, line: str) -> None:
        """Send a line."""
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def read(self) -> Any:
        """The next answer."""
        return json.loads(self.process.stdout.readline())

    def ask(self, line: str) -> Any:
        """Send a line and wait for its answer."""
        self.tell(line)
        return self.read()


@contextmanager
def child(*command: str) -> Iterator[Child]:
    """A module of ours as a process, ended at the end."""
    running = Child(*command)
    try:
        yield running
    finally:
        running.process.kill()
        running.process.wait(5)


@contextmanager
def device(ports: int = 1, points: int = 1000, *, moving: bool = False) -> Iterator[tuple[Child, Sequence[int]]]:
    """The Modbus device, and the ports it listens on."""
    options = ["--ports", str(ports), "--points", str(points), *(["--moving"] if moving else [])]
    with child("tests.benchmarks.device", *options) as running:
        yield running, running.read()


@contextmanager
def broker(folder: Path) -> Iterator[int]:
    """A quiet mosquitto; yields its port."""
    port = free_port()
    config = folder / "mosquitto.conf"
    config.write_text(
        f"listener {port} 127.0.0.1\nuser root\npersistence false\nallow_anonymous true\nlog_type none\n"
    )
    process = subprocess.Popen(
        [MOSQUITTO, "-c", str(config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        wait_for(lambda: _listens(port), 5.0, "mosquitto does not listen")
        yield port
    finally:
        process.kill()
        process.wait(5)


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def subscriber(port: int, topic: str, into: Path, form: str = "%U %r %t %p") -> Iterator[Path]:
    """mosquitto_sub, a process not of our making, writing one line a message, stamped by itself on arrival."""
    command = [
        shutil.which("mosquitto_sub"),
        "-h",
        "127.0.0.1",
        "-p",
        str(port),
        "-q",
        "1",
        "-F",
        form,
        "-t",
        topic,
    ]
    with into.open("wb") as out:
        process = subprocess.Popen(command, stdout=out)
        try:
            time.sleep(0.2)  # it says nothing once it is subscribed
            yield into
        finally:
            process.terminate()
            process.wait(5)


@contextmanager
def daemon(site: Path) -> Iterator[subprocess.Popen]:
    """``cakewatch run``, ended by SIGTERM."""
    with (site.parent / "daemon.log").open("ab") as log:
        process = subprocess.Popen([CAKEWATCH, "run", str(site)], stdout=log, stderr=log, cwd=ROOT)
        try:
            yield process
        finally:
            os.kill(process.pid, signal.SIGCONT)
            process.terminate()
            try:
                process.wait(5)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(5)


def scrape(port: int) -> str:
    """What /metrics says; empty while nobody listens."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=5) as reply:
            return reply.read().decode()
    except OSError:
        return ""


def metric(text: str, name: str) -> float:
    """The sum of all series of a metric."""
    rows = (line for line in text.splitlines() if line.startswith((name + "{", name + " ")))
    return sum(float(line.rpartition(" ")[2]) for line in rows)


def wait_for(holds: Any, limit_s: float, otherwise: str, every_s: float = 0.02) -> None:
    """Wait until it holds.

    Raises:
        TimeoutError: it did not.
    """
    deadline_s = time.monotonic() + limit_s
    while not holds():
        if time.monotonic() > deadline_s:
            raise TimeoutError(otherwise)
        time.sleep(every_s)
