"""Units: factors against NIST SP 811, against an independent library, and spellings forgiven with care."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import units
from monitor.condition.units import PA_PER_INCH_OF_WATER, Kind

CONVENTIONAL = PA_PER_INCH_OF_WATER["conventional"]
ALL_UNITS = [unit for kind in Kind for unit in units.known_units(kind)]


@pytest.mark.parametrize(
    ("unit", "pascals", "digits"),
    [
        ("inH2O_4C", 249.082, 6),
        ("inH2O_60F", 248.84, 5),
        ("inH2O_conventional", 249.0889, 7),
        ("inHg", 3386.389, 7),
        ("mmH2O", 9.80665, 6),
        ("cmH2O", 98.0665, 6),
        ("psi", 6894.757, 7),
        ("mbar", 100.0, 15),
        ("bar", 1e5, 15),
    ],
)
def test_factors_are_those_of_nist_sp_811(unit: str, pascals: float, digits: int) -> None:
    """NIST SP 811 App. B.8, to as many digits as it prints."""
    ours = units.factor(unit, "Pa", CONVENTIONAL)

    assert float(f"{ours:.{digits}g}") == pascals


def test_exact_definitions_are_exact() -> None:
    assert pytest.approx(0.0254 * 1000 * 9.80665, rel=1e-15) == CONVENTIONAL
    assert units.factor("psi", "Pa", CONVENTIONAL) == pytest.approx(4.4482216152605 / 0.00064516, rel=1e-15)
    assert units.factor("cfm", "m3/s", CONVENTIONAL) == pytest.approx(0.028316846592 / 60, rel=1e-15)
    assert units.factor("inH2O_conventional", "mmH2O", CONVENTIONAL) == pytest.approx(25.4, rel=1e-15)


def test_the_inch_at_20_degrees_follows_from_the_density_of_water() -> None:
    """No published table was at hand: 998.2071 kg/m³ at 20 °C."""
    assert PA_PER_INCH_OF_WATER["68 degF"] == pytest.approx(0.0254 * 998.2071 * 9.80665, abs=0.001)


def test_no_inch_of_water_has_its_digits_swapped() -> None:
    """A converter in wide use prints 248.082 for the inch at 39.2 °F, 0.4 % too small."""
    for pascals in PA_PER_INCH_OF_WATER.values():
        assert abs(pascals - 248.082) > 0.5
    four = units.factor("kPa", "inH2O_39.2F", CONVENTIONAL)
    assert four == pytest.approx(4.014742, abs=1e-6)
    assert abs(four - 1000 / 248.082) > 0.01


@pytest.mark.parametrize(
    ("reference", "per_kpa", "psi", "six_inches_pa"),
    [
        ("4 degC", 4.014742, 0.0361263, 1494.49),
        ("60 degF", 4.018647, 0.0360912, 1493.04),
        ("68 degF", 4.021847, 0.0360625, 1491.85),
        ("conventional", 4.014631, 0.0361273, 1494.53),
    ],
)
def test_plain_inch_of_water_is_the_sites(
    reference: str, per_kpa: float, psi: float, six_inches_pa: float
) -> None:
    inch = PA_PER_INCH_OF_WATER[reference]

    assert units.factor("kPa", "inH2O", inch) == pytest.approx(per_kpa, abs=1e-6)
    assert units.factor("inH2O", "psi", inch) == pytest.approx(psi, abs=1e-7)
    assert 6 * units.factor("inH2O", "Pa", inch) == pytest.approx(six_inches_pa, abs=0.005)


@pytest.mark.parametrize("reference", PA_PER_INCH_OF_WATER)
def test_a_named_inch_keeps_its_own_temperature_at_any_site(reference: str) -> None:
    inch = PA_PER_INCH_OF_WATER[reference]

    assert units.factor("inH2O_60F", "Pa", inch) == 248.84
    assert units.factor("inH2O_68F", "inH2O", inch) == 248.642 / inch


#: Our name, the oracle's name (pint 0.25; names moved between its releases), and how close they must be:
#: pint works the inch at a temperature from a rounded density.
PINT_NAMES = [
    ("Pa", "pascal", 1e-15),
    ("hPa", "hectopascal", 1e-15),
    ("kPa", "kilopascal", 1e-15),
    ("MPa", "megapascal", 1e-15),
    ("mbar", "millibar", 1e-15),
    ("bar", "bar", 1e-15),
    ("psi", "psi", 1e-12),
    ("mmH2O", "mmH2O", 1e-12),
    ("cmH2O", "cmH2O", 1e-12),
    ("inH2O", "inH2O", 1e-12),
    ("inH2O_conventional", "inH2O", 1e-12),
    ("inH2O_4C", "inH2O_4C", 5e-7),
    ("inH2O_60F", "inch_H2O_60F", 5e-7),
    ("inHg", "inHg", 2e-7),
    ("m3/s", "meter**3/second", 1e-15),
    ("m3/min", "meter**3/minute", 1e-12),
    ("m3/h", "meter**3/hour", 1e-12),
    ("L/s", "liter/second", 1e-12),
    ("L/min", "liter/minute", 1e-12),
    ("cfm", "foot**3/minute", 1e-12),
    ("ft3/s", "foot**3/second", 1e-12),
    ("s", "second", 1e-15),
    ("ms", "millisecond", 1e-12),
    ("min", "minute", 1e-15),
    ("h", "hour", 1e-15),
    ("d", "day", 1e-15),
    ("A", "ampere", 1e-15),
    ("mA", "milliampere", 1e-12),
    ("m3", "meter**3", 1e-15),
    ("L", "liter", 1e-12),
    ("ft3", "foot**3", 1e-12),
]
BASE_OF = {Kind.PRESSURE: "Pa", Kind.FLOW: "m3/s", Kind.DURATION: "s", Kind.CURRENT: "A", Kind.VOLUME: "m3"}


@pytest.mark.parametrize(("ours", "theirs", "relative"), PINT_NAMES)
def test_an_independent_library_agrees(ours: str, theirs: str, relative: float) -> None:
    base = BASE_OF[units.kind_of(ours)]
    oracle = pint.UnitRegistry()
    base_name = {"Pa": "pascal", "m3/s": "meter**3/second", "s": "second", "A": "ampere", "m3": "meter**3"}[base]

    expected = oracle.Quantity(1.0, theirs).to(base_name).magnitude

    assert units.factor(ours, base, CONVENTIONAL) == pytest.approx(expected, rel=relative)


def test_every_unit_but_two_was_put_before_the_oracle() -> None:
    """The oracle knows no inch of water at 68 °F, and a percentage converts into nothing."""
    assert set(ALL_UNITS) - {name for name, _, _ in PINT_NAMES} == {"inH2O_68F", "%"}


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("inH2O", "inH2O"),
        ("in. w.c.", "inH2O"),
        ("in w.g.", "inH2O"),
        ("inWC", "inH2O"),
        ("INWC", "inH2O"),
        ("iwc", "inH2O"),
        ("iwg", "inH2O"),
        ('"w.g.', "inH2O"),
        ("″ w.c.", "inH2O"),
        ("inH₂O", "inH2O"),
        ("inches of water", "inH2O"),
        ("inH2O @ 4 °C", "inH2O_4C"),
        ("inH2O (39.2 degF)", "inH2O_4C"),
        ("inH2O_60F", "inH2O_60F"),
        ("inH2O 20 °C", "inH2O_68F"),
        ("mm w.g.", "mmH2O"),
        ("PSI", "psi"),
        ("psig", "psi"),
        ("KPA", "kPa"),
        ("m³/h", "m3/h"),
        ("acfm", "cfm"),
        ("ft³/min", "cfm"),
        ("l/s", "L/s"),
        ("sec", "s"),
        ("hours", "h"),
        ("MIN", "min"),
        ("percent", "%"),
    ],
)
def test_spellings_that_can_mean_one_unit_only_are_taken(written: str, meant: str) -> None:
    assert units.canonical(written) == meant


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("w.g.", "inches or millimetres"),
        ("wc", "inches or millimetres"),
        ("MA", "mega"),
        ("Mbar", "mega"),
        ("mPa", "mega"),
        ("m", "min"),
        ("scfm", "reference state"),
        ("psia", "absolute"),
        ("furlong", "known are"),
        ("inH20", "known are"),
        ("", "known are"),
    ],
)
def test_spellings_that_could_mean_more_are_refused_with_a_way_out(written: str, hint: str) -> None:
    with pytest.raises(ValueError, match=hint):
        units.canonical(written)


def test_kinds_do_not_mix() -> None:
    with pytest.raises(ValueError, match=r"psi.*pressure.*cfm.*flow"):
        units.factor("psi", "cfm", CONVENTIONAL)


def test_every_listed_unit_knows_its_kind() -> None:
    for kind in Kind:
        assert {units.kind_of(unit) for unit in units.known_units(kind)} == {kind}


def test_no_alias_hides_a_unit_or_points_nowhere() -> None:
    for alias, name in units._ALIASES.items():
        assert units._folded(alias) == alias
        assert name in ALL_UNITS
        assert alias not in {units._folded(unit) for unit in ALL_UNITS}
    assert len({units._folded(unit) for unit in ALL_UNITS}) == len(ALL_UNITS)


@given(st.sampled_from(list(Kind)), st.data(), st.sampled_from(list(PA_PER_INCH_OF_WATER.values())))
def test_there_and_back_is_one(kind: Kind, data: st.DataObject, inch: float) -> None:
    names = st.sampled_from(units.known_units(kind))
    one, two, three = data.draw(names), data.draw(names), data.draw(names)

    there, back = units.factor(one, two, inch), units.factor(two, one, inch)

    assert there * back == pytest.approx(1.0, rel=1e-14)
    assert math.isclose(there * units.factor(two, three, inch), units.factor(one, three, inch), rel_tol=1e-14)
