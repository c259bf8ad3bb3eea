"""The first check: every raised alarm ends with one, it fits, and the sentence stays short."""

from itertools import product

import pytest

from monitor.tell.wording import sentence
from monitor.tell.wording_checks import BANDS, LINK, SIGNAL, About, first_check
from monitor.words import Priority, Reason
from tests.tell.journal import event

BAND = {"condition": "band", "on_delay_s": 15.0, "auto_clear_s": 1800.0}
#: What the readings really say beside their reason.
DETAIL = {
    Reason.LOOP_FAILED_LOW: "3.5 mA: at or below 3.6 mA for 4 s (NE 43), wire broken or transmitter failed",
    Reason.LOOP_SATURATED: "20.479 mA: within 0.02 mA of the converter's end of 20.479 mA since it was there",
    Reason.FROZEN: "raw 4711 has not moved for 600 s and the fan is not known to be stopped",
    Reason.NO_CONNECTION: "cannot open 192.168.17.20:502: connection refused",
    Reason.OUT_OF_RANGE: "-12.345 inH2O: below the lowest valid -2 inH2O",
    Reason.NOT_A_NUMBER: "the registers hold nan, which gives no finite value",
}


def band_alarm(side, judged, **facts):
    return event(facts={**BAND, "side": side, "judged": judged, **facts})


def signal_alarm(reason):
    facts = {"condition": "bad_signal", "reason": reason.value, "detail": DETAIL.get(reason, "")}
    return event(tag="PDT-101-BAD", priority=Priority.MEDIUM, value=None, setpoint=None, facts=facts)


RAISED = {
    **{
        f"{side} {judged}": band_alarm(side, judged)
        for side, judged in product(("above", "below"), ("damped", "residual", "average"))
    },
    **{reason.value: signal_alarm(reason) for reason in Reason},
    "after a hold": band_alarm("above", "damped", after="out_of_service"),
    "link": event(collector=None, link="mill", facts={"condition": "link_lost", "detail": "not connected"}),
}


@pytest.mark.parametrize("raised", RAISED.values(), ids=RAISED)
def test_every_raised_alarm_ends_with_a_first_check(raised):
    before, check = sentence(raised).split("; check first: ")

    assert before.endswith("UTC")
    assert check == first_check(raised) != ""


@pytest.mark.parametrize("raised", RAISED.values(), ids=RAISED)
def test_a_raised_alarm_can_be_read_at_a_glance(raised):
    # 240 is the aim; the longest details a reading has may take one short word more.
    assert len(sentence(raised)) <= 260


@pytest.mark.parametrize(
    ("about", "named"),
    [
        (About("above", residual=False), ("compressed air", "cleaning", "hopper")),
        (About("below", residual=False), ("fan", "torn bag", "open DP tubes")),
        (About("above", residual=True), ("filters",)),
        (About("below", residual=True), ("torn bag", "cleaning too often")),
    ],
)
def test_a_band_is_checked_where_its_dp_comes_from(about, named):
    assert [words for words in named if words not in BANDS[about].look] == []


def test_where_somebody_would_open_a_cover_the_lock_out_stands_beside_it():
    opening = [check.look for check in BANDS.values() if "hopper" in check.look or "filters" in check.look]

    assert opening
    assert all("do not open without lock-out" in look for look in opening)


def test_every_reason_and_every_band_has_a_check_with_its_source():
    checks = [*BANDS.values(), *SIGNAL.values(), LINK]

    assert set(SIGNAL) == set(Reason)
    assert len(BANDS) == 4
    assert all(check.look and check.source for check in checks)
    assert all(len(check.look) <= 80 for check in checks)


def test_an_alarm_of_which_nothing_is_known_is_raised_without_a_check():
    assert "check" not in sentence(event(facts={}))
