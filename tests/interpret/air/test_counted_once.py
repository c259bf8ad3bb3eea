"""Every pulse is counted once, with the cleaning signal, with the header's dips and with the DP alone.

The simulated plant says how many pulses it fired; the chain that runs live says how many it counted.
"""

from dataclasses import replace

import pytest

from monitor.interpret import curve
from monitor.interpret.settings import CurveSettings
from tests.scenarios.loading import load
from tests.scenarios.playing import played

BARE = {"header_psi": None, "flow_cfm": None, "cleaning": None}


@pytest.mark.parametrize("without", [(), ("header",), ("cleaning",), ("header", "cleaning")], ids=str)
def test_pulses_are_those_that_were_fired(without):
    trial = replace(load("healthy_on_demand", seed=4), duration_s=12 * 3600.0, every_s=1)
    signal = replace(trial.build.signal, **dict.fromkeys(without, False))
    trial = replace(trial, build=replace(trial.build, signal=signal))
    state, fired = curve.BEGIN, 0
    settings = CurveSettings(cleaning=trial.cleaning_settings)
    for one in played(trial):
        state = curve.take(settings, state, one.digest)
        fired = one.last.truth.pulses

    # Without a count they are estimated from the pulse interval: one in five at most is off.
    assert state.air.all_pulses == pytest.approx(fired, rel=0.05 if "header" not in without else 0.2)
