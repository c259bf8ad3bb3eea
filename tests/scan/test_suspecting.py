"""What may be behind an alarm, asked of the whole plant: neighbours count; asked of what was raised alone."""

from dataclasses import replace

import pytest

from monitor.interpret.settings import CurveSettings
from monitor.judge.settings import Side
from monitor.scan import suspecting
from monitor.scan.suspecting import shown, suspicions
from monitor.troubles import Clue, Sign
from monitor.words import CommandKind, Reason
from tests.rig.sawtooth import Sawtooth
from tests.scan.asking import Shift, link_alarm
from tests.scan.plans import alarm, band, plan, shown_scan
from tests.scan.test_curve import HEADER_TAG, watched

GATEWAY, OTHER = "mill-gateway", "kiln-gateway"


def on(link, number, **changes):
    """A collector on that link whose curve is read."""
    bands = (band(f"PDAH-{number}", Side.ABOVE, 7.0, on_delay_s=0.0),)
    one = plan(f"DC-{number}", number, bands=bands)
    return replace(one, link=link, curve=CurveSettings(), **changes)


def three():
    """Two neighbours, and one on another link; all of them read as good."""
    shift = Shift(on(GATEWAY, "101"), on(GATEWAY, "102"), on(OTHER, "103"))
    for name in ("DC-101", "DC-102", "DC-103"):
        shift.dp([1], 4.5, name)
    return shift


def seen(shift, name="DC-101"):
    found = shown(shift.plan, shift.state, name)
    return found.others, found.others_alike


def still(shift, *names):
    """The signal of these stands still, as read from their curves."""
    signs = ((Sign.SIGNAL_STILL, Clue("repeats", 400.0, 5.0, "s")),)
    collectors = dict(shift.state.collectors)
    for name in names:
        collectors[name] = replace(collectors[name], curve=collectors[name].curve._replace(signs=signs))
    shift.state = replace(shift.state, collectors=collectors)
    return shift


# ---------------------------------------------------------------- neighbours


def test_only_those_on_the_same_link_are_neighbours():
    shift = three()

    assert (seen(shift), seen(shift, "DC-103")) == ((1, 0), (0, 0))


@pytest.mark.parametrize(
    ("bad", "alike"),
    [
        (("DC-101", "DC-102"), 1),
        (("DC-101",), 0),  # the neighbour is sound
        (("DC-102",), 0),  # this one is sound: nobody is like it
        (("DC-101", "DC-103"), 0),  # on another link
        (("DC-101", "DC-102", "DC-103"), 1),
    ],
)
def test_neighbours_are_alike_where_both_are_bad(bad, alike):
    shift = three()
    for name in bad:
        shift.dp([2], Reason.NO_ANSWER, name)

    assert seen(shift) == (1, alike)


def test_neighbours_are_alike_where_both_stand_still_or_one_is_bad_and_one_still():
    assert seen(still(three(), "DC-101", "DC-102")) == (1, 1)
    shift = still(three(), "DC-101")
    shift.dp([2], Reason.NO_ANSWER, "DC-102")
    assert seen(shift) == (1, 1)


def test_a_neighbour_that_was_never_read_is_not_alike():
    """After a start the first ones are read before the others; that says nothing of the gateway."""
    shift = Shift(on(GATEWAY, "101"), on(GATEWAY, "102"))
    shift.dp([1], Reason.NO_ANSWER, "DC-101")

    assert seen(shift) == (1, 0)


def test_a_neighbour_whose_curve_is_not_read_counts_by_its_signal():
    shift = Shift(on(GATEWAY, "101"), replace(on(GATEWAY, "102"), curve=None))
    for name in ("DC-101", "DC-102"):
        shift.dp([1], Reason.NO_ANSWER, name)

    assert seen(shift) == (1, 1)


def test_what_shows_says_why_the_reading_is_bad_and_takes_the_residual_of_the_window_where_no_cycle_was_seen():
    shift = Shift(on(GATEWAY, "101"))
    for second in range(1, 70):
        shift.dp([second], 4.5)
    assert shown(shift.plan, shift.state, "DC-101").residual_inh2o == 4.5

    shift.dp([70], Reason.LOOP_FAILED_LOW)
    assert shown(shift.plan, shift.state, "DC-101").reason is not Reason.NONE


def test_a_gateway_that_repeats_both_is_thought_of_sooner_than_one_that_repeats_one():
    own = {Sign.SIGNAL_STILL: alarm("PDT-101-STILL")}
    both, one = (Shift(on(GATEWAY, "101", warnings=own), on(GATEWAY, "102")) for _ in range(2))
    for shift in (both, one):
        for name in ("DC-101", "DC-102"):
            shift.dp(range(1, 700), 4.5, name)  # exactly the same for ten minutes
    one.dp(range(700, 720), 4.7, "DC-102")
    still(both, "DC-101", "DC-102")
    still(one, "DC-101")
    shares = [
        {
            found.trouble.value: found.share
            for found in suspicions(each.plan, each.state, "DC-101", "PDT-101-STILL")
        }
        for each in (both, one)
    ]

    assert shares[0].get("gateway_frozen", 0.0) > shares[1].get("gateway_frozen", 0.0)


