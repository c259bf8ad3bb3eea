"""What was read from a curve, as text and back: over restarts, upgrades and ways back, and after a time unseen."""

import copy
import functools
import itertools
import json
import logging
import math
import os
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from monitor.daemon.core import Core
from monitor.daemon.curve_keeping import AT_ONCE, EVERY_S, CurveKeeping, begun
from monitor.daemon.curve_resuming import resumed, scattered
from monitor.daemon.snapshot_curve import curve_key, read_curve, write_curve
from monitor.interpret import curve
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest, Sample
from monitor.interpret.settings import CleaningSettings, CurveSettings, FilterSettings
from monitor.scan import judging
from monitor.scan.settings import PlantPlan
from monitor.troubles import Clue, Sign
from monitor.words import Instant
from tests.rig.sawtooth import Sawtooth
from tests.scan.plans import UTC, at, plan
from tests.scenarios import loading
from tests.scenarios.playing import digests

IS_LONG = bool(os.environ.get("CAKEWATCH_LONG"))
SEED = 11
SEVEN_H = 7 * 3600
#: Of a set of filters; a forecast of a long one takes milliseconds, and there are four a day.
LIFE_D = 300 if IS_LONG else 60
READ = CurveSettings(
    cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8),
    filters=FilterSettings(change_out_inh2o=6.0),
)
_DRAWN = random.Random(SEED).sample([file.stem for file in loading.files()], 4)


def read_over(some: Iterator[Digest]) -> Iterator[curve.CurveState]:
    """Every state on the way."""
    state = curve.BEGIN
    for digest in some:
        state = curve.take(READ, state, digest)
        yield state


def as_read(state):
    """The state but for when its next forecast is made, which is spread over the collectors."""
    return state._replace(outlook_utc_s=curve.BEGIN.outlook_utc_s)


def sawtooth(seconds, plant, state=curve.BEGIN, from_s=0, utc_s=UTC, **seen):
    """Read so many more seconds of the plant; ``seen`` leaves out what is not measured."""
    for second in range(from_s + 1, from_s + seconds + 1):
        shows = plant.step()
        header = shows.header_psi if seen.get("header", True) else None
        cleaning = shows.cleaning if seen.get("signal", True) else None
        fan = True if seen.get("signal", True) else None
        state = curve.advance(
            READ, state, Sample(second, utc_s + second, shows.dp_inh2o, header, None, fan, cleaning)
        )
    return state


def two_lives():
    """Half-hourly parcels of two sets of filters: the residual DP rises, and one day begins low again."""
    for place in range(2 * LIFE_D * 48):
        day = place / 48.0 % LIFE_D
        dp = 3.0 + 0.008 * day + 0.4 * (place % 4) / 4.0
        at_s = 1800.0 * place
        fan = not (day < 0.5 and place > 100)
        yield Digest(at_s, at_s + 5.0, UTC + at_s, 5, 0, dp, dp - 0.02, dp + 0.02, dp, 1e-4, 0, fan=fan)


@functools.cache
def after_seven_hours(**seen):
    """What was read, and the plant that it was read from."""
    plant = Sawtooth(rise_inh2o_min=0.07)
    return sawtooth(SEVEN_H, plant, **seen), plant


@pytest.fixture
def learnt():
    return after_seven_hours()


# ---------------------------------------------------------------- there and back


@pytest.mark.parametrize("name", [pytest.param(one.stem, marks=pytest.mark.long) for one in loading.files()]
                         if IS_LONG else _DRAWN)  # fmt: skip
def test_what_is_read_of_any_scenario_comes_back_as_it_was(name):
    trial = loading.load(name, SEED)
    whole = trial if IS_LONG else replace(trial, duration_s=min(trial.duration_s, 2 * 3600.0))
    count = 0
    for count, state in enumerate(read_over(digests(whole)), start=1):
        if count % 97 == 0:
            assert read_curve(write_curve(state)) == state
    assert count > 97


def test_what_is_known_of_two_sets_of_filters_comes_back_and_stays_small():
    state = curve.BEGIN
    for digest in two_lives():
        state = curve.take(READ, state, digest)
        if digest.begin_s == LIFE_D * 86400.0:
            state = curve.filters_changed(READ, state, digest.end_utc_s, digest.end_utc_s)
    text = write_curve(state)

    assert len(state.ageing.days) > 50
    assert len(state.ageing.lives) == 1
    assert read_curve(text) == state
    assert len(text) < 64_000, len(text)


def test_reading_goes_on_from_the_text_as_from_the_state(learnt):
    state, plant = learnt
    went_on = sawtooth(2000, copy.deepcopy(plant), state, SEVEN_H)
    taken_up = sawtooth(2000, copy.deepcopy(plant), read_curve(write_curve(state)), SEVEN_H)

    assert went_on == taken_up
    assert went_on.cycles > state.cycles


# ---------------------------------------------------------------- other versions


