"""What holds an alarm back: suppression by design, and the alarms that explain another one."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan.settings import LinkAlarmPlan, Suppression
from monitor.site.building.suppression import farther_tags
from monitor.site.load import load
from monitor.words import Priority

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "fixtures" / "site" / "good"
FIRST = (GOOD / "first.yaml").read_text(encoding="utf-8")
FAN = "    fan_running: {tag: YS-101, link: mill-gateway, unit_id: 1, reference_number: 10001}\n"
CLEANING = "    cleaning_active: {tag: YS-102, link: mill-gateway, unit_id: 1, reference_number: 10002}\n"
BAND = "        priority: high\n"


def load_text(text: str, folder: Path, environ=None):
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path, environ or {})


def managed():
    return load(GOOD / "alarm_management.yaml", {})


def with_suppress(suppress: str, *points: str) -> str:
    return FIRST.replace("    bands:", "".join(points) + "    bands:").replace(
        BAND, f"{BAND}        suppress: {suppress}\n"
    )


def test_without_a_fan_nothing_is_suppressed(tmp_path):
    assert load_text(FIRST, tmp_path).collectors["DC-101"].suppression == {}


def test_with_a_fan_every_band_waits_for_it_high_and_low_alike():
    collector = managed().collectors["DC-101"]

    by_default = Suppression(fan_stopped=True, after_fan_start_s=60.0)
    assert collector.suppression["PDAH-101"] == collector.suppression["PDAH-102"] == by_default
    assert collector.suppression["PDAL-101"] == Suppression(fan_stopped=True, after_fan_start_s=0.0)


def test_a_band_may_be_judged_whatever_the_fan_does():
    assert "PDAHHH-101" not in managed().collectors["DC-101"].suppression


def test_suppression_comes_out_as_written():
    assert managed().collectors["DC-101"].suppression["PDAHH-101"] == Suppression(
        fan_stopped=False, after_fan_start_s=120.0, cleaning=True, longest_cleaning_s=600.0
    )


@pytest.mark.parametrize(
    ("suppress", "planned"),
    [
        ("{}", Suppression(fan_stopped=True, after_fan_start_s=60.0)),
        ("{fan_stopped: yes}", Suppression(fan_stopped=True, after_fan_start_s=60.0)),
        ("{fan_stopped: no}", None),
        ("{fan_stopped: no, after_fan_start: 0 s}", None),
        ("{fan_stopped: no, after_fan_start: 1 h}", Suppression(after_fan_start_s=3600.0)),
        ("{fan_stopped: no, cleaning: yes}", Suppression(cleaning=True, longest_cleaning_s=900.0)),
        ("{fan_stopped: no, longest_cleaning: 1 min}", None),
        ("{fan_stopped: no, farther_band_raised: no}", None),
    ],
)
def test_a_band_that_nothing_holds_back_has_no_entry(tmp_path, suppress, planned):
    plan = load_text(with_suppress(suppress, FAN, CLEANING), tmp_path)

    assert plan.collectors["DC-101"].suppression.get("PDAH-101") == planned


def test_no_hold_off_needs_no_fan(tmp_path):
    text = with_suppress("{fan_stopped: no, after_fan_start: 0 s, cleaning: no}")

    assert load_text(text, tmp_path).collectors["DC-101"].suppression == {}


def test_a_band_is_explained_by_a_bad_signal_and_by_the_bands_beyond_it():
    causes = {band.alarm.tag: band.alarm.causes for band in managed().collectors["DC-101"].bands}

    assert causes == {
        "PDAH-101": ("PDT-101-BAD", "PDAHH-101", "PDAHHH-101"),
        "PDAHH-101": ("PDT-101-BAD",),  # farther_band_raised: no
        "PDAHHH-101": ("PDT-101-BAD",),
        "PDAL-101": ("PDT-101-BAD",),
        "PDAH-102": ("PDT-101-BAD",),  # judges the residual DP
    }


def test_a_bad_signal_is_explained_by_its_lost_link():
    collectors = managed().collectors

    assert collectors["DC-101"].bad_signal.causes == ("MILL-LINK",)
    assert collectors["DC-102"].bad_signal.causes == ("horn-gateway-LOST",)


def test_low_bands_lie_further_out_the_lower_they_are(tmp_path):
    setpoints = {"PDAL": 2, "PDALL": 1, "PDALLL": 0.5}
    low = "".join(f"      {letters}-101: {{below: {at} inH2O}}\n" for letters, at in setpoints.items())
    bands = load_text(FIRST + low, tmp_path).collectors["DC-101"].bands

    assert bands[1].alarm.causes == ("PDT-101-BAD", "PDALL-101", "PDALLL-101")
    assert bands[2].alarm.causes == ("PDT-101-BAD", "PDALLL-101")


SOME_BANDS = st.lists(
    st.builds(
        Band,
        alarm=st.builds(
            AlarmSettings,
            tag=st.uuids().map(str),
            priority=st.just(Priority.HIGH),
            on_delay_s=st.just(0.0),
            off_delay_s=st.just(0.0),
            latching=st.just(False),
            auto_clear_s=st.none(),
        ),
        side=st.sampled_from(Side),
        setpoint_inh2o=st.sampled_from([1.0, 2.0, 3.0, 4.0]),
        deadband_inh2o=st.just(0.1),
        judged=st.sampled_from(Judged),
    ),
    max_size=8,
)


@given(bands=SOME_BANDS)
def test_no_two_bands_ever_hold_each_other_back(bands):
    under = {band.alarm.tag: farther_tags(band, bands) for band in bands}

    for tag, farther in under.items():
        assert tag not in farther
        assert all(tag not in under[other] for other in farther)


def test_every_link_that_is_read_has_an_alarm(tmp_path):
    text = FIRST.replace("links:\n", "links:\n  spare: {protocol: modbus-tcp, host: 192.0.2.9}\n")
    plan = load_text(text, tmp_path)

    assert plan.link_alarms == {
        "mill-gateway": LinkAlarmPlan(
            name="mill-gateway",
            alarm=AlarmSettings(
                tag="mill-gateway-LOST",
                priority=Priority.HIGH,
                on_delay_s=5.0,
                off_delay_s=5.0,
                latching=False,
                auto_clear_s=1800.0,
                counts_back=True,
            ),
            units=frozenset({1}),
        )
    }


def test_the_alarm_of_a_link_comes_out_as_written():
    found = managed().link_alarms["mill-gateway"]

    assert found.alarm == AlarmSettings(
        tag="MILL-LINK",
        priority=Priority.URGENT,
        on_delay_s=3.0,
        off_delay_s=8.0,
        latching=True,
        auto_clear_s=3600.0,
        counts_back=True,
    )
    assert found.units == {1, 2}


def test_a_lost_link_is_told_before_its_transmitters_by_default(tmp_path):
    plan = load_text(FIRST, tmp_path)

    lost, bad = plan.link_alarms["mill-gateway"].alarm, plan.collectors["DC-101"].bad_signal
    assert lost.on_delay_s < bad.on_delay_s
    assert plan.warnings == ()


def test_many_transmitters_that_come_first_are_not_all_named(tmp_path):
    one = FIRST[FIRST.index("  DC-101:") :]
    more = "".join(one.replace("101", str(n)).replace("address: 0", f"address: {n}") for n in range(102, 106))
    text = (FIRST + more).replace("    host: 127.0.0.1\n", "    host: 127.0.0.1\n    lost: {on_delay: 10 s}\n")

    assert "PDT-101-BAD, PDT-102-BAD, PDT-103-BAD and 2 more" in load_text(text, tmp_path).warnings[0]
