"""Serial line: a pty pair made by socat, with a libmodbus device at its far end. Both are real processes."""

import subprocess
import sys
import time
from pathlib import Path

DEVICE = Path(__file__).with_name("libmodbus_device.py")
READY_S = 5.0


class SerialLine:
    """``near`` is ours to open; the device sits at the far end, at 19200 8N2 (a pty refuses parity)."""

    def __init__(self, folder: Path, unit_id: int = 1, *, listening: bool = True):
        self.near = folder / "near"
        self.far = folder / "far"
        self.unit_id = unit_id
        self._listening = listening
        self._socat = self._device = None
        self.plug_in()

    def plug_in(self) -> None:
        """Put the line up, or back up."""
        self._socat = subprocess.Popen(
            ["socat", *(f"pty,raw,echo=0,link={end}" for end in (self.near, self.far))], stderr=subprocess.DEVNULL
        )
        _wait_for(lambda: self.near.exists() and self.far.exists(), "socat made no pty pair")
        if self._listening:
            self.listen()

    def listen(self) -> None:
        """Start the device."""
        arguments = ["rtu", self.far, "19200", "N", "2", str(self.unit_id)]
        self._device = subprocess.Popen(
            [sys.executable, DEVICE, *map(str, arguments)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert self._device.stdout.readline() == b"ready\n"

    def deafen(self) -> None:
        """Stop the device; the line stays."""
        _end(self._device)
        self._device = None

    def pull(self) -> None:
        """Take the adapter away."""
        self.deafen()
        _end(self._socat)
        self._socat = None
        _wait_for(lambda: not self.near.exists(), "the pty stayed")

    def close(self) -> None:
        _end(self._device)
        _end(self._socat)


def _end(process) -> None:
    if process is not None:
        process.terminate()
        process.wait(timeout=READY_S)
        if process.stdout:
            process.stdout.close()


def _wait_for(holds, complaint: str) -> None:
    deadline_s = time.monotonic() + READY_S
    while not holds():
        assert time.monotonic() < deadline_s, complaint
        time.sleep(0.005)