def named_places(value, path=()):
    """The paths of everything that has fields by name."""
    if isinstance(value, dict):
        yield path
        for key, own in value.items():
            yield from named_places(own, (*path, key))


def rows(value, path=()):
    """The paths of everything that has rows by place."""
    if isinstance(value, dict):
        for key, own in value.items():
            yield from rows(own, (*path, key))
    elif isinstance(value, list) and value and isinstance(value[0], list):
        yield path


def found(value, path):
    for key in path:
        value = value[key]
    return value


def test_fields_that_a_later_version_added_are_passed_over(learnt):
    state, _ = learnt
    told = json.loads(write_curve(state))
    for path in list(named_places(told)):
        found(told, path)["of_a_later_version"] = {"a": [1, [2]]}
    for path in list(rows(told)):
        for row in found(told, path):
            row.append("of a later version")

    assert len(list(rows(told))) >= 2
    assert read_curve(json.dumps(told)) == state


def test_fields_that_an_earlier_version_did_not_have_begin_at_their_default(learnt, caplog):
    """Each one by itself; those of a cycle and the like that always were there are not asked for."""
    state, _ = learnt
    text = write_curve(state)
    for path in named_places(json.loads(text)):
        kept = found_state(state, path)
        for key in [name for name in type(kept)._fields if name in type(kept)._field_defaults]:
            told = json.loads(text)
            del found(told, path)[key]
            read = read_curve(json.dumps(told))
            default = type(kept)._field_defaults[key]
            assert getattr(found_state(read, path), key) == default, (path, key)
    assert caplog.records == []


def found_state(state, path):
    for key in path:
        state = getattr(state, key)
    return state


@pytest.mark.parametrize("part", ["tracker", "looking", "gathering", "outlook", "cycles", "signs"])
def test_one_part_that_cannot_be_understood_leaves_the_age_of_the_filters_alone(learnt, caplog, part):
    state, _ = learnt
    told = json.loads(write_curve(state))
    told[part] = {"samples": 7, "outlook": 7, "last": 7, "running": 7} if isinstance(told[part], dict) else "x"
    read = read_curve(json.dumps(told), "DC-101")

    assert read == state._replace(**{part: getattr(curve.BEGIN, part)})
    (said,) = caplog.messages
    assert "collector=DC-101" in said
    assert f"part={part}" in said
    assert "\n" not in said


@pytest.mark.parametrize(
    "text", ["", "null", "[]", "{}", "nan", '"a"', "7", '{"cycles": "x"}', '{"tracker": 3}', '{"other": {}}']
)
def test_garbage_is_a_value_error(text):
    with pytest.raises(ValueError, match=r".+"):
        read_curve(text)


def test_a_row_without_its_last_place_needs_a_default_there():
    """The rule for whoever adds one: at the end, with a default. A cycle has had its first six always."""
    required = [name for name in Cycle._fields if name not in Cycle._field_defaults]

    assert required == ["begin_s", "begin_utc_s", "end_s", "end_utc_s", "peak_inh2o", "residual_inh2o"]
    assert list(Cycle._fields[: len(required)]) == required


# ---------------------------------------------------------------- the daemon takes it up


class Shelf:
    """A store that remembers texts."""

    def __init__(self, texts):
        self.snapshots = texts
        self.kept = {}

    def remember(self, texts, scan_s):
        self.kept |= texts


def core_with(text, now):
    own = replace(plan(), curve=READ)
    core = Core(Shelf({curve_key("DC-101"): text} if text is not None else {}), now, lambda names: None)
    core.restore(PlantPlan(collectors={"DC-101": own}), now)
    return core.states["DC-101"].curve, core


def test_a_curve_that_is_garbage_begins_anew_and_the_log_says_so(caplog):
    with caplog.at_level(logging.ERROR):
        read, _ = core_with('{"tracker": ', at(5))

    assert as_read(read) == curve.BEGIN
    assert any("curve/DC-101" in said for said in caplog.messages)


def test_a_core_that_is_built_anew_goes_on_where_the_text_ends(learnt):
    state, _ = learnt
    last = state.gathering.samples[-1]
    read, core = core_with(write_curve(state), Instant(last.at_s, last.utc_s + 3.0))
    core.keep_everything(Instant(last.at_s, last.utc_s))

    assert as_read(read) == as_read(state)
    assert as_read(read_curve(core._store.kept[curve_key("DC-101")])) == as_read(state)


def test_a_text_that_nobody_wrote_is_no_trouble(caplog):
    assert as_read(core_with(None, at(5))[0]) == curve.BEGIN
    assert caplog.messages == []


# ---------------------------------------------------------------- after a time unseen


