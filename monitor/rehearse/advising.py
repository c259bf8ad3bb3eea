"""Advising: recordings in, set-point advice out, with the alarms that the real judge would have given.

The recordings are walked through twice: once to learn how each collector rises and falls, and once through the
judge, with the bands as they are and as advised. The advised cleaning is judged on a curve that never was: the
sawtooth as it would have gone, with the noise that was recorded. What was not usual (troubles, stops) stays in it
as it was recorded.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from monitor.acquire.traces.merging import in_groups, merged
from monitor.acquire.traces.trace import Trace, TraceError
from monitor.condition.channel import AnalogChannel
from monitor.condition.scaling import LoopScaling
from monitor.interpret.advice.advising import Advice, advise
from monitor.interpret.advice.bands import BandSetting, Quantity
from monitor.interpret.advice.learning import Lack
from monitor.interpret.settings import CurveSettings
from monitor.judge.settings import Band, Judged, Side
from monitor.rehearse.advising_curve import judged_on
from monitor.rehearse.advising_watch import Watcher
from monitor.rehearse.door import for_recorded
from monitor.rehearse.whole import Site, Wish, rehearse, steps_of, within
from monitor.report.advice import AdviceStory, SiteAdvice
from monitor.report.advice_chart import window
from monitor.report.rehearsal import CollectorStory, Rehearsal
from monitor.scan.settings import CollectorPlan
from monitor.words import PointId, Role

#: Opens the same recordings anew.
Opens = Callable[[], Sequence[Trace]]


@dataclass(frozen=True, slots=True)
class _Advised:
    """One collector after the first walk."""

    watcher: Watcher
    found: Advice | Lack
    plan: CollectorPlan


def advise_site(site: Site, opens: Opens, wish: Wish, only: str = "") -> SiteAdvice:
    """Advise on every collector that the recordings hold; ``only`` on that one, by name.

    Raises:
        TraceError: a recording is wrong, or holds nothing of the asked time.
    """
    plans = {name: plan for name, plan in site.plan.collectors.items() if only in ("", name)}
    first = replace(wish, progress=lambda share: wish.progress(share * 0.6))
    watchers = _watched(plans, opens(), first)
    if not watchers:
        raise TraceError(
            f"Nothing to advise on: the recordings hold no DP of a collector of {site.file} in that time."
        )
    advised = {name: _advised(plans[name], watcher) for name, watcher in watchers.items()}
    second = replace(wish, progress=lambda share: wish.progress(0.6 + share * 0.4))
    before, after = _judged(site, {name: one.plan for name, one in advised.items()}, opens(), second)
    return SiteAdvice(
        site=site.plan.name,
        file=site.file,
        begins_utc_s=before.begins_utc_s,
        ends_utc_s=before.ends_utc_s,
        stories=tuple(
            _story(plans[name], one, before.collectors[name], after.collectors[name])
            for name, one in advised.items()
        ),
        notes=tuple(note for note in before.notes if not note.startswith("Nobody answers")),
    )


def ends_utc_s(traces: Sequence[Trace], wish: Wish) -> float:
    """The last moment of the recordings in the asked time, Unix seconds; they are read through for it.

    Raises:
        TraceError: a recording is wrong, or holds nothing of that time.
    """
    last = max(
        (chunk.utc_s[-1] for trace in traces for whole in trace.chunks if (chunk := within(whole, wish)).utc_s),
        default=None,
    )
    if last is None:
        raise TraceError("The recordings hold nothing of that time.")
    return last


def _watched(plans: dict[str, CollectorPlan], traces: Sequence[Trace], wish: Wish) -> dict[str, Watcher]:
    steps, watchers = steps_of(traces), dict[str, Watcher]()
    groups = in_groups(traces)
    for number, group in enumerate(groups):
        for chunk in merged(group):
            some = within(chunk, wish)
            for name in sorted({point.collector for point in some.columns if some.utc_s} & plans.keys()):
                if PointId(name, Role.DP) in steps:
                    recorded = for_recorded(plans[name], _steps(name, steps))
                    watcher = watchers.setdefault(name, Watcher(recorded, some.utc_s[0]))
                    watcher.follow(some)
            wish.progress((number + chunk.share) / len(groups))
            if chunk.utc_s[0] >= wish.until_utc_s:
                break
    return {name: watchers[name] for name in plans if name in watchers}


def _steps(name: str, steps: dict[PointId, float]) -> dict[Role, float]:
    return {point.role: step_s for point, step_s in steps.items() if point.collector == name}


def _advised(plan: CollectorPlan, watcher: Watcher) -> _Advised:
    bands = [_setting(band) for band in plan.bands]
    found = advise(plan.curve or CurveSettings(), watcher.seen(), bands, _top_inh2o(plan))
    if isinstance(found, Lack):
        return _Advised(watcher, found, plan)
    moved = {one.now.tag: one.advised for one in found.bands}
    return _Advised(
        watcher, found, replace(plan, bands=tuple(_moved(band, moved[band.alarm.tag]) for band in plan.bands))
    )


def _setting(band: Band) -> BandSetting:
    return BandSetting(
        band.alarm.tag,
        band.side is Side.ABOVE,
        Quantity(band.judged.value),
        band.setpoint_inh2o,
        band.deadband_inh2o,
        band.alarm.on_delay_s,
    )


def _moved(band: Band, wanted: BandSetting) -> Band:
    return Band(
        alarm=replace(band.alarm, on_delay_s=wanted.on_delay_s),
        side=band.side,
        setpoint_inh2o=wanted.setpoint_inh2o,
        deadband_inh2o=wanted.deadband_inh2o,
        judged=Judged(wanted.quantity.value),
    )


def _top_inh2o(plan: CollectorPlan) -> float | None:
    """The highest DP that the transmitter shows; None where the site file does not tell."""
    channel = plan.points[Role.DP].channel
    if not isinstance(channel, AnalogChannel):
        return None
    if isinstance(channel.scaling, LoopScaling):
        return channel.scaling.value_at_20_ma
    return channel.valid_high


def _judged(
    site: Site, plans: dict[str, CollectorPlan], traces: Sequence[Trace], wish: Wish
) -> tuple[Rehearsal, Rehearsal]:
    """The recordings through the judge, with the bands as they are and as advised."""
    now = Site(
        site.file,
        replace(site.plan, collectors={name: _bands_alone(site.plan.collectors[name]) for name in plans}),
    )
    then = Site(site.file, replace(site.plan, collectors={name: _bands_alone(one) for name, one in plans.items()}))
    before, after = rehearse([now, then], traces, wish)
    return before, after


def _bands_alone(plan: CollectorPlan) -> CollectorPlan:
    """Without early warnings: bands are what is advised, and the curve has been read before."""
    return replace(plan, curve=None, warnings={})


def _story(plan: CollectorPlan, one: _Advised, before: CollectorStory, after: CollectorStory) -> AdviceStory:
    """Put together what one collector's readers want to know."""
    if isinstance(one.found, Lack):
        return AdviceStory(
            plan.name,
            plan.description,
            before,
            lack=one.found,
            level_inh2o=one.watcher.seen().cleaning_level_inh2o,
        )
    return _told(one, one.found, AdviceStory(plan.name, plan.description, before, after=after))


def _told(one: _Advised, found: Advice, story: AdviceStory) -> AdviceStory:
    """The story with the advice, and with what the judge makes of the replayed DP."""
    recorded, now = one.watcher.recorded(), _bands_alone(one.watcher.plan)
    then = replace(now, bands=one.plan.bands)
    higher = found.then.mean_inh2o - found.now.mean_inh2o
    return replace(
        story,
        advice=found,
        before_replayed=judged_on(now, recorded, found.now_path, found.habits),
        after_replayed=judged_on(then, recorded, found.then_path, found.habits, higher),
        was=recorded.between(*window(found)),
    )
