"""An independent subscriber: mosquitto_sub in a process of its own, its lines parsed."""

import asyncio
import json
import subprocess
import threading
import time
from dataclasses import dataclass


@dataclass
class Heard:
    topic: str
    retained: bool
    payload: str

    @property
    def json(self):
        return json.loads(self.payload)


class Subscriber:
    def __init__(self, port: int, *options: str, topic: str = "#") -> None:
        form = '{"topic":"%t","retained":%r,"payload":"%x"}'
        command = [
            "stdbuf",
            "-oL",
            "mosquitto_sub",
            "-d",
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
            *options,
        ]
        self.heard: list[Heard] = []
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self._subscribed = threading.Event()
        threading.Thread(target=self._listen, daemon=True).start()
        assert self._subscribed.wait(5), "mosquitto_sub does not subscribe"

    def _listen(self) -> None:
        for line in self._process.stdout:
            if line.startswith("Subscribed"):
                self._subscribed.set()
            if not line.startswith("{"):
                continue
            found = json.loads(line)
            payload = bytes.fromhex(found["payload"]).decode()
            self.heard.append(Heard(found["topic"], bool(found["retained"]), payload))

    def of(self, topic: str) -> list[Heard]:
        return [one for one in self.heard if one.topic == topic]

    def seqs(self, topic: str = "cakewatch/events") -> list[int]:
        return [one.json["seq"] for one in self.of(topic)]

    def close(self) -> None:
        self._process.kill()
        self._process.wait(5)

    def __enter__(self) -> "Subscriber":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


async def until(holds, limit_s: float = 5.0, what: str = "") -> None:
    deadline = time.monotonic() + limit_s
    while not holds():
        assert time.monotonic() < deadline, f"not within {limit_s} s: {what}"
        await asyncio.sleep(0.02)
