"""When the horn sounds, when the beacon lights, and when the heartbeat stands still."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.annunciator import BEACON, HORN, TEST_S, Annunciator, Heartbeat
from monitor.words import AlarmState, Priority

S, P = AlarmState, Priority
UNANSWERED = {S.UNACKNOWLEDGED, S.RETURNED_UNACKNOWLEDGED, S.LATCHED_UNACKNOWLEDGED}
ACTIVE = {S.UNACKNOWLEDGED, S.ACKNOWLEDGED}
QUIET = [S.NORMAL, S.LATCHED_ACKNOWLEDGED, S.SHELVED, S.SUPPRESSED_BY_DESIGN, S.OUT_OF_SERVICE]
TAG, OTHER = "PDAH-101", "PDAHH-102"


def watching(*alarms, least=P.HIGH):
    annunciator = Annunciator(least)
    for tag, state in alarms:
        annunciator.see(tag, state, P.HIGH)
    return annunciator


def horn(annunciator, now_s=0.0):
    return annunciator.outputs(now_s)[HORN]


def beacon(annunciator, now_s=0.0):
    return annunciator.outputs(now_s)[BEACON]


def raised(tag=TAG):
    return watching((tag, S.NORMAL), (tag, S.UNACKNOWLEDGED))


def test_a_quiet_plant_is_quiet():
    assert watching((TAG, S.NORMAL)).outputs(0.0) == {HORN: False, BEACON: False}


def test_a_new_alarm_sounds_and_lights():
    assert raised().outputs(0.0) == {HORN: True, BEACON: True}


@pytest.mark.parametrize("state", [S.RETURNED_UNACKNOWLEDGED, S.LATCHED_UNACKNOWLEDGED])
def test_it_sounds_on_while_nobody_answers_though_the_process_is_back(state):
    annunciator = raised()
    annunciator.see(TAG, state, P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: True, BEACON: True}


def test_acknowledging_ends_the_noise_and_not_the_light():
    annunciator = raised()
    annunciator.see(TAG, S.ACKNOWLEDGED, P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: True}


@pytest.mark.parametrize("state", QUIET)
def test_what_is_answered_or_held_neither_sounds_nor_lights(state):
    annunciator = raised()
    annunciator.see(TAG, state, P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: False}


def test_silence_ends_the_noise_and_nothing_else():
    annunciator = raised()
    annunciator.silence()
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: True}
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.HIGH)  # told again: no news
    annunciator.see(TAG, S.RETURNED_UNACKNOWLEDGED, P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: True}


@pytest.mark.parametrize("tag", [TAG, OTHER])
def test_after_silence_a_new_alarm_sounds_again(tag):
    annunciator = raised()
    annunciator.silence()
    annunciator.see(TAG, S.RETURNED_UNACKNOWLEDGED, P.HIGH)
    annunciator.see(tag, S.UNACKNOWLEDGED, P.HIGH)
    assert horn(annunciator)


@pytest.mark.parametrize("state", [S.SHELVED, S.SUPPRESSED_BY_DESIGN, S.OUT_OF_SERVICE, S.ACKNOWLEDGED])
def test_what_comes_back_unacknowledged_sounds_again(state):
    annunciator = raised()
    annunciator.see(TAG, state, P.HIGH)
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.HIGH)
    assert horn(annunciator)


def test_one_answered_of_two_still_sounds():
    annunciator = watching((TAG, S.NORMAL), (OTHER, S.NORMAL), (TAG, S.UNACKNOWLEDGED), (OTHER, S.UNACKNOWLEDGED))
    annunciator.see(TAG, S.ACKNOWLEDGED, P.HIGH)
    assert horn(annunciator)
    annunciator.see(OTHER, S.ACKNOWLEDGED, P.HIGH)
    assert not horn(annunciator)


def test_after_silence_the_answer_to_the_new_alarm_ends_the_noise_though_the_old_one_stands():
    annunciator = raised()
    annunciator.silence()
    annunciator.see(OTHER, S.UNACKNOWLEDGED, P.HIGH)
    annunciator.see(OTHER, S.ACKNOWLEDGED, P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: True}


@pytest.mark.parametrize("state", list(S))
def test_after_a_restart_every_unanswered_alarm_sounds_again(state):
    annunciator = watching((TAG, state))
    assert horn(annunciator) is (state in UNANSWERED)
    assert beacon(annunciator) is (state in ACTIVE | UNANSWERED)


def test_below_the_least_priority_nothing_sounds_or_lights():
    annunciator = Annunciator(P.MEDIUM)
    for i, priority in enumerate(P):
        annunciator.see(TAG, S.NORMAL, priority)
        annunciator.see(TAG, S.UNACKNOWLEDGED, priority)
        assert annunciator.outputs(0.0) == dict.fromkeys((HORN, BEACON), priority.rank >= P.MEDIUM.rank)
        annunciator.forget([TAG])
        assert i == priority.rank


def test_a_changed_least_priority_counts_at_once_and_wakes_nobody_twice():
    annunciator = Annunciator(P.LOW)
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.HIGH)
    annunciator.see(OTHER, S.UNACKNOWLEDGED, P.MEDIUM)
    annunciator.silence()
    annunciator.count_from(P.URGENT)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: False}
    annunciator.count_from(P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: True, BEACON: True}
    annunciator.silence()
    annunciator.count_from(P.HIGH)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: True}


def test_a_raised_priority_sounds_if_it_did_not_count_before():
    annunciator = Annunciator(P.HIGH)
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.LOW)
    assert not horn(annunciator)
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.URGENT)
    assert horn(annunciator)
    annunciator.see(TAG, S.UNACKNOWLEDGED, P.LOW)
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: False}


def test_a_forgotten_alarm_neither_sounds_nor_lights():
    annunciator = raised()
    annunciator.forget([TAG, "never seen"])
    assert annunciator.outputs(0.0) == {HORN: False, BEACON: False}


def test_a_test_sounds_and_lights_for_ten_seconds():
    annunciator = watching((TAG, S.NORMAL))
    annunciator.test(100.0)
    assert annunciator.outputs(100.0) == annunciator.outputs(100.0 + TEST_S - 0.01) == {HORN: True, BEACON: True}
    assert annunciator.outputs(110.0) == {HORN: False, BEACON: False}
    annunciator.test(200.0)
    annunciator.silence()
    assert annunciator.outputs(201.0) == {HORN: False, BEACON: True}


steps = st.one_of(
    st.tuples(st.just("see"), st.sampled_from("abc"), st.sampled_from(list(S)), st.sampled_from(list(P))),
    st.just(("silence",)),
    st.tuples(st.just("forget"), st.sampled_from("abc")),
    st.tuples(st.just("least"), st.sampled_from(list(P))),
)


@given(st.lists(steps, max_size=30))
def test_the_light_is_a_matter_of_states_alone_and_no_horn_sounds_without_an_unanswered_alarm(story):
    annunciator, least, alarms, silenced = Annunciator(P.HIGH), P.HIGH, {}, False
    for what, *rest in story:
        if what == "see":
            annunciator.see(*rest)
            alarms[rest[0]] = tuple(rest[1:])
        elif what == "silence":
            annunciator.silence()
        elif what == "forget":
            annunciator.forget(rest)
            alarms.pop(rest[0], None)
        else:
            least = rest[0]
            annunciator.count_from(least)
        silenced = what == "silence" or (silenced and what == "forget")
        states = {state for state, priority in alarms.values() if priority.rank >= least.rank}
        assert beacon(annunciator) == bool(states & (ACTIVE | UNANSWERED))
        assert not horn(annunciator) or states & UNANSWERED
        assert not (silenced and horn(annunciator))


@given(st.lists(st.tuples(st.floats(0.0, 20.0), st.booleans()), max_size=50))
def test_the_heartbeat_moves_once_a_period_while_all_moves_and_never_else(looks):
    heartbeat, now_s, moved_s, count = Heartbeat(), 0.0, None, 0
    for later_s, is_moving in looks:
        now_s += later_s
        seen = heartbeat.beat(now_s, 5.0, is_moving=is_moving)
        due = is_moving and (moved_s is None or now_s >= moved_s + 5.0)
        assert seen == count + due
        count, moved_s = seen, now_s if due else moved_s


def test_the_heartbeat_fits_into_a_register_for_ever():
    heartbeat = Heartbeat()
    counts = [heartbeat.beat(float(i), 1.0, is_moving=True) for i in range(0x10000 + 2)]
    assert (min(counts), max(counts), counts[-3:]) == (0, 0xFFFF, [0, 1, 2])
