"""Core: the live state of every collector, and the order in which its changes leave the house.

Each input makes one turn. What it brings is handed to the store first; only when the store has it on disk (or,
while the disk fails, has said that it may be told all the same) do the outlets see the collector's new state.
"""

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from monitor.daemon import snapshot
from monitor.daemon.reload import carry_held, carry_over
from monitor.interpret.window import Window
from monitor.judge.lifecycle import Alarm
from monitor.remember.store import Store
from monitor.scan import turn as scan
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState, Outcome
from monitor.scan.turn import Input
from monitor.tell.wording import sentence
from monitor.words import Event, Instant, PointId

log = logging.getLogger(__name__)


class Core:
    """Every collector's state; the only place that holds it.

    Attributes:
        states: as judged.
        turned_at: the instant of the last turn; health is judged by it.
    """

    def __init__(self, store: Store, now: Instant, on_change: Callable[[Iterable[str]], None]) -> None:
        self.states: dict[str, CollectorState] = {}
        self.plans: dict[str, CollectorPlan] = {}
        self.turned_at = now
        self.turns = 0
        self._store = store
        self._on_change = on_change
        # State before the oldest event that is not on disk yet, and the newest such event's number.
        self._held: dict[str, CollectorState] = {}
        self._waits_for: dict[str, int] = {}
        self._windows_due: list[str] = []

    def restore(self, plans: Mapping[str, CollectorPlan], now: Instant) -> None:
        """Begin with what the store remembers of these collectors."""
        for name, plan in plans.items():
            self.plans[name] = plan
            self.states[name] = self._remembered(name, plan, now)

    def remembered_alarms(self) -> dict[str, dict[str, Alarm]]:
        """Every alarm that the store remembered when it was opened, by collector and tag."""
        return {
            name: self._alarms_of(name) for key in self._store.snapshots if (name := snapshot.alarms_owner(key))
        }

    def told(self) -> Mapping[str, CollectorState]:
        """The states as outlets may show them: never ahead of the journal."""
        return {**self.states, **self._held} if self._held else self.states

    def told_of(self, name: str) -> CollectorState | None:
        """One collector's state as outlets may show it."""
        return self._held.get(name) or self.states.get(name)

    def take(self, what: Input, now: Instant) -> None:
        """Make one turn and hand what it brought to the store."""
        outcome = scan.turn(self.plans, self.states, what, now)
        self.turned_at = now
        self.turns += 1
        if outcome.changed or outcome.events:
            self._take_in(outcome, now)

    def journal(
        self, events: Iterable[Event], now: Instant, texts: Mapping[str, str] | None = None
    ) -> tuple[Event, ...]:
        """Journal events that come from no turn (started, reloaded…), with the states they led to."""
        worded = [event if event.text else replace(event, text=sentence(event)) for event in events]
        return self._store.append(worded, texts or {}, now.mono_s)

    def end_alarms(self, events: Iterable[Event], gone: Iterable[str], now: Instant) -> None:
        """Journal the end of alarms that the site file no longer has, and forget them in the same transaction.

        Args:
            events: what ended.
            gone: collectors that are no longer watched.
            now: this moment.
        """
        texts = {
            snapshot.alarms_key(name): snapshot.write_alarms(one.watch.alarms) for name, one in self.states.items()
        }
        for name in gone:
            texts[snapshot.alarms_key(name)] = texts[snapshot.windows_key(name)] = ""
        self.journal(events, now, texts)

    def committed(self, seq: int) -> list[str]:
        """Everything up to ``seq`` may be told; returns the collectors whose state that frees."""
        freed = [name for name, waits_for in self._waits_for.items() if waits_for <= seq]
        for name in freed:
            del self._waits_for[name]
            self._held.pop(name, None)
        self._on_change(freed)
        return freed

    def keep_some_windows(self, most: int, now: Instant) -> None:
        """Remember the windows of a few collectors at a time, round and round (they are large and slow)."""
        if not self._windows_due:
            self._windows_due = list(self.plans)
        some, self._windows_due = self._windows_due[:most], self._windows_due[most:]
        texts = {snapshot.windows_key(name): self._windows_text(name) for name in some if name in self.states}
        self._store.remember(texts, now.mono_s)

    def keep_everything(self, now: Instant) -> None:
        """Remember all there is, before the daemon stops."""
        texts = {snapshot.windows_key(name): self._windows_text(name) for name in self.states}
        for name, state in self.states.items():
            texts[snapshot.alarms_key(name)] = snapshot.write_alarms(state.watch.alarms)
        self._store.remember(texts, now.mono_s)

    def is_counting(self) -> bool:
        """Whether any delay or auto-clear is running (its seconds must be written down)."""
        return any(state.watch.due_s != float("inf") for state in self.states.values())

    def replace_plans(self, plans: Mapping[str, CollectorPlan], now: Instant) -> list[Event]:
        """Go on with another site file's collectors; the alarms that ended because their band is gone."""
        states, ended = carry_over(self.plans, self.states, plans, now)
        self._held = carry_held(self.plans, self._held, plans, now)
        self.plans, self.states = dict(plans), states
        self._on_change(list(plans))
        return ended

    def _take_in(self, outcome: Outcome, now: Instant) -> None:
        edges: dict[str, str] = {}
        for name, state in outcome.changed.items():
            before = self.states[name]
            self.states[name] = state
            if state.readings is not before.readings:
                self._record(name, before, state)
            if state.watch is not before.watch and state.watch.alarms != before.watch.alarms:
                edges[snapshot.alarms_key(name)] = snapshot.write_alarms(state.watch.alarms)
                if outcome.events:
                    self._held.setdefault(name, before)
        if outcome.events:
            self._journal(outcome.events, edges, now)
        elif edges:
            self._store.remember(edges, now.mono_s)
        self._on_change(outcome.changed)

    def _journal(self, events: tuple[Event, ...], edges: Mapping[str, str], now: Instant) -> None:
        worded = [replace(event, text=sentence(event)) for event in events]
        for stamped in self._store.append(worded, edges, now.mono_s):
            log.info("event id=%s %s", stamped.event_id, stamped.text)
            if stamped.collector is not None:
                self._waits_for[stamped.collector] = stamped.seq
        # A collector that changed without an event of its own is free to be told at once.
        self._held = {name: state for name, state in self._held.items() if name in self._waits_for}

    def _record(self, name: str, before: CollectorState, state: CollectorState) -> None:
        for role, reading in state.readings.items():
            if reading is not before.readings.get(role):
                self._store.record(PointId(name, role), reading)

    def _windows_text(self, name: str) -> str:
        state, trends = self.states[name], self.plans[name].trends
        return snapshot.write_windows(
            {
                "residual": (trends.residual_window_s, state.residual),
                "average": (trends.average_window_s, state.average),
            }
        )

    def _remembered(self, name: str, plan: CollectorPlan, now: Instant) -> CollectorState:
        texts = self._store.snapshots
        residual, average = Window(), Window()
        try:
            if (text := texts.get(snapshot.windows_key(name))) is not None:
                residual = snapshot.read_window(text, "residual", plan.trends.residual_window_s)
                average = snapshot.read_window(text, "average", plan.trends.average_window_s)
        except ValueError as error:
            log.error("remembered windows dropped collector=%s why=%r", name, str(error))
        return scan.begin(plan, now, self._alarms_of(name), residual, average)

    def _alarms_of(self, name: str) -> dict[str, Alarm]:
        try:
            return snapshot.read_alarms(self._store.snapshots.get(snapshot.alarms_key(name), "{}"))
        except ValueError as error:
            log.error("remembered alarms dropped collector=%s why=%r", name, str(error))
            return {}
