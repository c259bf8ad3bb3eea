"""Words: what travels between the rooms.

Units are part of the name: ``_inh2o`` inches of water (the site's inch), ``_ma``, ``_s``, ``_psi``, ``_cfm``.
``mono_s`` counts seconds while the daemon runs and never steps; ``utc_s`` is the wall clock, for stamps only.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from monitor.troubles import Suspicion


class Instant(NamedTuple):
    """One moment, on both clocks.

    Attributes:
        mono_s: seconds on the scan clock; it goes on from where it stood over a restart, so a delay that
            was running neither starts anew nor fires early. Delays compare this and nothing else.
        utc_s: Unix seconds, for stamps that people read. Never compared.
    """

    mono_s: float
    utc_s: float


class Quality(StrEnum):
    """How far a reading may be trusted."""

    GOOD = "good"
    UNCERTAIN = "uncertain"
    BAD = "bad"


class Reason(StrEnum):
    """Why a reading is not good."""

    NONE = "none"
    NOT_YET_READ = "not_yet_read"
    NO_CONNECTION = "no_connection"
    NO_ANSWER = "no_answer"
    EXCEPTION_CODE = "exception_code"
    MALFORMED_REPLY = "malformed_reply"
    LOOP_BELOW_MEASURING = "loop_below_measuring"
    LOOP_ABOVE_MEASURING = "loop_above_measuring"
    LOOP_SATURATED = "loop_saturated"
    LOOP_FAILED_LOW = "loop_failed_low"
    LOOP_FAILED_HIGH = "loop_failed_high"
    OUT_OF_RANGE = "out_of_range"
    NOT_A_NUMBER = "not_a_number"
    STALE = "stale"
    FROZEN = "frozen"


class Role(StrEnum):
    """What a point means to its collector."""

    DP = "dp"
    FAN_RUNNING = "fan_running"
    HEADER_PRESSURE = "header_pressure"
    AIR_FLOW = "air_flow"
    CLEANING_ACTIVE = "cleaning_active"


#: The one unit of each analog quantity inside the house; conversion happens at the doors only.
UNIT_OF_ROLE: Mapping[Role, str] = {Role.DP: "inH2O", Role.HEADER_PRESSURE: "psi", Role.AIR_FLOW: "cfm"}


class PointId(NamedTuple):
    """One point of one collector."""

    collector: str
    role: Role


class Table(StrEnum):
    """The four tables of the Modbus data model (Application Protocol V1.1b3 §4.3)."""

    COIL = "coil"
    DISCRETE_INPUT = "discrete input"
    INPUT_REGISTER = "input register"
    HOLDING_REGISTER = "holding register"

    @property
    def is_bit(self) -> bool:
        """Whether one entry is a single bit rather than a 16-bit word."""
        return self in (Table.COIL, Table.DISCRETE_INPUT)


class Slot(NamedTuple):
    """Where one point lies inside a block."""

    point: PointId
    offset: int
    width: int


@dataclass(frozen=True, slots=True)
class Block:
    """One request: neighbouring entries of one table of one unit.

    Attributes:
        address: protocol address, from 0, as on the wire.
        count: entries asked for: 1 to 125 registers, or 1 to 2000 bits.
    """

    unit_id: int
    table: Table
    address: int
    count: int
    slots: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a request brought no data; ``detail`` is a short English phrase with the facts."""

    reason: Reason
    detail: str


@dataclass(frozen=True, slots=True)
class BlockRead:
    """The outcome of one request: either ``words`` (or bits as 0 and 1), or a ``failure``."""

    block: Block
    at: Instant
    words: tuple[int, ...] = ()
    failure: Failure | None = None

    def words_of(self, slot: Slot) -> tuple[int, ...]:
        """The words (or the bit) of one point; empty after a failure."""
        return self.words[slot.offset : slot.offset + slot.width]


@dataclass(frozen=True, slots=True)
class UnitScan:
    """All requests that one scan of a link made of one unit, in the order they were answered."""

    link: str
    unit_id: int
    reads: tuple[BlockRead, ...]


