"""Advice words: the advice, its reasons, its doubts and its cautions as sentences for whoever works there."""

from collections.abc import Iterator, Mapping

from monitor.interpret.advice.advising import Advice
from monitor.interpret.advice.bands import BandAdvice, BandSetting, BandWhy
from monitor.interpret.advice.learning import Lack
from monitor.interpret.advice.setpoints import HIGHEST_INH2O, Why
from monitor.interpret.air.figures import Basis
from monitor.report.advice import AdviceStory
from monitor.report.rehearsal_words import duration

LACKS: Mapping[Lack, str] = {
    Lack.NO_DP: "the recording holds no good reading of its DP",
    Lack.FAN_STOPPED: "the fan stood still for nearly all of the recording, so there is no cleaning to learn from",
    Lack.TIMED: "its cleaning goes by the clock, so start and stop set points do not act on it",
    Lack.NO_CYCLES: "no whole cleaning cycle was found in the recording: is it cleaned on demand?",
    Lack.TOO_SHORT: "too few whole cleaning cycles follow one another: eight in a row and an hour are the least, "
    "a week is better",
    Lack.NEVER_ENDS: "its cleaning hardly ever comes to its stop set point: look for what ails it first (header "
    "pressure, valves, filters, dust load); set points do not mend that",
    Lack.NOT_REPRODUCED: "replaying the present set points does not give the cleanings that were recorded, so "
    "nothing that is reckoned for others could be trusted: is pulse_every of the site file the real one?",
}

_BAND_WHYS: Mapping[BandWhy, str] = {
    BandWhy.IN_SAWTOOTH: "cleaning from {start:g} to {stop:g} reaches it, so it would call in every cycle",
    BandWhy.TOO_NEAR: "it is too close to where cleaning from {start:g} to {stop:g} takes the DP",
    BandWhy.DEADBAND: "a deadband smaller than the sawtooth lets it come and go with every cycle",
    BandWhy.DELAY: "15 s is the usual least delay for a pressure (ISA-TR18.2.3)",
    BandWhy.NEXT_BAND: "it must stay clear of the band before it",
    BandWhy.NO_ROOM: "there is no room for it within what the transmitter shows: it stays as it is",
}

CAUTIONS: tuple[str, ...] = (
    (
        "This is advice from a curve. Nothing was set; a person who knows the collector decides, and sets the "
        "cleaning controller and the site file by hand, one step at a time, watching what comes of it."
    ),
    (
        "A limit that a permit, the maker of the collector or of the filters, or a dust hazard analysis names "
        "comes before this advice. Ask what DP the housing and the cages may bear."
    ),
    (
        "Air flow, capture at the hoods and dust in the clean air change with the DP and are not seen here: check "
        "them after a change."
    ),
    (
        "The pulse header is under pressure and a collector may hold combustible dust: settings are changed at "
        "the controller; whoever opens, enters or works on a collector follows the site's lock-out and permit "
        "rules and local codes, and leaves it to licensed people where those ask for them."
    ),
)


def headline(story: AdviceStory) -> str:
    """The whole in one sentence."""
    advice = story.advice
    if advice is None:
        return f"{story.name}: no advice, for {_sentence(LACKS[story.lack or Lack.NO_DP])}{_hangs(story)}"
    if advice.keeps_all:
        return f"{story.name}: leave it as it is: set points and bands keep all rules."
    parts = []
    if advice.moves_cleaning:
        now, then = advice.now, advice.then
        parts.append(
            f"clean from {then.start_inh2o:g} down to {then.stop_inh2o:g} inH2O "
            f"(now {now.start_inh2o:g} to {now.stop_inh2o:g})"
        )
    moved = [one for one in advice.bands if one.advised.setpoint_inh2o != one.now.setpoint_inh2o]
    if moved:
        parts.append("move " + ", ".join(one.now.tag for one in moved))
    wider = [one for one in advice.bands if one not in moved and one.advised != one.now]
    if wider:
        parts.append("widen deadband or delay of " + ", ".join(one.now.tag for one in wider))
    if not parts:
        return f"{story.name}: nothing that could be moved would help; see the reasons."
    return f"{story.name}: {'; '.join(parts)}."


def _sentence(words: str) -> str:
    return words if words.endswith("?") else f"{words}."


def _hangs(story: AdviceStory) -> str:
    """Where the DP stays under cleaning that never ends: a stop below that is never reached."""
    if story.lack is not Lack.NEVER_ENDS or story.level_inh2o is None:
        return ""
    return (
        f" Pulsing holds the DP at about {story.level_inh2o:.1f} inH2O: if all of these are in order, the stop "
        "belongs half an inch or more above that (common practice, no source)."
    )


def reasons(advice: Advice) -> Iterator[str]:
    """Why the cleaning set points are where they are advised."""
    for why in advice.setpoints.why:
        yield _why(advice, why)
    for band in advice.bands:
        if band.why:
            told = "; ".join(_BAND_WHYS[why] for why in band.why)
            yield f"{band.now.tag}: {told.format(start=advice.then.start_inh2o, stop=advice.then.stop_inh2o)}."


