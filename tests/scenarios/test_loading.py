"""A scenario file and a seed make one trial, and wrong files get a sentence."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.plant.trial import shown
from monitor.troubles import Trouble
from tests.scenarios.loading import FOLDER, ScenarioError, all_scenarios, files, load


def test_every_file_makes_a_trial_with_every_seed() -> None:
    for path in files():
        trials = [load(path, seed) for seed in (1, 2)]
        assert trials[0] == load(path, 1)
        assert trials[0] != trials[1]


@pytest.mark.parametrize("path", files(), ids=lambda path: path.stem)
def test_every_trial_can_be_played(path: Path) -> None:
    trial = replace(load(path, 5), duration_s=1800.0, every_s=20.0)
    assert len(list(shown(trial))) == 90


def test_what_goes_wrong_happens_within_the_trial() -> None:
    for seed in range(1, 6):
        for trial in all_scenarios(seed):
            for one in trial.mishaps:
                assert 12.0 <= one.from_h < trial.duration_s / 3600.0 - 1.0
                assert 0.0 <= one.severity <= 1.0
            assert all(0.0 < one.at_h < trial.duration_s / 3600.0 for one in trial.changes)


def test_healthy_files_have_nothing_wrong_and_all_others_have() -> None:
    for trial in all_scenarios():
        assert (trial.mishaps == ()) == trial.name.startswith("healthy_")


def test_every_trouble_has_a_scenario() -> None:
    assert {one.trouble for trial in all_scenarios() for one in trial.mishaps} == set(Trouble)


def test_every_file_says_what_it_is_for() -> None:
    for path in files():
        text = path.read_text(encoding="utf-8")
        assert text.startswith("# ")
        assert "\nabout: " in text


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("about: x\ndays: 1\nbuild: {cloth: {arae_ft2: 1}}\n", "build.cloth: arae_ft2 is not known here"),
        ("about: x\ndays: 1\nmishaps: [{trouble: gremlins, from_h: 1}]\n", "'gremlins' is not a valid Trouble"),
        ("about: x\ndays: 1\nevery: 5\n", "every"),
        ("about: [x\n", "cannot be read as a scenario"),
    ],
)
def test_a_wrong_file_gets_a_sentence(text: str, sentence: str, tmp_path: Path) -> None:
    file = tmp_path / "wrong.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError, match=sentence) as caught:
        load(file)
    assert "wrong.yaml" in str(caught.value)


def test_draws_stay_between_their_ends_and_are_not_all_alike() -> None:
    onsets = [load("torn_bag", seed).mishaps[0].from_h for seed in range(40)]
    assert all(30.0 <= one <= 60.0 for one in onsets)
    assert max(onsets) - min(onsets) > 20.0
    ways = {load("tap_hose_off", seed).mishaps[0].way for seed in range(40)}
    assert len(ways) == 3


def test_collectors_are_files_too() -> None:
    used = {
        line.split(": ")[1]
        for path in files()
        for line in path.read_text().splitlines()
        if line.startswith("collector:")
    }
    assert used == {path.stem for path in (FOLDER / "collectors").glob("*.yaml")}


def test_a_rough_plant_is_the_same_scenario_with_other_collectors() -> None:
    for plain, rough in zip(all_scenarios(3), all_scenarios(3, rough=True), strict=True):
        assert [one.trouble for one in plain.mishaps] == [one.trouble for one in rough.mishaps]
        assert rough.build.cloth.luck > plain.build.cloth.luck == 0.0
        assert rough.build.cleaning.mode is plain.build.cleaning.mode
