"""Cause finding: how often is the true cause named first, among the first three, or not at all?

    python -m tests.scenarios.cause_finding [--seeds N] [--first SEED] [--bare] [--cases NAMES] [--show]

Labelled trials are played through the real chain (gathering, cycles, ageing, symptoms, causes) up to the first
alarm after the onset: a plain band (1.5 inH2O above the start set point, 2 inH2O below the stop set point, 15 s),
a signal that has been bad for 10 s, or an early warning. What is suspected at that moment is compared with the
truth. Each trial is heard twice: with all companions,
and with nothing but the DP and the fan (``--bare``: that alone is printed).
"""

import argparse
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import NamedTuple

from monitor.interpret import curve
from monitor.interpret.causes.ranking import About, suspect
from monitor.interpret.settings import CurveSettings
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.plant.telling import Shown
from monitor.plant.trial import shown
from monitor.tell.wording_causes import cause_sentence
from monitor.troubles import Sign, Suspicion, Trouble
from monitor.words import Reason
from tests.scenarios.cause_trials import CASES, SET_POINTS, Labelled, labelled

HIGH_ABOVE_START, LOW_BELOW_STOP, BAND_DELAY_S, BAD_DELAY_S = 1.5, 2.0, 15.0, 10.0
#: After a start of the fan the bands say nothing for so long.
START_UP_S = 300.0
CANNOT_TELL = "cannot_tell"
#: Alarms of a collector in good order, and what must not be named first in them.
HEALTHY = frozenset({Trouble.DUST_LOAD_UP.value, Trouble.FLOW_UP.value, SET_POINTS})
FILTERS = frozenset({Trouble.BLINDING.value, Trouble.MOISTURE.value, Trouble.TORN_BAG.value})


class Call(NamedTuple):
    """The first alarm after the onset."""

    about: About
    sign: Sign | None
    after_s: float
    symptoms: Symptoms


class Found(NamedTuple):
    """What was suspected; no call: nothing alarmed."""

    case: str
    seed: int
    answer: Trouble | None
    call: Call | None
    suspicions: tuple[Suspicion, ...]

    @property
    def first(self) -> str:
        """The first name, or that the evidence does not tell."""
        return self.suspicions[0].trouble.value if self.suspicions else CANNOT_TELL


class _Bands:
    """Plain bands and the bad signal, with their delays, by the raw reading."""

    def __init__(self, high: float, low: float) -> None:
        self._limits = high, low
        self._since: dict[About, float] = {}
        self._fan_from_s: float | None = None
        self._fan: bool | None = None

    def called(self, one: Shown) -> About | None:
        """Which of them alarms at this moment."""
        sample, at_s = one.sample, one.sample.at_s
        if sample.fan and self._fan is False:
            self._fan_from_s = at_s
        self._fan = sample.fan
        started = self._fan_from_s is not None and at_s - self._fan_from_s < START_UP_S
        dp = sample.dp_inh2o
        quiet = dp is None or started or (sample.fan is False and Trouble.FAN_STOPPED not in one.truth.troubles)
        conditions = (
            (About.BAD_SIGNAL, one.reason is not Reason.NONE, BAD_DELAY_S),
            (About.HIGH, not quiet and dp >= self._limits[0], BAND_DELAY_S),
            (About.LOW, not quiet and dp <= self._limits[1], BAND_DELAY_S),
        )
        for about, holds, delay_s in conditions:
            if not holds:
                self._since.pop(about, None)
            elif at_s - self._since.setdefault(about, at_s) >= delay_s:
                return about
        return None


def find(case: str, seed: int) -> tuple[Found, Found]:
    """Play one labelled trial up to its first alarm: with all companions, and with the DP and the fan alone."""
    one = labelled(case, seed)
    whole, bare = first_calls(one)
    return _found(one, case, seed, whole), _found(one, case, seed, bare)


def _found(one: Labelled, case: str, seed: int, call: Call | None) -> Found:
    suspicions = () if call is None else suspect(call.symptoms, call.about, call.sign)
    return Found(case, seed, one.answer, call, suspicions)


class _Listener:
    """One collector as one sort of site sees it, up to its first alarm after the onset."""

    def __init__(self, one: Labelled, *, bare: bool) -> None:
        self._settings = CurveSettings(cleaning=one.trial.cleaning_settings)
        self._onset_s, self._bare = one.onset_s, bare
        self._state, self._before = curve.BEGIN, frozenset[Sign]()
        self.call: Call | None = None

    def hear(self, shot: Shown, about: About | None) -> None:
        """Take in one sample; ``about`` is what the bands say of it."""
        sample = shot.sample
        if self._bare:
            sample = sample._replace(header_psi=None, flow_cfm=None, cleaning=None)
        self._state = curve.advance(self._settings, self._state, sample)
        standing = frozenset(sign for sign, _ in self._state.signs)
        if sample.at_s < self._onset_s:
            self._before = standing
            return
        new = sorted(standing - self._before)
        if about is None and not new:
            return
        symptoms = curve.symptoms(self._state)._replace(
            reason=shot.reason, others=shot.others, others_alike=shot.others_alike
        )
        sign = new[0] if about is None else None
        self.call = Call(about or About.WARNING, sign, sample.at_s - self._onset_s, symptoms)


