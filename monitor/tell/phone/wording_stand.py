"""Wording, stand: whether all is well with watch and plant, in words; what is not comes first."""

from monitor.tell.phone.wording_alarm import names
from monitor.tell.phone.wording_context import StandNow


def is_well(stand: StandNow) -> bool:
    """Whether nothing wants a person."""
    return not troubles(stand)


def troubles(stand: StandNow) -> tuple[str, ...]:
    """What is not well, the worst first."""
    told = (
        "" if stand.collectors else "no collector is watched",
        f"{_count(stand.alarms, 'alarm')} active" if stand.alarms else "",
        f"{_count(stand.unacknowledged, 'alarm')} not acknowledged" if stand.unacknowledged else "",
        f"no link to {names(stand.links_lost)}" if stand.links_lost else "",
        f"DP of {names(stand.cannot_be_trusted)} cannot be trusted" if stand.cannot_be_trusted else "",
        "" if stand.journal_ok else "the journal cannot be written",
        f"out of reach: {names(stand.outlets_failing)}" if stand.outlets_failing else "",
    )
    return tuple(filter(None, told))


def remarks(stand: StandNow) -> tuple[str, ...]:
    """What is worth knowing although it is as people wanted it."""
    told = (
        f"{_count(stand.shelved, 'alarm')} shelved" if stand.shelved else "",
        f"{_count(stand.out_of_service, 'alarm')} out of service" if stand.out_of_service else "",
        f"change filters: {names(stand.filters_due)}" if stand.filters_due else "",
    )
    return tuple(filter(None, told))


def watched(stand: StandNow) -> str:
    """``24 collectors watched``."""
    return f"{_count(stand.collectors, 'collector')} watched"


def _count(number: int, of: str) -> str:
    return f"{number} {of}" if number == 1 else f"{number} {of}s"