def _why(advice: Advice, why: Why) -> str:
    now, then = advice.now, advice.then
    swing = now.start_inh2o - now.stop_inh2o
    sentences = {
        Why.KEPT: "Start and stop stay: the swing is about an inch (common practice), cleaning rests long enough, "
        "and the DP stays where a collector in good order is.",
        Why.TOO_CLOSE: f"Start and stop are {swing:.2g} inH2O apart; an inch is common practice (no source). "
        "Closer, and cleaning comes and goes without a rest, started and stopped by mere noise.",
        Why.TOO_WIDE: f"Start and stop are {swing:.2g} inH2O apart; an inch is common practice (no source). "
        "Wider, and the air flow sways with every cycle.",
        Why.CLEANS_TOO_MUCH: f"In the dustiest tenth of the time cleaning takes {advice.dusty_share:.0%} of it: "
        f"pulsing without a pause would only reach about {advice.reachable_inh2o:.1f} inH2O, too near to the stop "
        f"at {now.stop_inh2o:g}. With the advised ones it takes {advice.dusty_share_then:.0%}.",
        Why.TOO_HIGH: f"The start lies above {HIGHEST_INH2O:g} inH2O; 3 to 6 is what a pulse-jet collector in "
        "good order shows (common practice, no source), and each inch costs fan power and flow.",
        Why.OVER_CHANGE_OUT: "The start lies above the residual DP at which the filters are to be changed.",
        Why.NOT_ENOUGH: f"With {then.start_inh2o:g} to {then.stop_inh2o:g} inH2O cleaning still takes "
        f"{advice.dusty_share_then:.0%} of the dustiest time: it helps, and is not enough. Look at header "
        "pressure, valves, dust load and the state of the filters.",
        Why.NO_ROOM: "No set points that keep the rules leave cleaning enough rest: pulsing without a pause "
        f"would reach about {advice.reachable_inh2o:.1f} inH2O. Set points do not mend that; look at header "
        "pressure, valves, dust load and the state of the filters.",
    }
    return sentences[why]


def doubts(advice: Advice) -> Iterator[str]:
    """How far all this may be believed, with the check that was made."""
    habits = advice.habits
    yield (
        f"Checked: replaying the present set points gives {habits.replayed.cleanings_d:,.0f} cleanings a day, "
        f"{habits.measured.cleanings_d:,.0f} were measured ({habits.error:+.1%}); {habits.replayed.pulses_d:,.0f} "
        f"pulses a day against {habits.measured.pulses_d:,.0f}."
    )
    yield (
        f"It stands on {len(habits.drives):,} usual cleaning cycles in {duration(habits.span_s)}; "
        f"{habits.left_out:,} more were not usual, or did not follow one at once, and stay as recorded."
    )
    if habits.is_short:
        yield "That is less than a week: other dust on another day is not in it. Ask again with more."
    if not habits.are_known:
        yield (
            "The site file does not say start and stop: those seen in the curve were taken "
            f"({habits.start_inh2o:g} to {habits.stop_inh2o:g} inH2O)."
        )
    elif max(abs(habits.start_off_inh2o), abs(habits.stop_off_inh2o)) > 0.3:
        yield (
            f"Cleaning really starts at {habits.start_inh2o + habits.start_off_inh2o:.2f} and stops at "
            f"{habits.stop_inh2o + habits.stop_off_inh2o:.2f} inH2O, not where the site file says: is that right?"
        )
    likely, low, high = habits.assumed
    yield (
        "Not measured, but assumed: clean cloth alone has "
        f"{likely.floor_inh2o:.1f} inH2O ({low.floor_inh2o:.1f} to {high.floor_inh2o:.1f}), and each inch of DP "
        f"costs {likely.droop_inh2o:.0%} of the air flow ({high.droop_inh2o:.0%} to {low.droop_inh2o:.0%}); the "
        f"range beside a figure comes of that, and of the {habits.doubt:.0%} by which the check is off."
    )
    if advice.basis is Basis.UNKNOWN:
        yield "Of the compressed air only pulses are told: the site file gives neither air_per_pulse nor a header."
    if advice.basis is Basis.HEADER:
        yield (
            f"A pulse takes at most about {advice.per_pulse_ft3:.2f} ft3 of free air, from the header's volume "
            "and the dip of its pressure."
        )


def band_words(band: BandSetting) -> str:
    """How a band is set: ``at or above 6 inH2O, deadband 1, after 15 s``."""
    side = "above" if band.is_high else "below"
    quantity = "" if band.quantity.value == "damped" else f"{band.quantity.value} DP "
    return (
        f"{quantity}at or {side} {band.setpoint_inh2o:g} inH2O, deadband {band.deadband_inh2o:g}, "
        f"after {duration(band.on_delay_s)}"
    )


def band_change(band: BandAdvice) -> str:
    """What to change, or that it stays."""
    return band_words(band.advised) if band.advised != band.now else "stays"