@dataclass(frozen=True, slots=True)
class LinkChange:
    """A link came or went; ``detail`` says how, in a short English phrase."""

    link: str
    connected: bool
    at: Instant
    detail: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What is known of one point, and how far it may be trusted. Never a value without its quality.

    Attributes:
        value: in the inside unit of its role (1.0 / 0.0 for a discrete point); None when there is none.
            A bad reading keeps no value of an earlier moment.
        damped: the same after damping; equal to ``value`` where no damping is set.
        raw: the number in the register(s) before scaling; None when nothing was read.
        current_ma: loop current, where the point is raw counts of a 4–20 mA loop.
        at: the moment of the reply (or of the failure).
    """

    quality: Quality
    reason: Reason
    at: Instant
    value: float | None = None
    damped: float | None = None
    raw: float | None = None
    current_ma: float | None = None
    detail: str = ""


class AlarmState(StrEnum):
    """The nine states of ISA-18.2 / IEC 62682, by name (their letters differ between editions)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned_unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched_unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched_acknowledged"
    SHELVED = "shelved"
    SUPPRESSED_BY_DESIGN = "suppressed_by_design"
    OUT_OF_SERVICE = "out_of_service"


class Priority(StrEnum):
    """How soon somebody must act, from least to most."""

    ADVISORY = "advisory"
    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"
    URGENT = "urgent"

    @property
    def rank(self) -> int:
        """Its place from the least, 0, to the most."""
        return tuple(Priority).index(self)


class Cause(StrEnum):
    """Who or what made an alarm change."""

    PROCESS = "process"
    PERSON = "person"
    TIMER = "timer"
    SITE_FILE = "site_file"
    DESIGN = "design"


class HoldReason(StrEnum):
    """Why an alarm is suppressed by design."""

    FAN_STOPPED = "fan_stopped"
    START_UP = "start_up"
    CLEANING = "cleaning"
    CONSEQUENCE = "consequence"


class Hold(NamedTuple):
    """What holds an alarm back by design.

    Attributes:
        under: for a consequence, the tag of the alarm that is its cause; else empty.
    """

    why: HoldReason
    under: str = ""


class Shelf(NamedTuple):
    """A person put an alarm aside for a while; always with an end, a reason and a name.

    Attributes:
        until_s: its end on the scan clock.
        until_utc_s: the same as Unix seconds, as it was promised to the person.
        since_utc_s: Unix seconds.
    """

    until_s: float
    until_utc_s: float
    by: str
    reason: str
    since_utc_s: float


class Removal(NamedTuple):
    """A person took an alarm out of service, until somebody returns it."""

    by: str
    reason: str
    since_utc_s: float


class CommandKind(StrEnum):
    """What a person may ask for."""

    ACKNOWLEDGE = "acknowledge"
    CLEAR = "clear"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    OUT_OF_SERVICE = "out_of_service"
    RETURN_TO_SERVICE = "return_to_service"
    TEST = "test"
    SILENCE = "silence"
    FILTERS_CHANGED = "filters_changed"
    RECORD_ACTION = "record_action"
    TEST_MESSAGE = "test_message"


#: What is about a collector instead of an alarm.
ABOUT_COLLECTOR = frozenset({CommandKind.FILTERS_CHANGED, CommandKind.RECORD_ACTION})
#: What is about neither: the horn, and the way to people.
ABOUT_NO_ALARM = frozenset({CommandKind.SILENCE, CommandKind.TEST_MESSAGE})


class Door(StrEnum):
    """Through which of the doors a command came in."""

    COMMAND_LINE = "command_line"
    MQTT = "mqtt"
    HTTP = "http"


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One thing a person asks for.

    Attributes:
        command_id: chosen by the sender; the same id is never carried out twice.
        tag: the alarm; empty for ``SILENCE`` (the horn is silenced for all).
        by: the person's name, as given or as proven.
        proven: a secret of that person came with it; else ``by`` is what the sender says.
        sent_utc_s: when the person asked, Unix seconds; None where the door itself vouches that it is now.
        reason: why; must be given for shelving and for taking out of service.
        for_s: how long a shelving shall last, seconds.
        collector: the collector that ``FILTERS_CHANGED`` and ``RECORD_ACTION`` are about.
        at_utc_s: when the filters were changed, or a moment within the excursion that a record is about, Unix
            seconds; None for now.
        action: the corrective action that is recorded (``reason`` then says the cause of the excursion).
        person: to whom ``TEST_MESSAGE`` goes; empty for everybody who can be called.
    """

    command_id: str
    kind: CommandKind
    by: str
    door: Door
    tag: str = ""
    proven: bool = False
    sent_utc_s: float | None = None
    reason: str = ""
    for_s: float | None = None
    collector: str = ""
    at_utc_s: float | None = None
    action: str = ""
    person: str = ""


class AnswerCode(StrEnum):
    """What became of a command: done, or why it was refused."""

    DONE = "done"
    MALFORMED = "malformed"
    LATE = "late"
    CLOCKS_DIFFER = "clocks_differ"
    RETAINED = "retained"
    ID_REUSED = "id_reused"
    UNKNOWN_ALARM = "unknown_alarm"
    UNKNOWN_PERSON = "unknown_person"
    NOT_ALLOWED = "not_allowed"
    REASON_MISSING = "reason_missing"
    END_MISSING = "end_missing"
    TOO_LONG = "too_long"
    STILL_ACTIVE = "still_active"
    NOT_IN_THAT_STATE = "not_in_that_state"
    UNKNOWN_COLLECTOR = "unknown_collector"
    TIME_UNFIT = "time_unfit"
    NOBODY_CALLED = "nobody_called"
    TOO_MANY = "too_many"
    NOT_WRITTEN = "not_written"

    @property
    def is_done(self) -> bool:
        """Whether the command was carried out."""
        return self is AnswerCode.DONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a person is told about a command.

    Attributes:
        text: one plain English sentence: what was done, or why not and what to do instead.
        state: of the alarm after the command; None where there is no such alarm.
        repeated: the same command had been answered before; this is that answer, and nothing was done again.
    """

    command_id: str
    code: AnswerCode
    text: str
    at_utc_s: float
    tag: str = ""
    state: AlarmState | None = None
    repeated: bool = False


