"""Core: the live state of every collector, and the order in which its changes leave the house.

Each input makes one turn. What it brings is handed to the store first; only when the store has it on disk (or,
while the disk fails, has said that it may be told all the same) do the outlets see the collector's new state.
"""

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property, partial
from typing import TypeVar

from monitor.daemon import snapshot
from monitor.daemon.curve_keeping import CurveKeeping, begun
from monitor.daemon.curve_resuming import resumed, scattered
from monitor.daemon.reload import carry_held, carry_over
from monitor.daemon.snapshot_curve import curve_key, read_curve, write_curve
from monitor.interpret import curve
from monitor.interpret.window import Window
from monitor.judge.alarm import Alarm
from monitor.remember.store import Store
from monitor.scan import judging
from monitor.scan import turn as scan
from monitor.scan.context import UNKNOWN
from monitor.scan.settings import CollectorPlan, PlantPlan
from monitor.scan.state import CollectorState, Desk, LinkState, Outcome, PlantState
from monitor.scan.turn import Input
from monitor.tell.wording import sentence
from monitor.words import Answer, Event, EventKind, Instant, PointId

log = logging.getLogger(__name__)

#: Before the name of a link where it stands among those of collectors (which have no slash).
LINKS = "links/"

_Known = TypeVar("_Known")


