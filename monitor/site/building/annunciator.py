"""Annunciator: horn, beacon and heartbeat of the file become settings, and the entries that may be written."""

from monitor.acquire.settings import Output
from monitor.site.outputs import outputs_of, words_of
from monitor.site.points import address_of
from monitor.site.shape.annunciator import Annunciator, Caller, EnergisedWhen, Written
from monitor.tell.settings import AnnunciatorSettings


def annunciator_settings(shape: Annunciator) -> AnnunciatorSettings:
    """Return what the annunciator goes by."""
    return AnnunciatorSettings(
        link=shape.link, least_priority=shape.least_priority, heartbeat_s=shape.heartbeat_period
    )


def outputs(shape: Annunciator | None, link: str) -> tuple[Output, ...]:
    """Return what may be written through a link, for an annunciator that breaks no rule."""
    if shape is None or shape.link != link:
        return ()
    return tuple(_output(name, shape.unit_id, written) for name, written in outputs_of(shape))


def _output(name: str, unit_id: int, written: Written) -> Output:
    address = address_of(written)
    if address is None:
        raise ValueError(f"{name} has no address; the rules should have found that")
    table, entry = address
    on, off = words_of(written)
    if isinstance(written, Caller) and written.energised_when is EnergisedWhen.HEALTHY:
        on, off = off, on
    return Output(name=name, unit_id=unit_id, table=table, address=entry, on=on, off=off)