@pytest.mark.parametrize("seen", [{}, {"signal": False}, {"signal": False, "header": False}])
@pytest.mark.parametrize("away_s", [5 * 3600.0, 20 * 60.0, -3600.0])
def test_over_a_time_unseen_no_cycle_and_no_warning_is_made_up(seen, away_s):
    """It ends at the top of the sawtooth and goes on at its foot; the scan clock has stood still between."""
    state, plant = after_seven_hours(**seen)
    plant, scan_s = copy.deepcopy(plant), SEVEN_H
    while plant.shows.dp_inh2o < 4.9:
        state, scan_s = sawtooth(1, plant, state, scan_s, **seen), scan_s + 1
    while plant.shows.dp_inh2o > 4.1 or plant.shows.cleaning:
        plant.step()
    before, true = state.cycles, plant.cycles
    read = resumed(read_curve(write_curve(state)), Instant(scan_s, UTC + scan_s + away_s))
    told = []
    for _ in range(60):
        read = sawtooth(60, plant, read, scan_s, UTC + away_s, **seen)
        scan_s += 60
        told += [sign for sign, _ in read.signs]

    assert told == []
    assert plant.cycles - true >= 3
    assert read.cycles - before in {plant.cycles - true, plant.cycles - true - 1}  # the newest may not be told yet
    assert read.tracker.last.peak_inh2o == pytest.approx(5.0, abs=0.06)


def test_a_start_at_once_leaves_everything_as_it_was(learnt):
    state, _ = learnt
    last = state.gathering.samples[-1]

    assert resumed(state, Instant(last.at_s, last.utc_s + 10.0)) is state
    assert resumed(curve.BEGIN, at(0)) is curve.BEGIN


def test_a_time_unseen_counts_for_no_hours_of_cleaning_and_moves_no_age(learnt):
    state, _ = learnt
    last = state.gathering.samples[-1]
    read = resumed(state, Instant(last.at_s, last.utc_s + 7200.0))

    assert (read.ageing, read.air, read.cycles, read.signs) == (state.ageing, state.air, state.cycles, state.signs)
    assert read.looking.usual == state.looking.usual
    assert read.tracker.usual == state.tracker.usual


# ---------------------------------------------------------------- when it is written


def test_forecasts_of_many_are_spread_and_of_few_come_at_once():
    def due_s(name, collectors):
        return (
            scattered(curve.BEGIN, name, collectors, UTC).outlook_utc_s + curve.forecast_every_s(curve.BEGIN) - UTC
        )

    spread = [due_s(f"DC-{number}", 1000) for number in range(1000)]

    assert due_s("DC-101", 1) == 0.0
    assert min(spread) >= 0.0
    assert max(spread) < 600.0
    assert max(spread.count(second) for second in set(spread)) <= 8


def states(count, read=curve.BEGIN):
    one = replace(judging.begin(plan(), at(0)), curve=read)
    return {f"DC-{1000 + number}": one for number in range(count)}


@pytest.mark.parametrize("count", [1, 7, 250, 1000])
def test_each_curve_is_written_every_ten_minutes_and_never_many_at_once(count):
    keeping, plants, wrote = CurveKeeping(), states(count), {}
    for second in range(3 * int(EVERY_S)):
        due = keeping.due(plants, float(second))
        assert len(due) <= AT_ONCE
        for key in due:
            wrote.setdefault(key, []).append(second)

    assert wrote.keys() == {curve_key(name) for name in plants}
    for seconds in wrote.values():
        gaps = [later - earlier for earlier, later in itertools.pairwise([0, *seconds, 3 * int(EVERY_S)])]
        # A thousand take two hundred seconds to write, five at a time.
        assert max(gaps) <= EVERY_S + math.ceil(count / AT_ONCE) + 1
        assert min(gaps[1:-1], default=EVERY_S) >= EVERY_S


def test_a_collector_that_is_gone_is_not_written():
    keeping = CurveKeeping()
    keeping.due(states(3), 0.0)
    left = {"DC-1001": states(3)["DC-1001"]}

    assert set(keeping.due(left, 2 * EVERY_S)) == {curve_key("DC-1001")}


def test_what_nobody_would_say_twice_is_written_at_once(learnt):
    state, _ = learnt
    before = replace(judging.begin(plan(), at(0)), curve=state)
    new_set = curve.filters_changed(READ, state, UTC + 100.0, UTC + 200.0)
    warned = state._replace(signs=((Sign.DP_STEPPED_DOWN, Clue("step_down", -0.9)),))
    moved = warned._replace(signs=((Sign.DP_STEPPED_DOWN, Clue("step_down", -0.8)),))

    def written(was, now):
        found = begun("DC-101", replace(before, curve=was), replace(before, curve=now))
        return {key: read_curve(text) for key, text in found.items()}

    assert written(state, new_set) == {curve_key("DC-101"): new_set}
    assert written(state, warned) == {curve_key("DC-101"): warned}
    assert written(warned, state) == {curve_key("DC-101"): state}
    assert written(state, state._replace(cycles=state.cycles + 1)) == {}
    assert written(warned, moved) == {}
