"""Rig: all of it put up for one test, and taken down whatever becomes of the test."""

import contextlib
import time
from pathlib import Path
from typing import Any

from tests.peers.mosquitto import Mosquitto, free_port
from tests.rig import sites
from tests.rig.field import Field
from tests.rig.gate import Gate
from tests.rig.ledger import Ledger
from tests.rig.listener import Listener
from tests.rig.watch import Watch

#: For the subscriber. Never 0 (unlimited): mosquitto 2.0.11 then hangs up after each refusal of a message.
QUEUE = "max_queued_messages 100000"


class Rig:
    """Devices, broker, subscriber and daemon of one test.

    Attributes:
        field: where devices are made.
        broker, gate: the real broker, and the way to it that the daemon takes.
        listener: the subscriber, beside the gate.
        folder: the daemon's store.
    """

    def __init__(
        self, folder: Path, *broker_lines: str, anonymous: bool = True, listener_options: tuple[str, ...] = ()
    ) -> None:
        self._ends = contextlib.ExitStack()
        self._listener_options = listener_options
        self.path = folder
        self.folder = folder / "store"
        self.http_port = free_port()
        with contextlib.ExitStack() as undo:
            undo.push(self._ends)
            self.field = Field()
            self._ends.callback(self.field.close)
            self.broker = Mosquitto(folder, QUEUE, *broker_lines, anonymous=anonymous)
            self._ends.callback(self.broker.kill)
            self.broker.start()
            self.gate = Gate(self.field, self.broker.port)
            self.listener = Listener(self.broker.port, "cakewatch", *listener_options)
            self._ends.callback(self.listener.hang_up)
            undo.pop_all()

    def site(self, links: sites.Block, collectors: sites.Block, **changes: Any) -> Path:
        """Write the site file (anew)."""
        changes = {"folder": self.folder, "mqtt_port": self.gate.port, "http_port": self.http_port} | changes
        return sites.write(self.path / "site.yaml", sites.site(links, collectors, **changes))

    def daemon(self, *, bent: bool = False, ready: bool = True, **environ: str) -> Watch:
        """Start the daemon on the site file."""
        watch = Watch(self.path / "site.yaml", self.http_port, bent=bent, **environ)
        self._ends.callback(watch.kill)
        return watch.start(ready=ready)

    def kill_broker(self) -> None:
        """End the broker; nothing that it had confirmed is lost on its way to the subscriber."""
        self.gate.shut()
        self.listener.prove()
        self.listener.hang_up()
        self.broker.kill()

    def start_broker(self) -> None:
        """Start it again, with nothing in its memory; the subscriber is there before the daemon."""
        self.broker.start()
        self.listener.connect()
        self.gate.open()

    def ledger(self, within_s: float = 10.0) -> Ledger:
        """What the journal and the subscriber have, once all is told or the time is over."""
        deadline_s = time.monotonic() + within_s
        while True:
            ledger = Ledger.read(self.folder / "journal.db", self.listener)
            if ledger.all_told or time.monotonic() > deadline_s:
                return ledger
            time.sleep(0.05)

    def close(self) -> None:
        self._ends.close()

    def __enter__(self) -> "Rig":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
