"""Asking: commands to the running daemon through each of its doors, by independent clients."""

import json
import subprocess
import sys
import time
import urllib.error
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.rig.watch import ROOT


def by_shell(site: Path, *words: str) -> tuple[int, str]:
    """``cakewatch …`` as a person types it; the exit code, and all that was printed."""
    command, *rest = words
    done = subprocess.run(
        [sys.executable, "-m", "monitor", command, str(site), *rest],
        capture_output=True, text=True, cwd=ROOT, timeout=30,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


def by_http(port: int, asked: dict[str, Any], **headers: str) -> tuple[int, dict[str, Any]]:
    """POST to the API; the status, and the answer."""
    request = urllib.request.Request(
        f"http://127.0.0.1:{port}/api/v1/commands",
        data=json.dumps(asked).encode(),
        headers={"Content-Type": "application/json", **headers},
    )
    try:
        with urllib.request.urlopen(request, timeout=15) as answer:
            return answer.status, json.loads(answer.read())
    except urllib.error.HTTPError as refused:
        return refused.code, json.loads(refused.read())


def by_mqtt(port: int, asked: dict[str, Any], *options: str) -> dict[str, Any] | None:
    """Publish with a response topic (mosquitto_rr, C); the answer, or None where none comes in five seconds."""
    done = subprocess.run(
        ["mosquitto_rr", "-h", "127.0.0.1", "-p", str(port), "-V", "5", "-q", "1", "-W", "5", *options,
         "-t", "cakewatch/commands", "-e", f"desk/{time.monotonic_ns()}", "-m", json.dumps(asked)],
        capture_output=True, text=True, timeout=15,
    )  # fmt: skip
    return json.loads(done.stdout) if done.stdout.strip() else None


def now() -> str:
    """This moment, as a command's ``sent_at``."""
    return datetime.now(UTC).isoformat()
