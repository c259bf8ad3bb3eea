"""Demo plant: the invented "Alder Mill", three collectors, and two hours in which a lot goes wrong.

At sixty times speed one plant minute is one second, so two real minutes show all of it; then it begins anew.
``demo_site.yaml`` beside this file watches exactly this plant.
"""

from monitor.condition.registers import Encoding, Order, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.plant.collector import CollectorSettings
from monitor.plant.plant import Device, Plant
from monitor.plant.scenario import Fault, Happening, Scenario
from monitor.plant.transmitter import DpSignal

SITE_NAME = "Alder Mill"

SCENARIO = Scenario(
    repeat_min=120.0,
    happenings=(
        # Long enough for the DP to climb from its sawtooth through 7 inH2O; cleaning brings it back afterwards.
        Happening("DC-101", Fault.AIR_SUPPLY_LOST, 18.0, 39.0),
        Happening("DC-102", Fault.LOOP_BROKEN, 48.0, 54.0),
        Happening("DC-103", Fault.FAN_STOPPED, 72.0, 80.0),
        Happening("DC-102", Fault.BAGS_TORN, 90.0, 102.0),
    ),
)

#: Pascals in a kilopascal over pascals in a conventional inch of water (NIST SP 811 App. B.8).
_INH2O_IN_KPA = 1000.0 / 249.08891

_PLANER = CollectorSettings(
    name="DC-101",
    cloth_ft2=4000.0,
    rows=8,
    flow_cfm=20_500.0,
    droop_cfm_inh2o=120.0,
    load_gr_ft3=3.3,
    load_swing=0.15,
    blinding_per_h=0.002,
)
_SANDER = CollectorSettings(
    name="DC-102",
    cloth_ft2=2400.0,
    rows=6,
    flow_cfm=14_800.0,
    droop_cfm_inh2o=100.0,
    load_gr_ft3=1.9,
    load_swing=0.2,
    start_inh2o=4.8,
    stop_inh2o=3.8,
    first_dp_inh2o=4.0,
    header_psig=85.0,
    torn_share=0.1,
    blinding_per_h=0.002,
)
_HOG = CollectorSettings(
    name="DC-103",
    cloth_ft2=6000.0,
    rows=10,
    flow_cfm=28_000.0,
    droop_cfm_inh2o=150.0,
    load_gr_ft3=4.5,
    load_swing=0.2,
    start_inh2o=4.5,
    stop_inh2o=3.5,
    first_dp_inh2o=3.6,
    blinding_per_h=0.002,
)

# Three ways in which a DP comes over Modbus: a converter that ends at 20 mA, one that shows NE 43 failure
# currents, and a device that computes for itself.
DEVICES = (
    Device(
        collector=_PLANER,
        unit_id=1,
        dp=DpSignal(
            format=RegisterFormat(Encoding.UINT16),
            scaling=LoopScaling(819.0, 4095.0, 0.0, 10.0, full_scale_counts=4095.0),
        ),
    ),
    Device(
        collector=_SANDER,
        unit_id=2,
        dp=DpSignal(
            format=RegisterFormat(Encoding.INT16),
            scaling=LoopScaling(0.0, 27648.0, 0.0, 10.0),
            lowest_counts=-4864,
        ),
    ),
    Device(
        collector=_HOG,
        unit_id=3,
        dp=DpSignal(
            format=RegisterFormat(Encoding.FLOAT32, word_order=Order.LOW_FIRST),
            scaling=LinearScaling(to_inside=_INH2O_IN_KPA),
        ),
    ),
)


def demo_plant(seed: int = 1) -> Plant:
    """Return the Alder Mill at plant time 0; the same seed gives the same day."""
    return Plant(DEVICES, SCENARIO, seed)