def first_calls(one: Labelled) -> tuple[Call | None, Call | None]:
    """Play a trial once; the first alarm after its onset with all companions, and without."""
    cleaning = one.trial.build.cleaning
    bands = _Bands(cleaning.start_inh2o + HIGH_ABOVE_START, cleaning.stop_inh2o - LOW_BELOW_STOP)
    whole, bare = _Listener(one, bare=False), _Listener(one, bare=True)
    for shot in shown(one.trial):
        about = bands.called(shot)
        for listener in (whole, bare):
            if listener.call is None:
                listener.hear(shot, about if shot.sample.at_s >= one.onset_s else None)
        if whole.call is not None and bare.call is not None:
            break
    return whole.call, bare.call


def shares(found: Sequence[Found]) -> dict[str, float]:
    """Return the shares of those trials that alarmed and have an answer, and how often health is blamed."""
    asked = [one for one in found if one.call is not None and one.answer is not None]
    healthy = [one for one in found if one.call is not None and one.case in HEALTHY]
    return {
        "first": _share([one.first == one.answer for one in asked]),
        "in the first three": _share([one.answer in [s.trouble for s in one.suspicions] for one in asked]),
        "cannot tell": _share([not one.suspicions for one in asked]),
        "filters blamed in health": _share([one.first in FILTERS for one in healthy]),
    }


def _share(said: Sequence[bool]) -> float:
    return sum(said) / len(said) if said else 0.0


def matrix(found: Sequence[Found]) -> str:
    """Return the true trouble against the first named, as a table."""
    rows = {case: Counter(one.first for one in found if one.case == case and one.call) for case in CASES}
    columns = [name for name in (*CASES, CANNOT_TELL) if any(row[name] for row in rows.values())]
    lines = ["true \\ named first".ljust(22) + "".join(f"{name[:9]:>10}" for name in columns) + "   none  in 3"]
    for case, row in rows.items():
        of_case = [one for one in found if one.case == case]
        if of_case:
            silent = sum(one.call is None for one in of_case)
            third = sum(one.answer in [s.trouble for s in one.suspicions] for one in of_case)
            cells = "".join(f"{row[name] or '.':>10}" for name in columns)
            lines.append(f"{case:22}{cells}{silent:>7}{third:>6}")
    return "\n".join(lines)


def play(cases: Iterable[str], seeds: Iterable[int]) -> list[tuple[Found, Found]]:
    """Play all of them, two at a time."""
    tasks = [(case, seed) for seed in seeds for case in cases]
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(find, *zip(*tasks, strict=True)))


def main() -> None:
    """Play, and print the confusion matrix and the shares."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10, help="trials of each case")
    parser.add_argument("--first", type=int, default=2000, help="first seed; below 2000 rules were found")
    parser.add_argument("--bare", action="store_true", help="DP and fan only")
    parser.add_argument("--cases", nargs="*", default=list(CASES), choices=CASES, metavar="CASE")
    parser.add_argument("--show", action="store_true", help="what is told of each trial that was not named first")
    asked = parser.parse_args()
    pairs = play(asked.cases, range(asked.first, asked.first + asked.seeds))
    if not asked.bare:
        _print("with all companions", [whole for whole, _ in pairs], show=asked.show)
    _print("with the DP and the fan alone", [bare for _, bare in pairs], show=asked.show)


def _print(title: str, found: Sequence[Found], *, show: bool) -> None:
    print(f"\n{title}\n{matrix(found)}")
    print(*(f"{name}: {share:.0%}" for name, share in shares(found).items()), sep="   ")
    if show:
        print(*(_told(one) for one in found if one.first != (one.answer or CANNOT_TELL)), sep="\n")


def _told(one: Found) -> str:
    if one.call is None:
        return f"{one.case} {one.seed}: no alarm"
    known = {name: value for name, value in one.call.symptoms._asdict().items() if value is not None}
    figures = {name: round(value, 3) if isinstance(value, float) else value for name, value in known.items()}
    called = f"{one.call.about} {one.call.sign or ''} after {one.call.after_s / 3600.0:.2f} h"
    return f"{one.case} {one.seed}: {called}\n   {cause_sentence(one.suspicions)}\n   {figures}"


if __name__ == "__main__":
    main()
