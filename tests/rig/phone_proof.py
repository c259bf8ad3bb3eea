"""The parent of the phone sender: kills and starts it, reads mail, acknowledges, and keeps the books."""

import asyncio
import json
import subprocess
import sys
import threading
import time
from bisect import bisect_right
from collections import defaultdict, deque
from pathlib import Path

from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.tell.phone.outlet import OUTLET
from monitor.words import Event, Instant
from tests.peers.manners import Manners
from tests.rig.waiting import until

#: A person takes this long to acknowledge: repeats that are due come before.
ANSWER_S = 1.5

ROOT = Path(__file__).resolve().parents[2]


class Proof:
    """Alarms made and alarms that arrived.

    Attributes:
        made: event id → (number, second at which its commit was known).
        arrived: event id → second of its first arrival.
        refs: event id → every reference under which it arrived.
        down: (killed, up again) in seconds; killed before it was up is still down.
        kills: the second of each.
    """

    def __init__(self, folder: Path, told: dict, manners: list[Manners]) -> None:
        self.told = {"folder": str(folder), **told}
        self.made: dict[str, tuple[int, float]] = {}
        self.arrived: dict[str, float] = {}
        self.refs: dict[str, set[str]] = defaultdict(set)
        self.messages: dict[str, int] = defaultdict(int)
        self.kinds: dict[str, int] = defaultdict(int)
        self.held_back: dict[str, int] = {}
        self.down: list[list[float]] = []
        self.kills: list[float] = []
        self.all_made = False
        self.log = folder / "sender.log"
        self._next = 0
        self._known: set[str] = set()
        self._asked: dict[str, str] = {}
        self._to_answer: deque[tuple[float, str, str]] = deque()
        self._manners = manners
        self._read = [0] * len(manners)
        self._process: subprocess.Popen | None = None
        self._up = threading.Event()

    def start(self) -> None:
        self._up.clear()
        told = json.dumps({**self.told, "first": self._next, "life": len(self.kills)})
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "tests.rig.phone_sender", told],
                cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, text=True,
            )  # fmt: skip
        self._listener = threading.Thread(target=self._listen, args=(self._process,), daemon=True)
        self._listener.start()

    def kill(self) -> None:
        self.kills.append(time.monotonic())
        if not self.down or self.down[-1][1] != float("inf"):
            self.down.append([self.kills[-1], float("inf")])
        self.end()

    def _listen(self, process) -> None:
        for line in process.stdout:
            match line.split():
                case ["up"]:
                    if self.down:
                        self.down[-1][1] = time.monotonic()
                    self._up.set()
                    self._acknowledge_again()
                case ["made", number, event_id, second]:
                    self.made[event_id] = (int(number), float(second))
                    self._next = max(self._next, int(number) + 1)
                case ["acked", tag]:
                    self._asked.pop(tag, None)
                case ["all"]:
                    self.all_made = True

    def read_mail(self) -> None:
        """Take in what arrived since the last time, and acknowledge it."""
        for at, manners in enumerate(self._manners):
            fresh = manners.arrivals[self._read[at] :]
            self._read[at] += len(fresh)
            for arrival in fresh:
                self._take(arrival)
        while self._to_answer and self._to_answer[0][0] < time.monotonic():
            _, tag, person = self._to_answer.popleft()
            self._asked[tag] = person
            self._say(f"ack {tag} {person}")

    def _take(self, arrival) -> None:
        told = json.loads(arrival.body)
        self.messages[told["ref"]] += 1
        self.kinds[told["kind"]] += self.messages[told["ref"]] == 1
        if told["held_back"]:
            self.held_back[told["ref"]] = told["held_back"]
        for event_id, tag in zip(told["ids"], told["tags"], strict=True):
            self.arrived.setdefault(event_id, arrival.at_s)
            self.refs[event_id].add(told["ref"])
            if tag not in self._known:
                self._known.add(tag)
                self._to_answer.append((arrival.at_s + ANSWER_S, tag, told["person"]))

    def _acknowledge_again(self) -> None:
        for tag, person in list(self._asked.items()):
            self._say(f"ack {tag} {person}")

    def _say(self, line: str) -> None:
        try:
            self._process.stdin.write(line + "\n")
            self._process.stdin.flush()
        except (OSError, ValueError):
            pass  # it was killed; said again when it is up

    def live(self, seconds: float) -> None:
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s and not self.is_done():
            self.read_mail()
            time.sleep(0.02)

    def live_until_mail(self, and_then_s: float, within_s: float = 5.0) -> None:
        """Until a message arrives and a little longer: its sender does not know yet that it was taken."""
        before = sum(self.messages.values())
        end_s = time.monotonic() + within_s
        while sum(self.messages.values()) == before and time.monotonic() < end_s and not self.is_done():
            self.read_mail()
            time.sleep(0.002)
        time.sleep(and_then_s)

    def is_done(self) -> bool:
        told = len(self.arrived) + sum(self.held_back.values()) if self.held_back else 0
        return self.all_made and (not self.missing() or told >= len(self.made))

    def await_all(self, within_s: float) -> None:
        def done() -> bool:
            self.read_mail()
            return self.is_done()

        until(done, within_s, lambda: f"{len(self.missing())} missing: {self.missing()[:5]}\n{self.tail()}")

    def missing(self) -> list[str]:
        return sorted(self.made.keys() - self.arrived.keys())

    def kills_while(self, event_id: str) -> int:
        """How often the process was killed while this alarm was on its way."""
        since_s, until_s = self.made[event_id][1], self.arrived[event_id]
        return sum(since_s <= killed_s <= until_s for killed_s in self.kills)

    def latency_s(self, event_id: str) -> float:
        """From the commit to the first arrival, without the time in which no process was there."""
        return self._alive_s(self.made[event_id][1], self.arrived[event_id])

    def latencies_s(self) -> list[float]:
        return sorted(self.latency_s(one) for one in self.made if one in self.arrived) or [float("nan")]

    def journaled(self) -> list[Event]:
        """Everything in the journal; the process must be dead."""
        return asyncio.run(_read_all(Path(self.told["folder"])))

    def _alive_s(self, since_s: float, until_s: float) -> float:
        at = max(0, bisect_right(self.down, [since_s, 0.0]) - 1)
        dead_s = 0.0
        for killed_s, up_s in self.down[at:]:
            if killed_s > until_s:
                break
            dead_s += max(0.0, min(until_s, up_s) - max(since_s, killed_s))
        return max(0.0, until_s - since_s - dead_s)

    def counts(self) -> str:
        late = self.latencies_s()
        shares = {name: late[min(len(late) - 1, int(share * len(late)))] for name, share in
                  (("median", 0.5), ("99 %", 0.99), ("99.9 %", 0.999), ("longest", 1.0))}  # fmt: skip
        repeats = sum(self.messages.values()) - len(self.messages)
        met = defaultdict(int)
        for manners in self._manners:
            for manner, count in manners.met.items():
                met[manner.name.lower()] += count
        return (
            f"{len(self.made)} alarms, {len(self.kills)} kills, {len(self.missing())} never told by name, "
            f"{len(self.messages)} messages {dict(self.kinds)}, {repeats} repeats, "
            f"{sum(len(refs) > 1 for refs in self.refs.values())} alarms under two references; "
            f"to arrive, s: {', '.join(f'{name} {value:.2f}' for name, value in shares.items())}; "
            f"servers: {dict(met)}"
        )

    def tail(self) -> str:
        return self.log.read_text()[-3000:]

    def __enter__(self) -> "Proof":
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def end(self) -> None:
        """Kill it, and hear what it had said."""
        self._process.kill()
        self._process.wait(10)
        self._listener.join(10)


async def _read_all(folder: Path) -> list[Event]:
    settings = StoreSettings(folder=folder, keep_events=200_000)
    store = Store.open(settings, now=lambda: Instant(0.0, 0.0), outlets=(OUTLET,))
    found: list[Event] = []
    while some := await store.events_after(found[-1].seq if found else 0, 1000):
        found += some
    await store.close()
    return found
