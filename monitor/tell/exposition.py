"""Exposition: metric families as text, in the two forms that scrapers ask for, by the client library.

The library's registry, metric objects and default collectors are not used: each scrape is drawn from one
unchanging view, and a family exists only for as long as it is being written.
"""

from collections.abc import Iterable, Iterator, Mapping
from enum import StrEnum
from typing import NamedTuple

from prometheus_client import exposition as plain
from prometheus_client.metrics_core import Metric
from prometheus_client.openmetrics import exposition as open_form
from prometheus_client.registry import Collector

TEXT = "text/plain; version=0.0.4; charset=utf-8"
OPENMETRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"


class Kind(StrEnum):
    """The types of the text form that are in use here."""

    GAUGE = "gauge"
    COUNTER = "counter"
    HISTOGRAM = "histogram"


class Sample(NamedTuple):
    """One line: its labels, a finite number, and for a histogram which part it is."""

    labels: dict[str, str]
    value: float
    suffix: str = ""


class Family(NamedTuple):
    """All samples of one name.

    Attributes:
        name: without the ``_total`` of a counter; ends with ``_unit`` where there is a unit.
        unit: what the value counts, singular words of the name's end; empty where it has none.
    """

    name: str
    kind: Kind
    help: str
    samples: list[Sample]
    unit: str = ""


def histogram(
    labels: Mapping[str, str], buckets: Iterable[tuple[float, int]], total: float, count: int
) -> Iterator[Sample]:
    """The lines of one histogram.

    Args:
        labels: of the series.
        buckets: upper bound and how many lay at or below it, ascending, without the last (``+Inf``).
        total: sum of all observations.
        count: how many there were.
    """
    for bound, below in buckets:
        yield Sample({**labels, "le": repr(bound)}, min(below, count), "_bucket")
    yield Sample({**labels, "le": "+Inf"}, count, "_bucket")
    yield Sample(dict(labels), count, "_count")
    yield Sample(dict(labels), total, "_sum")


def wants_openmetrics(accept: str | None) -> bool:
    """Whether the scraper asked for OpenMetrics 1.0.0; anything else gets the plain text form."""
    offers = (offer.strip().lower() for offer in (accept or "").split(","))
    return any(
        offer.startswith("application/openmetrics-text") and ("version=" not in offer or "version=1." in offer)
        for offer in offers
    )


def text(families: Iterable[Family]) -> bytes:
    """The plain text form, version 0.0.4."""
    return plain.generate_latest(_Drawn(families))


def openmetrics(families: Iterable[Family]) -> bytes:
    """OpenMetrics 1.0.0."""
    written: bytes = open_form.generate_latest(_Drawn(families))  # type: ignore[no-untyped-call]  # has no types
    return written


class _Drawn(Collector):
    """The families as the library asks for them."""

    def __init__(self, families: Iterable[Family]) -> None:
        self._families = families

    def collect(self) -> Iterator[Metric]:
        for family in self._families:
            metric = Metric(family.name, family.help, family.kind.value, family.unit)
            name = f"{family.name}_total" if family.kind is Kind.COUNTER else family.name
            for labels, value, suffix in family.samples:
                metric.add_sample(name + suffix, labels, value)
            yield metric
