"""A real Alertmanager, run with the shipped file: only its times and its receivers' addresses are the test's."""

import subprocess
import urllib.request
from pathlib import Path
from typing import Any

import yaml

from tests.peers.mosquitto import free_port

SHIPPED = Path(__file__).parents[2] / "deploy" / "alertmanager" / "alertmanager.yml"


class Alertmanager:
    def __init__(self, folder: Path, webhook_url: str) -> None:
        self.port = free_port()
        self._folder = folder
        whole = yaml.safe_load(SHIPPED.read_text())
        _hurry(whole["route"])
        for receiver in whole["receivers"]:
            for hook in receiver["webhook_configs"]:
                hook["url"] = f"{webhook_url}/{hook['url'].rpartition('/')[2]}"
        (folder / "alertmanager.yml").write_text(yaml.safe_dump(whole))
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def is_ready(self) -> bool:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/-/ready", timeout=1) as answer:
                return bool(answer.status == 200)
        except OSError:
            return False

    def __enter__(self) -> "Alertmanager":
        with (self._folder / "alertmanager.log").open("wb") as log:
            self._process = subprocess.Popen(
                [
                    "prometheus-alertmanager",
                    f"--config.file={self._folder / 'alertmanager.yml'}",
                    f"--storage.path={self._folder / 'alertmanager'}",
                    f"--web.listen-address=127.0.0.1:{self.port}",
                    "--cluster.listen-address=",
                ],
                stdout=log,
                stderr=log,
            )
        return self

    def __exit__(self, *_: object) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)


def _hurry(route: dict[str, Any]) -> None:
    """Nothing waits for company; a repeat would be no news within a test."""
    route |= {"group_wait": "100ms", "group_interval": "500ms", "repeat_interval": "1h"}
    for inner in route.get("routes", ()):
        _hurry(inner)
