"""Playing gives the daemon's digests, each with the truth at its end."""

from dataclasses import replace
from itertools import pairwise

from monitor.plant.trial import Build, Mishap, Signal, Trial, shown
from monitor.troubles import Trouble
from tests.scenarios.playing import digests, played, rows

TRIAL = Trial(name="test", duration_s=3600.0, mishaps=(Mishap(trouble=Trouble.TORN_BAG, from_h=0.5),))


def test_every_digest_holds_the_samples_of_its_five_seconds() -> None:
    all_of_them = list(digests(TRIAL))
    assert len(all_of_them) == 719
    assert {one.good for one in all_of_them} == {5}
    assert all(after.begin_s > before.end_s for before, after in pairwise(all_of_them))


def test_the_truth_beside_a_digest_is_that_of_its_last_sample() -> None:
    truths = {one.sample.at_s: one.truth for one in shown(TRIAL)}
    for one in played(TRIAL):
        assert one.last.sample.at_s == one.digest.end_s
        assert one.last.truth == truths[one.digest.end_s]


def test_a_recording_has_a_column_for_each_point_and_says_what_is_bad() -> None:
    written = list(rows(replace(TRIAL, build=Build(signal=Signal(header=False, lost_share=0.1)))))
    assert written[0] == ("time", "DC-101.dp (inH2O)", "DC-101.fan_running", "DC-101.cleaning_active")
    assert len(written) == 3601
    assert written[1][0].startswith("2024-01-01T00:00:00.")
    assert 200 < sum(row[1] == "bad" for row in written) < 600
    assert {row[2] for row in written[1:]} == {"1"}