# ---------------------------------------------------------------- which events are asked about


def lost_header(collector=None):
    """The header pressure is lost while the curve is read, until both alarms have been raised."""
    own = collector or watched(Sign.HEADER_NOT_RECOVERING, on_delay_s=0.0)
    high = band("PDAH-101", Side.ABOVE, 5.5, on_delay_s=0.0, off_delay_s=0.0)
    plant, shift = Sawtooth(), Shift(replace(own, bands=(high,)))
    for second in range(1, 6000):
        if second == 5000:
            plant.supply_psi = 0.0
        shows = plant.step()
        shift.take(second, shown_scan(second, shows.dp_inh2o, shows.header_psi, shows.fan, shows.cleaning))
    return shift


def test_every_alarm_that_is_raised_says_what_may_be_behind_it_and_no_other_event_does():
    shift = lost_header()
    shift.ask(6000, CommandKind.ACKNOWLEDGE, "PDAH-101")
    shift.ask(6001, CommandKind.TEST, "PDAH-101")
    shift.ask(6002, CommandKind.SHELVE, HEADER_TAG, reason="fitter called", for_s=60.0)
    shift.dp(range(6003, 6007), 4.0)  # back to normal: latched
    told = {(one.tag, one.happened): one.suspicions for one in shift.events}

    assert {key for key, found in told.items() if found} == {("PDAH-101", "raised"), (HEADER_TAG, "raised")}
    assert {key[1] for key in told} >= {"raised", "acknowledged", "tested", "shelved", "latched"}
    for key in (("PDAH-101", "raised"), (HEADER_TAG, "raised")):
        first = told[key][0]
        assert first.trouble.value == "header_pressure_lost"
        assert first.clues
        assert sum(one.share for one in told[key]) <= 1.0 + 1e-9


@pytest.fixture
def asked(monkeypatch):
    """What the ranking was asked: the symptoms, and about what."""
    asked, real = [], suspecting.suspect
    monkeypatch.setattr(suspecting, "suspect", lambda *about: asked.append(about) or real(*about))
    return asked


def test_suspicions_are_those_of_the_moment_after_the_turn_that_raised_it(asked):
    shift = Shift(on(GATEWAY, "101")).dp([1], 4.5).dp([2], Reason.NO_ANSWER).ticks([3]).dp([4], 7.5)

    ((found, *_),) = asked
    assert found.reason is Reason.NONE  # of the reading that raised it, not of the lost one before
    assert shift.story("PDAH-101") == [(4, "raised")]


def test_a_plan_without_curve_suspects_nothing_and_asks_nobody():
    shift = Shift(plan(bands=(band("PDAH-101", Side.ABOVE, 7.0, on_delay_s=0.0),)))
    shift.dp([1, 2, 3], 7.5)

    assert [(one.happened, one.suspicions) for one in shift.events] == [("raised", ())]
    assert suspicions(shift.plan, shift.state, "DC-101", "PDAH-101") == ()


def test_the_alarm_of_a_link_has_no_suspicions_of_its_own():
    """It is its own explanation; and there is no collector whose curve could be asked."""
    own = on(GATEWAY, "101")
    shift = Shift(own, links=(link_alarm(on_delay_s=1.0),))
    shift.dp([1], 4.5).link(2, connected=False).ticks(range(3, 6))

    assert [(one.tag, one.suspicions) for one in shift.events if one.happened == "raised"] == [
        ("mill-gateway-LOST", ())
    ]


def test_a_band_is_asked_about_by_its_side_and_a_warning_by_its_sign(asked):
    own = replace(
        on(GATEWAY, "101"),
        bands=(
            band("PDAH-101", Side.ABOVE, 7.0, on_delay_s=0.0),
            band("PDAL-101", Side.BELOW, 2.0, on_delay_s=0.0, latching=False),
        ),
        warnings={Sign.SIGNAL_STILL: alarm("PDT-101-STILL", on_delay_s=0.0)},
    )
    shift = Shift(own).dp([1], 7.5).dp([2], 1.5)
    still(shift, "DC-101").dp([3], 4.5).dp(range(4, 10), Reason.NO_ANSWER)

    assert [(about.value, sign) for _, about, sign in asked] == [
        ("high", None), ("low", None), ("warning", Sign.SIGNAL_STILL), ("bad_signal", None)
    ]  # fmt: skip
