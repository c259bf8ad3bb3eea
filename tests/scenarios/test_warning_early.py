"""A short draw of the early warnings beside plain bands; ``tests.scenarios.warning_early`` prints the whole."""

from dataclasses import replace

import pytest

from monitor.troubles import Sign, Trouble
from tests.scenarios.warning_early import FIRST_REPORTED, called, false_calls, row
from tests.scenarios.warning_trials import CASES, healthy, troubled

DRAWN = (Trouble.PULSES_DEAD, Trouble.GATEWAY_FROZEN)


@pytest.mark.parametrize("case", [case for case in CASES if case.trouble in DRAWN], ids=lambda case: case.name)
def test_a_trouble_is_told_before_plain_bands_tell_it(case):
    trial = troubled(case, FIRST_REPORTED + 500)
    mishap = replace(trial.mishaps[0], from_h=20.0)  # a day earlier than in the whole draw, to be quick
    trial = replace(trial, mishaps=(mishap,), duration_s=23 * 3600.0)
    result = row(case.name, [called(trial)], frozenset(sign.value for sign in case.signs))

    assert result.seen == 1
    assert result.first == 1


def test_a_day_and_a_half_in_good_order_brings_no_early_warning():
    months, signs, _ = false_calls([called(replace(healthy(FIRST_REPORTED + 500, 1.5), every_s=2.0))])

    assert months == pytest.approx(0.05)
    assert not {sign for sign in Sign if signs[sign.value]}
