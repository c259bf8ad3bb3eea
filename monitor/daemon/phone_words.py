"""Phone words: what a message must know besides its alarms: the DP and its trend now, and how the plant stands."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC
from zoneinfo import ZoneInfo

from monitor.daemon.core import Core
from monitor.figures import LinkFigures, MqttFigures, PhoneFigures
from monitor.interpret.trend.forecast import Outlook
from monitor.judge.alarm import Alarm
from monitor.judge.table import ACTIVE, UNANSWERED
from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.settings import PhoneSettings
from monitor.tell.phone.wording_message import MessageContext, StandNow, Text, full, short, trend_words
from monitor.tell.phone.wording_times import so_long
from monitor.words import AlarmState, Quality, Role

#: A sawtooth is compared with itself an hour ago, in pieces of five minutes (our choice).
BACK_MIN = 60.0
_PIECES_BACK = 12
#: A set is spoken of from so long before it is due (our choice), seconds.
_DUE_WITHIN_S = 42 * 86400.0

#: The lowest and the highest DP of the last pieces of a collector, the oldest first.
Pieces = Callable[[str], tuple[Sequence[float | None], Sequence[float | None]]]
#: The link by which a person acknowledges these alarms; empty for none.
MakeLink = Callable[[str, Iterable[ToldAlarm]], str]


class PhoneWords:
    """Puts messages in words.

    Args:
        core: where the states are.
        site: its name, as it is now.
        pieces: of the last hours.
        make_link: for messages that ask for an acknowledgement.
        stand: how all stands, for the message that says whether all is well.
    """

    def __init__(
        self,
        core: Core,
        site: Callable[[], str],
        pieces: Pieces,
        make_link: MakeLink,
        stand: Callable[[], StandNow],
    ) -> None:
        self._core = core
        self._site = site
        self._pieces = pieces
        self._make_link = make_link
        self._stand = stand
        self._zone = "UTC"

    def follow(self, settings: PhoneSettings) -> None:
        """Tell times by the wall clock of this site from now on."""
        self._zone = settings.time_zone

    def word(self, message: Message, *, short_form: bool) -> Text:
        """The words of a message."""
        context = MessageContext(
            site=self._site(),
            zone=UTC if self._zone == "UTC" else ZoneInfo(self._zone),
            link=self._make_link(message.person, message.alarms) if message.link_wanted else "",
            outlook=self.outlook,
            stand=self._stand() if message.kind is MessageKind.ALL_WELL else StandNow(),
        )
        return Text("", short(message, context)) if short_form else full(message, context)

    def outlook(self, name: str) -> str:
        """The DP of a collector now, and whether it has risen or fallen in the last hour."""
        state = self._core.told_of(name)
        dp = None if state is None else state.readings.get(Role.DP)
        if dp is None or dp.quality is Quality.BAD or dp.value is None:
            return ""
        change = _change(*self._pieces(name))
        return trend_words(dp.value, None if change is None else dp.value - change, BACK_MIN, "inH2O")


def _change(lows: Sequence[float | None], highs: Sequence[float | None]) -> float | None:
    """How far the middle of the sawtooth has moved, between pieces that are over; None: not known."""
    middles = [
        None if low is None or high is None else (low + high) / 2 for low, high in zip(lows, highs, strict=True)
    ]
    if len(middles) < _PIECES_BACK + 2:
        return None
    newest, then = middles[-2], middles[-2 - _PIECES_BACK]
    return None if newest is None or then is None else newest - then


def stand_now(
    core: Core,
    *,
    links: Mapping[str, LinkFigures],
    mqtt: MqttFigures | None,
    phone: PhoneFigures,
    is_journal_ok: bool,
    now_utc_s: float,
) -> StandNow:
    """How watch and plant stand at this moment."""
    alarms = [*_alarms(core)]
    failing = [*(["mqtt"] if mqtt is not None and not mqtt.connected else [])]
    failing += ["the address outside"] if phone.ping_error else []
    return StandNow(
        collectors=len(core.plans),
        alarms=sum(one.state in ACTIVE for one in alarms),
        unacknowledged=sum(one.state in UNANSWERED for one in alarms),
        links_lost=tuple(name for name, link in links.items() if not link.connected),
        cannot_be_trusted=tuple(
            name for name, one in core.told().items() if one.readings[Role.DP].quality is Quality.BAD
        ),
        shelved=sum(one.state is AlarmState.SHELVED for one in alarms),
        out_of_service=sum(one.state is AlarmState.OUT_OF_SERVICE for one in alarms),
        journal_ok=is_journal_ok,
        outlets_failing=tuple(failing),
        filters_due=tuple(_filters_due(core, now_utc_s)),
    )


def _alarms(core: Core) -> Iterator[Alarm]:
    for state in core.told().values():
        yield from state.watch.alarms.values()
    for link in core.told_links().values():
        yield link.alarm


def _filters_due(core: Core, now_utc_s: float) -> Iterator[str]:
    for name, state in core.told().items():
        outlook = state.curve.outlook
        if outlook.outlook is Outlook.REACHED:
            yield f"{name} now"
        elif outlook.outlook is Outlook.EXPECTED and outlook.due_utc_s is not None:
            left_s = outlook.due_utc_s - now_utc_s
            if left_s < _DUE_WITHIN_S:
                yield f"{name} in about {so_long(left_s)}"
