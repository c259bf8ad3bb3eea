"""Air sentences: what the cleaning of one collector uses in compressed air, for people."""

from collections.abc import Iterator

from monitor.interpret.air.figures import AirFigures, Basis
from monitor.tell.notation import figure, rfc3339


def air_sentences(found: AirFigures) -> list[str]:
    """What is known, one sentence each; empty before there is anything to say."""
    return list(_sentences(found))


def _sentences(found: AirFigures) -> Iterator[str]:
    if found.since_utc_s is None or found.used is None:
        return
    yield f"About {found.used.pulses_d:,.0f} pulses a day since {rfc3339(found.since_utc_s)[:10]}."
    if found.used.air_ft3_d is not None:
        bound = " (at most: from the dip of the header)" if found.basis is Basis.HEADER else ""
        cost = "" if found.used.cost_d is None else f", {figure(found.used.cost_d)} {found.currency} a day"
        yield f"They use about {found.used.air_ft3_d:,.0f} ft³ of free air a day{bound}{cost}."
    if found.saved_ft3_d is not None and found.saved_ft3_d > 0.0:
        cost = "" if found.saved_cost_d is None else f", {figure(found.saved_cost_d)} {found.currency}"
        yield f"Timed cleaning would use {found.saved_ft3_d:,.0f} ft³ a day more{cost}."
    if found.worn_share is not None:
        until = "" if found.worn_utc_s is None else f", used up about {rfc3339(found.worn_utc_s)[:10]}"
        yield f"The diaphragms have made {100.0 * found.worn_share:.0f} % of the pulses they are rated for{until}."
