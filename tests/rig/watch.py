"""Watch: the daemon as a process of its own, driven by signals, and what it answers over HTTP."""

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

from tests.rig.waiting import until

ROOT = Path(__file__).parents[2]
_SAMPLE = re.compile(r"^(\w+)(?:\{(.*)\})? (\S+)$")


class Watch:
    """``cakewatch run SITE``; its log is a file beside the site file and outlives every restart."""

    def __init__(self, site: Path, http_port: int, *, bent: bool = False, **environ: str) -> None:
        self.site = site
        self.http_port = http_port
        self.log_file = site.with_suffix(".log")
        self.starts = 0
        self._command = (
            [sys.executable, str(ROOT / "tests/rig/launch.py")] if bent else [sys.executable, "-m", "monitor"]
        )
        self._environ = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", **environ}
        self._process: subprocess.Popen[bytes] | None = None

    def start(self, *, ready: bool = True, within_s: float = 20.0) -> "Watch":
        """Start it; with ``ready`` return when it serves /health."""
        self.starts += 1
        with self.log_file.open("ab") as log:
            self._process = subprocess.Popen(
                [*self._command, "run", str(self.site)],
                stdout=log,
                stderr=log,
                env=self._environ,
                cwd=ROOT,
            )
        if ready:
            until(lambda: self.is_up() or self.has_ended(), within_s, self.tail)
            assert not self.has_ended(), self.tail()
        return self

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def is_up(self) -> bool:
        try:
            return bool(self.health())
        except OSError:
            return False

    def has_ended(self) -> bool:
        return self._process is None or self._process.poll() is not None

    def kill(self) -> None:
        """As the power cut does for a process: SIGKILL."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(10)
            self._process = None

    def stop(self, within_s: float = 10.0) -> tuple[int, float]:
        """SIGTERM; the exit code, and how long it took."""
        began_s = time.monotonic()
        os.kill(self.pid, signal.SIGTERM)
        code = self.wait(within_s)
        return code, time.monotonic() - began_s

    def wait(self, within_s: float) -> int:
        """The exit code of one that ends by itself."""
        assert self._process is not None
        code = self._process.wait(within_s)
        self._process = None
        return code

    def hang_up(self) -> None:
        os.kill(self.pid, signal.SIGHUP)

    def log(self) -> str:
        return self.log_file.read_text(errors="replace") if self.log_file.exists() else ""

    def tail(self) -> str:
        """The end of the log, for complaints."""
        return self.log()[-4000:]

    # ------------------------------------------------------------ over HTTP

    def get(self, path: str, within_s: float = 5.0) -> tuple[int, str]:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.http_port}{path}", timeout=within_s) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as answer:
            return answer.code, answer.read().decode()

    def health(self) -> tuple[int, dict[str, Any]]:
        """Status code, and every check."""
        code, body = self.get("/health")
        return code, json.loads(body)

    def metric(self, name: str, **labels: str) -> float | None:
        """The one sample of this name that has these labels; None where it is absent."""
        wanted = {f'{key}="{value}"' for key, value in labels.items()}
        for line in self.get("/metrics")[1].splitlines():
            found = _SAMPLE.match(line)
            if found and found[1] == name and wanted <= set((found[2] or "").split(",")):
                return float(found[3])
        return None

    # ------------------------------------------------------------ what it costs

    def rss_mb(self) -> float:
        status = Path(f"/proc/{self.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1000.0

    def descriptors(self) -> int:
        return sum(1 for _ in Path(f"/proc/{self.pid}/fd").iterdir())

    def __enter__(self) -> "Watch":
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()
