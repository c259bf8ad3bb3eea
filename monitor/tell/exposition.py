"""Exposition: metric families as text, in the two forms that scrapers ask for.

Written by hand because a thousand collectors make some 25,000 series, and formatting them through the client
library's objects held the processor for most of a second at every scrape. The library's own OpenMetrics parser,
promtool and a real Prometheus judge the result in the tests.
"""

from collections.abc import Iterable, Iterator
from enum import StrEnum
from typing import NamedTuple

TEXT = "text/plain; version=0.0.4; charset=utf-8"
OPENMETRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"


class Kind(StrEnum):
    """The types of the text form that are in use here."""

    GAUGE = "gauge"
    COUNTER = "counter"
    HISTOGRAM = "histogram"


class Sample(NamedTuple):
    """One line: a label text made by ``labels``, a finite number, and for a histogram which part it is."""

    labels: str
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


def labels(**pairs: str) -> str:
    """The labels as they stand in a line: ``{collector="DC-101",tag="PDT-101"}``."""
    return "{" + ",".join(f'{name}="{_escaped(value)}"' for name, value in pairs.items()) + "}"


def histogram(label_text: str, buckets: Iterable[tuple[float, int]], total: float, count: int) -> Iterator[Sample]:
    """The lines of one histogram.

    Args:
        label_text: the labels of the series, at least one.
        buckets: upper bound and how many lay at or below it, ascending, without the last (``+Inf``).
        total: sum of all observations.
        count: how many there were.
    """
    head = label_text[:-1]
    for bound, below in buckets:
        yield Sample(f'{head},le="{bound!r}"}}', min(below, count), "_bucket")
    yield Sample(f'{head},le="+Inf"}}', count, "_bucket")
    yield Sample(label_text, count, "_count")
    yield Sample(label_text, total, "_sum")


def wants_openmetrics(accept: str | None) -> bool:
    """Whether the scraper asked for OpenMetrics 1.0.0; anything else gets the plain text form."""
    offers = (offer.strip().lower() for offer in (accept or "").split(","))
    return any(
        offer.startswith("application/openmetrics-text") and ("version=" not in offer or "version=1." in offer)
        for offer in offers
    )


def text(families: Iterable[Family]) -> bytes:
    """The plain text form, version 0.0.4."""
    lines: list[str] = []
    for family in families:
        name = f"{family.name}_total" if family.kind is Kind.COUNTER else family.name
        # Only backslash and line feed are escaped in this form's help.
        help_text = family.help.replace("\\", "\\\\").replace("\n", "\\n")
        lines += (f"# HELP {name} {help_text}", f"# TYPE {name} {family.kind}")
        lines += [f"{name}{sample.suffix}{sample.labels} {sample.value!r}" for sample in family.samples]
    return "\n".join([*lines, ""]).encode()


def openmetrics(families: Iterable[Family]) -> bytes:
    """OpenMetrics 1.0.0."""
    lines: list[str] = []
    for family in families:
        name = f"{family.name}_total" if family.kind is Kind.COUNTER else family.name
        lines.append(f"# TYPE {family.name} {family.kind}")
        if family.unit:
            lines.append(f"# UNIT {family.name} {family.unit}")
        lines.append(f"# HELP {family.name} {_escaped(family.help)}")
        lines += [f"{name}{sample.suffix}{sample.labels} {sample.value!r}" for sample in family.samples]
    return "\n".join([*lines, "# EOF", ""]).encode()


def _escaped(value: str) -> str:
    if "\\" in value or '"' in value or "\n" in value:
        return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return value