class EventKind(StrEnum):
    """What an event is about."""

    ALARM = "alarm"
    LINK = "link"
    SYSTEM = "system"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened and must not be lost: one row of the journal.

    The journal gives each event its ``event_id`` and ``seq``; until then they are empty.

    Attributes:
        happened: a verb in the past: ``raised``, ``returned``, ``latched``, ``acknowledged``, ``unlatched``,
            ``cleared``, ``removed``, ``shelved``, ``unshelved``, ``suppressed``, ``released``,
            ``taken_out_of_service``, ``returned_to_service``, ``tested`` for alarms (of a collector, or of a link:
            then ``link`` is set instead of ``collector``); ``lost``, ``restored`` for links; ``started``,
            ``stopped``, ``reloaded``, ``silenced``, ``command_refused``… for the system; ``filters_changed``,
            ``filters_noticed``, ``action_recorded`` for the system, with ``collector`` set.
        at_utc_s: when it happened (not when it was told).
        occurrence: the same for every event from one raising of an alarm to its clearing.
        seen: False where an alarm was cleared and nobody had acknowledged it.
        suspicions: what may be behind an alarm that was raised, the likeliest first; none where the evidence does
            not tell.
    """

    kind: EventKind
    happened: str
    at_utc_s: float
    text: str
    collector: str | None = None
    tag: str | None = None
    link: str | None = None
    priority: Priority | None = None
    state_before: AlarmState | None = None
    state: AlarmState | None = None
    cause: Cause | None = None
    by: str | None = None
    occurrence: str | None = None
    value: float | None = None
    setpoint: float | None = None
    unit: str | None = None
    seen: bool | None = None
    facts: Mapping[str, str | float | int | bool | None] = field(default_factory=dict)
    suspicions: tuple[Suspicion, ...] = ()
    event_id: str = ""
    seq: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryRow:
    """What one point did during one step of the history.

    ``last``, ``lowest``, ``highest`` and ``mean`` are over the good and uncertain readings that carried a
    value, in the inside unit of the point's role; all four are None where there was none.

    Attributes:
        start_utc_s: Unix seconds at which the step began.
        good, uncertain, bad: how many readings of each quality fell into it.
        worst: the reason of the worst reading (the latest of the equally bad); ``Reason.NONE`` if all were good.
    """

    start_utc_s: int
    last: float | None
    lowest: float | None
    highest: float | None
    mean: float | None
    good: int
    uncertain: int
    bad: int
    worst: Reason


@dataclass(frozen=True, slots=True, kw_only=True)
class HourRow(HistoryRow):
    """One hour of one point, with what is needed to say whether its average is valid.

    ``lowest``, ``highest`` and ``mean`` are over the good readings alone.

    Attributes:
        quarters: good readings in each quarter of an hour, by the wall clock.
        first_good_utc_s, last_good_utc_s: the first and the last good reading, Unix seconds; None without any.
    """

    quarters: tuple[int, int, int, int] = (0, 0, 0, 0)
    first_good_utc_s: float | None = None
    last_good_utc_s: float | None = None
