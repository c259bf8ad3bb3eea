"""A real Prometheus that scrapes one address once a second, asked through its own HTTP API."""

import json
import subprocess
import time
import urllib.parse
import urllib.request
from pathlib import Path

from tests.peers.mosquitto import free_port

_ALERTING = "alerting: {{alertmanagers: [{{static_configs: [{{targets: ['127.0.0.1:{port}']}}]}}]}}\n"


class Prometheus:
    def __init__(
        self, folder: Path, target: str, *, rules: str = "", alertmanager_port: int | None = None
    ) -> None:
        self._port = free_port()
        self._folder = folder
        (folder / "prometheus.yml").write_text(
            "global: {scrape_interval: 200ms, scrape_timeout: 200ms, evaluation_interval: 200ms}\n"
            f"scrape_configs:\n  - job_name: cakewatch\n    static_configs: [{{targets: ['{target}']}}]\n"
            + (f"rule_files: ['{folder / 'rules.yml'}']\n" if rules else "")
            + (_ALERTING.format(port=alertmanager_port) if alertmanager_port else "")
        )
        (folder / "rules.yml").write_text(rules)
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "Prometheus":
        self._process = subprocess.Popen(
            [
                "prometheus",
                f"--config.file={self._folder / 'prometheus.yml'}",
                f"--web.listen-address=127.0.0.1:{self._port}",
                f"--storage.tsdb.path={self._folder / 'tsdb'}",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        return self

    def __exit__(self, *_: object) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)

    def ask(self, query: str) -> list[dict]:
        """The instant vector of a query; empty too while Prometheus is not up yet."""
        where = f"http://127.0.0.1:{self._port}/api/v1/query?" + urllib.parse.urlencode({"query": query})
        try:
            with urllib.request.urlopen(where, timeout=2) as answer:
                return json.loads(answer.read())["data"]["result"]
        except OSError:
            return []

    def value(self, query: str) -> float | None:
        found = self.ask(query)
        return float(found[0]["value"][1]) if found else None

    def wait_for(self, query: str, value: float | None, limit_s: float = 10.0) -> None:
        """Wait until the query has this value; None: until it has no series."""
        deadline = time.monotonic() + limit_s
        while (found := self.value(query)) != value:
            assert time.monotonic() < deadline, f"{query} is {found}, not {value}"
            time.sleep(0.1)
