"""Steps: sudden changes of the DP that no cleaning explains.

Eight parcels are kept: three before, two in which it may happen, three after. Before is carried on to after by the
present rise, so that the growing cake does not look like a step where parcels come slowly. While it is cleaned,
and where nothing but the DP could tell that it is, a fall is a step only if it comes at once, level before and
after (a cleaning takes several pulses), and ends below where cleaning ever ended or is larger than six pulses are.
A fall is watched for some minutes more: what comes back by itself, goes on falling, or went with the air flow was
none.

Where readings come more rarely than parcels, they may meet every pulse at the same moment of its spike; there a
fall is only looked for outside of cleaning, and only with a signal that tells of it.
"""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.symptoms.minutes import Minute

#: A step is larger than each of these; our choice: inH2O, share of the DP before, multiples of the noise.
LEAST_INH2O = 0.2
LEAST_SHARE = 0.05
LEAST_NOISES = 4.0
#: A fall in the midst of cleaning ends so far below the lowest residual DP of the last days, inH2O and share.
BELOW_INH2O = 0.15
BELOW_SHARE = 0.04
#: And so much of it comes within three parcels, with so much at most within three parcels before and after.
SHARP_SHARE = 0.75
LEVEL_SHARE = 0.35
#: Or it is larger than so many usual pulses, of which three or four fit into the parcels; our choice.
MORE_PULSES = 6.0
#: And in any case larger than what the spikes of pulses, met by chance, make of a parcel; our choice.
MORE_INH2O = 0.8
#: Parcels further apart than this are slow.
SLOW_S = 7.0
#: There a step must be so many times as large: one reading stands for a parcel.
SLOW_TIMES = 2.5
#: A step is told for so long.
TOLD_S = 900.0
#: A fall is believed when it has stayed for so long; for the first minutes its level is looked at. Our choice.
STAYS_S = 600.0
LEVEL_S = 180.0
#: So much of a fall may come back, or be added, while it is watched; with the flow it must be this much of a fall.
BACK_SHARE = 0.5
#: A step up of so much of a fall undoes it.
UNDONE_SHARE = 0.7
#: After a stop long enough for a repair, a fall before it is over after so long a run; our choice.
MENDED_S = 3600.0
PARCELS = 8


class Fall(NamedTuple):
    """A fall without cleaning.

    Attributes:
        at_s: when; ``before_inh2o`` and ``after_inh2o`` the DP on both sides.
        rise_inh2o_min: how fast the DP rises in filtration.
        flow_cfm: the flow before.
        stays: whether it has stayed long enough to be believed.
    """

    at_s: float
    before_inh2o: float
    after_inh2o: float
    rise_inh2o_min: float
    flow_cfm: float | None
    stays: bool = False

    @property
    def size_inh2o(self) -> float:
        """How far it fell."""
        return self.before_inh2o - self.after_inh2o


class Steps(NamedTuple):
    """The newest parcels, the largest step of late, and a fall that is watched or believed.

    Attributes:
        recent: means of the newest parcels, at most ``PARCELS``.
        quiet: parcels since cleaning was called for.
        step_inh2o, at_s: the largest step of late, and when; ``rest`` parcels to pass before the next.
    """

    recent: tuple[float, ...] = ()
    quiet: int = 0
    rest: int = 0
    step_inh2o: float = 0.0
    at_s: float | None = None
    fall: Fall | None = None


BEGIN = Steps()


class Around(NamedTuple):
    """What is known around a step.

    Attributes:
        floor_inh2o: lowest residual DP of the last days; None: not known yet.
        witness: whether a signal or the header tells of cleaning.
        pulse_inh2o: by how much one pulse usually brings the DP down.
    """

    floor_inh2o: float | None
    rise_inh2o_min: float | None
    flow_cfm: float | None
    noise_inh2o: float
    parcel_s: float
    witness: bool
    pulse_inh2o: float | None


def kept(state: Steps, mean: float, is_called: bool) -> Steps:
    """Keep one more parcel."""
    recent, quiet, rest, step, at_s, fall = state
    recent = (*recent[1 - PARCELS :], mean)
    return tuple.__new__(Steps, (recent, 0 if is_called else quiet + 1, rest - 1 if rest else 0, step, at_s, fall))


def may_be(state: Steps) -> bool:
    """Whether it is worth a closer look: a quick test for every parcel."""
    recent = state.recent
    if len(recent) < PARCELS:
        return False
    return not -LEAST_INH2O < recent[5] - recent[2] < LEAST_INH2O


