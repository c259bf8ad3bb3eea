"""Listener: the independent subscriber (mosquitto_sub, C). It keeps every message with its moment of arrival.

A line is kept as it came; payloads are parsed when somebody asks. ``check`` holds every one of them against
``config/mqtt.schema.json``.
"""

import functools
import json
import subprocess
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from tests.rig.waiting import until

SCHEMA = json.loads((Path(__file__).parents[2] / "config" / "mqtt.schema.json").read_text())
MARK = "rig/mark"


@dataclass(frozen=True)
class Message:
    """One message as it arrived; ``at_s`` on the steady clock of the test."""

    topic: str
    retained: bool
    payload: bytes
    at_s: float

    @functools.cached_property
    def json(self) -> dict[str, Any]:
        return json.loads(self.payload)


class Listener:
    """Hears everything below ``base``, over as many connections as the test has it make."""

    def __init__(self, port: int, base: str = "cakewatch", *options: str) -> None:
        self.base = base
        self.heard: list[Message] = []
        self._at = ["-h", "127.0.0.1", "-p", str(port), *options]
        self._marks = 0
        self._process: subprocess.Popen[str] | None = None
        self._readers: list[threading.Thread] = []
        self.connect()

    def connect(self) -> None:
        """Subscribe (anew, after the broker was gone) and return once that is in force."""
        self.hang_up()
        form = '{"topic":"%t","retained":%r,"payload":"%x"}'
        self._process = subprocess.Popen(
            ["mosquitto_sub", *self._at, "-q", "1", "-F", form,
             "-t", f"{self.base}/#", "-t", f"{MARK}/#"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        reader = threading.Thread(target=self._listen, args=(self._process,), daemon=True)
        reader.start()
        self._readers.append(reader)
        self.prove()

    def prove(self, within_s: float = 10.0) -> None:
        """Return when everything that the broker took so far has been heard."""
        self._marks += 1
        mark, since = str(self._marks).encode(), len(self.heard)
        published = ""

        def heard_mark() -> bool:
            nonlocal published
            if any(one.topic == MARK and one.payload == mark for one in self.heard[since:]):
                return True
            done = subprocess.run(
                ["mosquitto_pub", *self._at, "-t", MARK, "-m", mark], capture_output=True, timeout=5
            )
            published = f"mosquitto_pub: {done.returncode} {done.stderr.decode()}"
            return False

        until(heard_mark, within_s, lambda: f"the mark {mark.decode()}; {published}; {self._how()}")

    def _how(self) -> str:
        ended = None if self._process is None else self._process.poll()
        reading = [reader.is_alive() for reader in self._readers]
        return f"mosquitto_sub ended: {ended}; reading: {reading}; heard {len(self.heard)}"

    def hang_up(self) -> None:
        """End the connection; what it brought is kept."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)
            self._process = None
        for reader in self._readers:
            reader.join(5)
        self._readers.clear()

    def _listen(self, process: "subprocess.Popen[str]") -> None:
        for line in process.stdout:
            try:
                found = json.loads(line)
            except ValueError:
                continue  # cut short by our own kill
            payload = bytes.fromhex(found["payload"])
            self.heard.append(Message(found["topic"], bool(found["retained"]), payload, time.monotonic()))

    # ------------------------------------------------------------ what was heard

    def of(self, topic: str, since: int = 0) -> list[Message]:
        """Messages of one topic below the base, oldest first."""
        return [one for one in self.heard[since:] if one.topic == f"{self.base}/{topic}"]

    def events(self, **fields: Any) -> list[dict[str, Any]]:
        """Events in the order of their arrival, those with these fields."""
        return [one.json for one in self.of("events") if fields.items() <= one.json.items()]

    def last(self, topic: str) -> dict[str, Any] | None:
        """What the topic holds now, as far as was heard."""
        found = self.of(topic)
        return found[-1].json if found and found[-1].payload else None

    def dp(self, collector: str) -> dict[str, Any]:
        """The DP as last told."""
        state = self.last(f"collectors/{collector}/state")
        return {} if state is None else state["points"]["dp"]

    def alarm(self, collector: str, tag: str) -> str | None:
        """An alarm's state as last told."""
        state = self.last(f"collectors/{collector}/alarms/{tag}")
        return None if state is None else state["state"]

    def curve(self, collector: str) -> dict[str, Any]:
        """What was read from the curve, as last told; empty before anything was."""
        return self.last(f"collectors/{collector}/curve") or {}

    # ------------------------------------------------------------ waiting for it

    def await_event(
        self, tag: str | None, happened: str, within_s: float, after: int = 0, **fields: Any
    ) -> dict[str, Any]:
        """The first such event whose ``seq`` is higher than ``after``, waiting for it if need be."""
        wanted = {"tag": tag, "happened": happened, **fields}

        def found() -> list[dict[str, Any]]:
            return [one for one in self.events(**wanted) if one["seq"] > after]

        return until(found, within_s, lambda: f"{wanted}; came: {self.short()}")[0]

    def last_seq(self) -> int:
        return max((one["seq"] for one in self.events()), default=0)

    def await_dp(
        self, collector: str, holds: Callable[[Mapping[str, Any]], bool], within_s: float
    ) -> dict[str, Any]:
        """The first DP of this collector as told from now on (the last one counts) for which it holds."""
        until(lambda: self.dp(collector) and holds(self.dp(collector)), within_s, lambda: f"{self.dp(collector)}")
        return self.dp(collector)

    def await_good(self, collector: str, within_s: float) -> dict[str, Any]:
        return self.await_dp(collector, lambda dp: dp["quality"] == "good", within_s)

    def await_bad(self, collector: str, within_s: float) -> dict[str, Any]:
        return self.await_dp(collector, lambda dp: dp["quality"] == "bad", within_s)

    def short(self) -> list[str]:
        """The events, briefly, for complaints."""
        return [
            f"{one['seq']}:{one['tag'] or one['link'] or one['kind']} {one['happened']}" for one in self.events()
        ]

    def check(self) -> None:
        """Every payload is as the schema describes it; empty ones only take a topic down."""
        seen: set[bytes] = set()
        for one in [each for each in self.heard if not each.topic.startswith(MARK)]:
            if one.payload and one.payload not in seen:
                seen.add(one.payload)
                fault = _validator(self._kind(one.topic)).validate(one.json)
                assert fault is None

    def _kind(self, topic: str) -> str:
        below = topic.removeprefix(f"{self.base}/").split("/")
        if len(below) == 3 and below[0] == "collectors":
            return f"collector_{below[-1]}"  # its state, or its curve
        return {"availability": "availability", "events": "event"}.get(below[0], "alarm_state")


@functools.cache
def _validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]})
