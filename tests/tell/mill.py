"""Two collectors of an invented plant, in any state a test asks for."""

from dataclasses import replace

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling
from monitor.interpret.window import BUCKETS, Bucket, Window
from monitor.judge import watch
from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan.settings import CollectorPlan, PointPlan
from monitor.scan.state import CollectorState
from monitor.tell.heading import SiteHeading
from monitor.words import AlarmState, Instant, Priority, Quality, Reading, Reason, Role

SITE = SiteHeading("Alder Mill")
NOW = Instant(1000.0, 1_800_000_000.25)
GOOD = Reading(Quality.GOOD, Reason.NONE, NOW, value=4.25, damped=4.2, raw=6800.0, current_ma=10.8)
BAD = Reading(
    Quality.BAD, Reason.LOOP_FAILED_LOW, NOW, value=None, damped=None, raw=-200.0, current_ma=3.5, detail="3.5 mA"
)
YES = Reading(Quality.GOOD, Reason.NONE, NOW, value=1.0, damped=1.0)


def alarm(tag: str, priority: Priority = Priority.HIGH, **changes) -> AlarmSettings:
    fields = {"on_delay_s": 10.0, "off_delay_s": 10.0, "latching": True, "auto_clear_s": 1800.0}
    return AlarmSettings(tag=tag, priority=priority, **(fields | changes))


def plan(number: int = 101, name: str | None = None) -> CollectorPlan:
    analog = AnalogChannel(format=RegisterFormat(Encoding.UINT16), scaling=LinearScaling())
    return CollectorPlan(
        name=name or f"DC-{number}",
        points={
            Role.DP: PointPlan(tag=f"PDT-{number}", place="link mill, unit 1", channel=analog),
            Role.HEADER_PRESSURE: PointPlan(tag=f"PT-{number}", place="link mill, unit 1", channel=analog),
            Role.FAN_RUNNING: PointPlan(tag=f"YS-{number}", place="link mill, unit 1", channel=DiscreteChannel()),
        },
        bands=(
            Band(alarm=alarm(f"PDAH-{number}"), side=Side.ABOVE, setpoint_inh2o=7.0, deadband_inh2o=0.2),
            Band(
                alarm=alarm(f"PDAL-{number}", Priority.LOW),
                side=Side.BELOW,
                setpoint_inh2o=2.0,
                deadband_inh2o=0.2,
                judged=Judged.RESIDUAL,
            ),
        ),
        bad_signal=alarm(f"PDT-{number}-BAD", Priority.MEDIUM),
    )


def full_window(lowest: float, mean: float) -> Window:
    closed = tuple(Bucket(lowest, mean * 60, 60.0) for _ in range(BUCKETS))
    return Window(closed, lowest, mean * 60 * BUCKETS, 60.0 * BUCKETS, is_full=True)


def state(
    of: CollectorPlan, dp: Reading = GOOD, *, alarms: dict[str, Alarm] | None = None, **readings: Reading
) -> CollectorState:
    watched = watch.begin(watch.Bands(of.bands, of.bad_signal), alarms or {})
    known = {Role.DP: dp, Role.HEADER_PRESSURE: replace(GOOD, value=92.5), Role.FAN_RUNNING: YES}
    known |= {Role(name): reading for name, reading in readings.items()}
    return CollectorState(
        channels={}, readings=known, residual=full_window(3.1, 4.0), average=full_window(3.1, 4.0), watch=watched
    )


def active(seen: bool = False) -> Alarm:
    name = AlarmState.ACKNOWLEDGED if seen else AlarmState.UNACKNOWLEDGED
    return Alarm(state=name, present=True, seen=seen, raised_utc_s=NOW.utc_s - 60, since_utc_s=NOW.utc_s - 60)


def latched() -> Alarm:
    return Alarm(state=AlarmState.LATCHED_UNACKNOWLEDGED, raised_utc_s=NOW.utc_s - 600, since_utc_s=NOW.utc_s - 60)