def looked_at(state: Steps, now_s: float, around: Around) -> Steps:
    """Look at the parcels closely."""
    recent = state.recent
    before, after = sum(recent[:3]) / 3.0, sum(recent[5:]) / 3.0
    step = after - before - 5.0 * around.parcel_s * (around.rise_inh2o_min or 0.0) / 60.0
    slow = SLOW_TIMES if around.parcel_s > SLOW_S else 1.0
    least = slow * max(LEAST_INH2O, LEAST_SHARE * abs(before), LEAST_NOISES * around.noise_inh2o)
    if abs(step) < least or _explained(state, step, around):
        return state
    if state.rest and not _larger(state.fall, step):
        return state
    if not state.rest:
        state = state._replace(rest=PARCELS)
    if abs(step) > abs(state.step_inh2o):
        state = state._replace(step_inh2o=step, at_s=now_s)
    fall = state.fall
    if step > 0.0:
        return state._replace(fall=None) if fall is not None and step >= UNDONE_SHARE * fall.size_inh2o else state
    if fall is not None and fall.stays:
        return state
    new = Fall(now_s, after - step, after, max(around.rise_inh2o_min or 0.0, 0.0), around.flow_cfm)
    return state._replace(fall=new)


def _larger(fall: Fall | None, step: float) -> bool:
    """Whether more of the same fall is seen now: a damped transmitter shows it bit by bit."""
    return fall is not None and not fall.stays and -step > fall.size_inh2o


def _explained(state: Steps, step: float, around: Around) -> bool:
    """Whether cleaning explains it."""
    if state.quiet >= PARCELS and around.witness:
        return False
    if around.parcel_s > SLOW_S:
        return True
    # Cleaning does not raise the DP, but its end bends the curve; and what it lowers ends at the residual DP.
    if -step < MORE_INH2O or not _sharp(state.recent, -step):
        return True
    pulse, floor = around.pulse_inh2o, around.floor_inh2o
    more = around.witness and pulse is not None and -step > MORE_PULSES * pulse
    deep = floor is not None and sum(state.recent[5:]) / 3.0 <= _lowest(floor)
    return not (more or deep)


def _lowest(floor: float) -> float:
    """Where no cleaning ends that is like the others."""
    return floor - max(BELOW_INH2O, BELOW_SHARE * floor)


def _sharp(recent: tuple[float, ...], fall: float) -> bool:
    """Whether it is level, falls at once, and is level again."""
    level = LEVEL_SHARE * fall
    before, after = abs(recent[2] - recent[0]), abs(recent[7] - recent[5])
    return recent[2] - recent[5] >= SHARP_SHARE * fall and before <= level and after <= level


def minute_over(state: Steps, minute: Minute) -> Steps:
    """Forget an old step; watch whether a fall stays."""
    if state.at_s is not None and minute.end_s - state.at_s > TOLD_S:
        state = state._replace(step_inh2o=0.0, at_s=None)
    fall = state.fall
    if fall is None or fall.stays:
        return state
    age_s = minute.end_s - fall.at_s
    if age_s >= STAYS_S:
        return state._replace(fall=fall._replace(stays=True))
    if 60.0 <= age_s < LEVEL_S and not minute.cleaned and not _at_level(fall, minute, age_s):
        return state._replace(fall=None)
    return state


def _at_level(fall: Fall, minute: Minute, age_s: float) -> bool:
    """Whether the DP goes on from where it fell, and did not merely follow the air flow."""
    expected = fall.after_inh2o + fall.rise_inh2o_min * (age_s - 30.0) / 60.0
    if abs(minute.dp_inh2o - expected) > BACK_SHARE * fall.size_inh2o:
        return False
    if not fall.flow_cfm or minute.flow_cfm is None or fall.before_inh2o <= 0.0:
        return True
    by_flow = fall.before_inh2o * (1.0 - minute.flow_cfm / fall.flow_cfm)
    return by_flow < BACK_SHARE * fall.size_inh2o


def cycle_came(state: Steps, cycle: Cycle, floor_inh2o: float | None) -> Steps:
    """A cleaning came to light afterwards: it may explain what looked like a step."""
    if not cycle.signalled and floor_inh2o is not None and cycle.residual_inh2o < _lowest(floor_inh2o):
        return state
    begin_s, end_s = cycle.begin_s - 60.0, cycle.end_s + 60.0
    if state.at_s is not None and begin_s <= state.at_s <= end_s:
        state = state._replace(step_inh2o=0.0, at_s=None)
    fall = state.fall
    # With a signal, or dips, the cleaning was known at the time; only one read from the DP comes to light late.
    late = not cycle.signalled and not cycle.counted
    if late and fall is not None and not fall.stays and begin_s <= fall.at_s <= end_s:
        state = state._replace(fall=None)
    return state


def broken(state: Steps) -> Steps:
    """The fan stopped, or something was not seen: what is believed stays so, what was watched cannot be told."""
    fall = state.fall
    return Steps(fall=fall if fall is not None and fall.stays else None)


def perhaps_mended(state: Steps, since_s: float, now_s: float) -> Steps:
    """The fan runs since ``since_s``, after a stop long enough for a repair: a fall before it is over."""
    over = state.fall is not None and state.fall.at_s < since_s and now_s - since_s >= MENDED_S
    return state._replace(fall=None) if over else state
