"""An empty header is told though nothing is usual yet: the demonstration's planer line loses its air."""

from monitor.interpret import curve
from monitor.interpret.causes.ranking import About, suspect
from monitor.interpret.digest import Sample
from monitor.interpret.settings import CleaningSettings, CurveSettings
from monitor.plant.demo_plant import demo_plant
from monitor.troubles import Sign, Trouble

SETTINGS = CurveSettings(cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8))
LOST_MIN, HIGH_MIN = 18, 35  # the air is lost; the plain high band at 7 inH2O calls


def story(minutes, every_s=4):
    plant, state = demo_plant(), curve.BEGIN
    for second in range(0, minutes * 60, every_s):
        plant.advance_to(second)
        seen = plant.signals("DC-101")
        sample = Sample(
            at_s=float(second),
            utc_s=1e9 + second,
            dp_inh2o=seen.dp_inh2o,
            header_psi=seen.header_psig,
            fan=seen.fan_running,
            cleaning=seen.cleaning_active,
        )
        state = curve.advance(SETTINGS, state, sample)
        yield second / 60, state


def test_it_warns_well_before_the_plain_band():
    warned = next(minute for minute, state in story(HIGH_MIN) if state.signs)

    assert LOST_MIN < warned < LOST_MIN + 7
    *_, (_, state) = story(HIGH_MIN)
    assert [sign for sign, _ in state.signs] == [Sign.HEADER_NOT_RECOVERING]


def test_the_high_alarm_names_it_first():
    *_, (_, state) = story(HIGH_MIN)
    first = suspect(curve.symptoms(state), About.HIGH)[0]

    assert first.trouble is Trouble.HEADER_PRESSURE_LOST
    assert first.share > 0.6


def test_nothing_is_said_before_the_air_is_lost():
    assert all(not state.signs for _, state in story(LOST_MIN))
