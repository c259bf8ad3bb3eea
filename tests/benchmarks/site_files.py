"""Site files: plants of any size for the benchmarks, written as a user would write them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

_BANDS = """\
    bands:
      PDAHH-{n}: {{above: 9 inH2O, priority: urgent, deadband: 1.2 inH2O}}
      PDAH-{n}: {{above: 7 inH2O, priority: high, deadband: 1.2 inH2O}}
      PDAL-{n}: {{below: 2 inH2O, priority: low, deadband: 1.2 inH2O}}
      PDAR-{n}: {{above: 4.5 inH2O, priority: advisory, deadband: 0.3 inH2O, judges: residual}}
"""

_LOOP = (
    "loop: {counts_at_4_ma: 0, counts_at_20_ma: 27648, full_scale_counts: none, "
    "at_4_ma: 0 inH2O, at_20_ma: 10 inH2O}"
)

#: For the crossings: one band without any delay.
BAND_AT_ONCE = """\
    bands:
      PDAH-{n}:
        {{above: 7 inH2O, priority: high, deadband: 1 inH2O, on_delay: 0 s, off_delay: 0 s, latching: no}}
"""

_COMPANIONS = """\
    header_pressure: {{tag: PT-{n}, {where}{r2}, encoding: float32, word_order: high-first,
                       engineering: {{unit: psi}}}}
    air_flow: {{tag: FT-{n}, {where}{r4}, encoding: uint16, engineering: {{unit: cfm}}}}
    fan_running: {{tag: YS-{n}, {where}{r5}, bit: 0, inverted: yes}}
    cleaning_active: {{tag: YL-{n}, {where}{r9}, bit: 0}}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What a benchmark's plant looks like.

    Attributes:
        ports: of the device; one link each.
        units: unit identifiers on each link.
        points: DP points of each unit.
        spacing: registers from one DP to the next.
        companions: whether each collector has four companions within its ten registers.
    """

    ports: Sequence[int]
    units: int = 1
    points: int = 1
    spacing: int = 1
    scan_period: str = "1 s"
    max_registers: int = 125
    bands: str = _BANDS
    damping: str = ""
    companions: bool = False

    @property
    def collectors(self) -> int:
        """How many there are."""
        return len(self.ports) * self.units * self.points


def write(folder: Path, shape: Shape, *, mqtt: int, http: int) -> Path:
    """Write the site file; returns where it is."""
    lines = ["site: {name: Alder Mill}", "links:", *_links(shape), "collectors:", *_collectors(shape)]
    lines += ["store: {folder: ./data}", f"mqtt: {{host: 127.0.0.1, port: {mqtt}, state_period: 1 s}}"]
    lines += [f"http: {{host: 127.0.0.1, port: {http}}}"]
    path = folder / "site.yaml"
    path.write_text("\n".join(lines) + "\n")
    return path


def names(shape: Shape) -> list[str]:
    """The collectors' names in the order link, unit, address."""
    return [f"DC-{number}" for number, _, _, _ in _places(shape)]


def _links(shape: Shape) -> Iterable[str]:
    for index, port in enumerate(shape.ports):
        yield (
            f"  link-{index}: {{protocol: modbus-tcp, host: 127.0.0.1, port: {port}, "
            f"scan_period: {shape.scan_period}, max_registers: {shape.max_registers}}}"
        )


def _places(shape: Shape) -> Iterable[tuple[int, int, int, int]]:
    number = 1000
    for link in range(len(shape.ports)):
        for unit in range(1, shape.units + 1):
            for point in range(shape.points):
                number += 1
                yield number, link, unit, point * shape.spacing


def _collectors(shape: Shape) -> Iterable[str]:
    for number, link, unit, address in _places(shape):
        first = 300_001 + address
        where = f"link: link-{link}, unit_id: {unit}, reference_number: "
        yield f"  DC-{number}:"
        yield f"    dp: {{tag: PDT-{number}, {where}{first}, encoding: int16, {_LOOP}{shape.damping}}}"
        if shape.companions:
            offsets = {f"r{offset}": first + offset for offset in (2, 4, 5, 9)}
            yield _COMPANIONS.format(n=number, where=where, **offsets).rstrip()
        yield shape.bands.format(n=number).rstrip()
