"""Plant: several collectors, one scenario, one seed.

The plant is a function of plant time in fixed steps: whoever asks for the signals at a time gets the same
answer, however often anybody asked before.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.plant import collector as model
from monitor.plant.collector import CollectorSettings, CollectorState
from monitor.plant.noise import Noise
from monitor.plant.scenario import Conditions, Scenario
from monitor.plant.transmitter import DpSignal

#: The dust load takes a new direction this often, seconds.
_LOAD_TURNS_S = 180.0
#: Turbulence: standard deviation of the measured DP as a share of it. Invented, no source.
_TURBULENCE = 0.006
#: What the sensor itself adds, inH2O, with the fan stopped too. Invented, no source.
_SENSOR_INH2O = 0.002
#: How high a pulse shows on the clean side, inH2O, if the sample falls into it. Invented, no source.
_SPIKE_INH2O = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One collector as the network sees it: how it runs, its unit identifier, and how its DP reaches the wire."""

    collector: CollectorSettings
    unit_id: int
    dp: DpSignal


@dataclass(frozen=True, slots=True)
class Signals:
    """What the field instruments of one collector show at one instant."""

    dp_inh2o: float
    header_psig: float
    flow_cfm: float
    fan_running: bool
    cleaning_active: bool
    loop_broken: bool


class _Unit:
    """One collector on its way through time."""

    __slots__ = ("_conditions", "_noise", "_scenario", "_until_s", "device", "state")

    def __init__(self, device: Device, scenario: Scenario, seed: int) -> None:
        self.device = device
        self.state: CollectorState = model.begin(device.collector)
        self._noise = Noise(seed, device.collector.name)
        self._scenario = scenario
        self._conditions = Conditions()
        self._until_s = 0.0

    def step(self, number: int, dt_s: float) -> None:
        time_s = self.state.time_s
        if time_s >= self._until_s:
            name = self.device.collector.name
            self._conditions = self._scenario.conditions(name, time_s)
            self._until_s = self._scenario.next_change_s(name, time_s)
        deviate = self._noise.drifting(number, int(_LOAD_TURNS_S / dt_s))
        self.state = model.step(self.device.collector, self.state, self._conditions, dt_s, deviate)

    def signals(self, number: int, dt_s: float) -> Signals:
        state = self.state
        settings = self.device.collector
        spike = 0.0
        # A pulse lasts a tenth of a second; a sample meets it only by chance, and then it shows in full.
        if state.pulsed and self._noise.share(number) < settings.pulse_s / dt_s:
            spike = _SPIKE_INH2O * state.header_psig / settings.header_psig
        unrest = state.dp_inh2o * _TURBULENCE + _SENSOR_INH2O
        return Signals(
            dp_inh2o=state.dp_inh2o + unrest * self._noise.at(number) + spike,
            header_psig=state.header_psig,
            flow_cfm=state.flow_cfm,
            fan_running=self._conditions.fan_commanded,
            cleaning_active=state.cleaning,
            loop_broken=self._conditions.loop_broken,
        )


class Plant:
    """Steps its collectors up to any later time.

    Args:
        dt_s: the fixed step, above 0; 1 s is fine enough for pulses ten seconds apart.
    """

    def __init__(self, devices: Sequence[Device], scenario: Scenario, seed: int = 1, dt_s: float = 1.0) -> None:
        self.devices = tuple(devices)
        self.scenario = scenario
        self.dt_s = dt_s
        self._steps = 0
        self._units: Mapping[str, _Unit] = {one.collector.name: _Unit(one, scenario, seed) for one in devices}

    def advance_to(self, time_s: float) -> None:
        """Step on to the last whole step not after that plant time; a time already passed changes nothing."""
        wanted = int(time_s / self.dt_s)
        for unit in self._units.values():
            for number in range(self._steps, wanted):
                unit.step(number, self.dt_s)
        self._steps = max(self._steps, wanted)

    def signals(self, collector: str) -> Signals:
        """Return what that collector's instruments show now; KeyError for a name the plant does not have."""
        return self._units[collector].signals(self._steps, self.dt_s)

    def state(self, collector: str) -> CollectorState:
        """Return the truth behind the instruments; KeyError for a name the plant does not have."""
        return self._units[collector].state