class Core:
    """Every collector's and link's state; the only place that holds it.

    Attributes:
        plan: what is watched.
        state: as judged.
        turned_at: the instant of the last turn; health is judged by it.
        last_seq: the number of the newest event that was handed to the journal, 0 for none.
    """

    def __init__(
        self,
        store: Store,
        now: Instant,
        on_change: Callable[[Iterable[str]], None],
        on_answer: Callable[[Answer, int], None] | None = None,
        on_event: Callable[[Event], None] | None = None,
    ) -> None:
        self.plan = PlantPlan()
        self._collectors: dict[str, CollectorState] = {}
        self._links: dict[str, LinkState] = {}
        self.state = PlantState(self._collectors, self._links)
        self.turned_at = now
        self.turns = 0
        self.last_seq = 0
        self._store = store
        self._on_change = on_change
        self._on_answer = on_answer
        self._on_event = on_event
        # State before the oldest event that is not on disk yet, and the newest such event's number; a link's
        # under its ``links/`` name.
        self._held: dict[str, CollectorState] = {}
        self._held_links: dict[str, LinkState] = {}
        self._waits_for: dict[str, int] = {}
        self._windows_due: list[str] = []
        self._curves = CurveKeeping()

    @property
    def states(self) -> Mapping[str, CollectorState]:
        """Every collector's state, as judged."""
        return self.state.collectors

    @property
    def plans(self) -> Mapping[str, CollectorPlan]:
        """Every collector's plan."""
        return self.plan.collectors

    def restore(self, plan: PlantPlan, now: Instant) -> None:
        """Begin with what the store remembers of this plant."""
        self.plan = plan
        remembered = scan.begin(
            plan,
            now,
            {name: self._remembered(name, one, now) for name, one in plan.collectors.items()},
            {
                name: alarm
                for name, one in plan.links.items()
                if (alarm := self.remembered_link_alarms().get(name, {}).get(one.alarm.tag))
            },
            self._read(snapshot.DESK_KEY, snapshot.read_desk, Desk()),
        )
        self._hold(remembered)

    def remembered_alarms(self) -> dict[str, dict[str, Alarm]]:
        """Every collector's alarms that the store remembered when it was opened, by collector and tag."""
        return {
            name: self._alarms_of(name) for key in self._store.snapshots if (name := snapshot.alarms_owner(key))
        }

    def remembered_link_alarms(self) -> dict[str, dict[str, Alarm]]:
        """The same of the links, by link and tag."""
        return {
            name: self._read(key, snapshot.read_alarms, {})
            for key in self._store.snapshots
            if (name := snapshot.link_owner(key))
        }

    def told(self) -> Mapping[str, CollectorState]:
        """The states as outlets may show them: never ahead of the journal."""
        return {**self.states, **self._held} if self._held else self.states

    def told_links(self) -> Mapping[str, LinkState]:
        """The links as outlets may show them."""
        return {**self.state.links, **self._held_links} if self._held_links else self.state.links

    def told_of(self, name: str) -> CollectorState | None:
        """One collector's state as outlets may show it."""
        return self._held.get(name) or self.states.get(name)

    def take(self, what: Input, now: Instant) -> None:
        """Make one turn and hand what it brought to the store."""
        outcome = scan.turn(self.plan, self.state, what, now)
        self.turned_at = now
        self.turns += 1
        if outcome.changed or outcome.events or outcome.links or outcome.desk:
            self._take_in(outcome, now)
        for answer in outcome.answers:
            if self._on_answer is not None:
                self._on_answer(answer, self.last_seq)

    def journal(
        self, events: Iterable[Event], now: Instant, texts: Mapping[str, str] | None = None
    ) -> tuple[Event, ...]:
        """Journal events that come from no turn (started, reloaded…), with the states they led to."""
        worded = [event if event.text else replace(event, text=sentence(event)) for event in events]
        return self._stamped(worded, texts or {}, now)

    def end_alarms(self, events: Iterable[Event], forgotten: Iterable[str], now: Instant) -> None:
        """Journal the end of alarms that the site file no longer has, and forget them in the same transaction.

        Args:
            events: what ended.
            forgotten: the keys of what is no longer watched.
            now: this moment.
        """
        texts = {
            snapshot.alarms_key(name): snapshot.write_alarms(one.watch.alarms) for name, one in self.states.items()
        }
        texts |= {snapshot.link_key(name): self._link_text(name, one) for name, one in self._links.items()}
        self.journal(events, now, {**texts, **dict.fromkeys(forgotten, "")})

    def committed(self, seq: int) -> list[str]:
        """Everything up to ``seq`` may be told; returns the collectors whose state that frees."""
        freed = [name for name, waits_for in self._waits_for.items() if waits_for <= seq]
        for name in freed:
            del self._waits_for[name]
            self._held.pop(name, None)
            self._held_links.pop(name.removeprefix(LINKS), None)
        self._on_change(freed)
        return freed

    def keep_some_windows(self, most: int, now: Instant) -> None:
        """Remember the windows of a few collectors at a time, round and round (they are large and slow)."""
        if not self._windows_due:
            self._windows_due = list(self.plans)
        some, self._windows_due = self._windows_due[:most], self._windows_due[most:]
        texts = {snapshot.windows_key(name): self._windows_text(name) for name in some if name in self.states}
        self._store.remember({**texts, **self._curves.due(self.states, now.mono_s)}, now.mono_s)

    def keep_everything(self, now: Instant) -> None:
        """Remember all there is, before the daemon stops."""
        texts = {snapshot.windows_key(name): self._windows_text(name) for name in self.states}
        for name, state in self.states.items():
            texts[snapshot.alarms_key(name)] = snapshot.write_alarms(state.watch.alarms)
            texts[snapshot.context_key(name)] = snapshot.write_context(state.context)
            texts[curve_key(name)] = write_curve(state.curve)
        texts |= {snapshot.link_key(name): self._link_text(name, one) for name, one in self._links.items()}
        self._store.remember(texts, now.mono_s)

    def is_counting(self) -> bool:
        """Whether any delay or auto-clear is running (its seconds must be written down)."""
        return any(state.watch.due_s != float("inf") for state in self.states.values())

    def replace_plan(self, plan: PlantPlan, now: Instant) -> list[Event]:
        """Go on with another site file's plant; the alarms that ended because it no longer has them."""
        state, ended = carry_over(self.plan, self.state, plan, now)
        self._held = carry_held(self.plans, self._held, plan.collectors, now)
        self._held_links = {name: one for name, one in self._held_links.items() if name in plan.links}
        self.plan = plan
        self._hold(state)
        self._on_change(list(plan.collectors))
        return ended

    def _take_in(self, outcome: Outcome, now: Instant) -> None:
        edges = self._edges(outcome)
        # In place: a thousand collectors are not copied for the sake of one.
        self._collectors.update(outcome.changed)
        self._links.update(outcome.links)
        self.state = PlantState(self._collectors, self._links, outcome.desk or self.state.desk)
        if outcome.events:
            self._journal(outcome.events, edges, now)
        elif edges:
            self._store.remember(edges, now.mono_s)
        self._on_change(outcome.changed)

    def _edges(self, outcome: Outcome) -> dict[str, str]:
        """What must be written down of this turn, by key; and readings go into the history."""
        before = self.state
        edges: dict[str, str] = {}
        for name, state in outcome.changed.items():
            was = before.collectors[name]
            if state.readings is not was.readings:
                self._record(name, was, state)
            if state.watch is not was.watch and state.watch.alarms != was.watch.alarms:
                edges[snapshot.alarms_key(name)] = snapshot.write_alarms(state.watch.alarms)
                if outcome.events:
                    self._held.setdefault(name, was)
            edges |= begun(name, was, state)
            if snapshot.lasting(state.context) != snapshot.lasting(was.context):
                edges[snapshot.context_key(name)] = snapshot.write_context(state.context)
        for name, link in outcome.links.items():
            if link.alarm != before.links[name].alarm:
                edges[snapshot.link_key(name)] = self._link_text(name, link)
                if outcome.events:
                    self._held_links.setdefault(name, before.links[name])
        if outcome.desk is not None and outcome.desk.answered is not before.desk.answered:
            edges[snapshot.DESK_KEY] = snapshot.write_desk(outcome.desk)
        return edges

    def _journal(self, events: tuple[Event, ...], edges: Mapping[str, str], now: Instant) -> None:
        worded = [replace(event, text=sentence(event)) for event in events]
        for stamped in self._stamped(worded, edges, now):
            log.info("event id=%s %s", stamped.event_id, stamped.text)
            if stamped.collector is not None:
                self._waits_for[stamped.collector] = stamped.seq
            elif stamped.kind is EventKind.ALARM:
                self._waits_for[f"{LINKS}{stamped.link}"] = stamped.seq
        # A collector that changed without an event of its own is free to be told at once.
        self._held = {name: state for name, state in self._held.items() if name in self._waits_for}
        self._held_links = {
            name: one for name, one in self._held_links.items() if f"{LINKS}{name}" in self._waits_for
        }

    def _stamped(self, worded: Sequence[Event], texts: Mapping[str, str], now: Instant) -> tuple[Event, ...]:
        stamped = self._store.append(worded, texts, now.mono_s)
        for event in stamped:
            self.last_seq = event.seq
            if self._on_event is not None:
                self._on_event(event)
        return stamped

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

    def _link_text(self, name: str, state: LinkState) -> str:
        return snapshot.write_alarms({self.plan.links[name].alarm.tag: state.alarm})

    def _hold(self, state: PlantState) -> None:
        self._collectors, self._links = dict(state.collectors), dict(state.links)
        self.state = PlantState(self._collectors, self._links, state.desk)

    def _remembered(self, name: str, plan: CollectorPlan, now: Instant) -> CollectorState:
        trends = plan.trends
        residual, average = self._read(
            snapshot.windows_key(name),
            lambda text: (
                snapshot.read_window(text, "residual", trends.residual_window_s),
                snapshot.read_window(text, "average", trends.average_window_s),
            ),
            (Window(), Window()),
        )
        known = self._read(snapshot.context_key(name), snapshot.read_context, UNKNOWN)
        read = resumed(self._read(curve_key(name), partial(read_curve, collector=name), curve.BEGIN), now)
        read = scattered(read, name, len(self.plans), now.utc_s)
        return judging.begin(plan, now, self._alarms_of(name) or self._orphans, residual, average, known, read)

    @cached_property
    def _orphans(self) -> dict[str, Alarm]:
        """The remembered alarms of collectors that are gone, by tag: a renamed collector finds its own again."""
        return {
            tag: alarm
            for name, alarms in self.remembered_alarms().items()
            if name not in self.plans
            for tag, alarm in alarms.items()
        }

    def _alarms_of(self, name: str) -> dict[str, Alarm]:
        return self._read(snapshot.alarms_key(name), snapshot.read_alarms, {})

    def _read(self, key: str, read: Callable[[str], _Known], otherwise: _Known) -> _Known:
        """What is remembered under a key, or the other where it is nothing that can be understood."""
        if (text := self._store.snapshots.get(key)) is None:
            return otherwise
        try:
            return read(text)
        except ValueError as error:
            log.error("what was remembered is dropped key=%s why=%r", key, str(error))
            return otherwise
