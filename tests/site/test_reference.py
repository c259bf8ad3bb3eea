"""Reference numbers: off by one nowhere."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.site import reference
from monitor.words import Table


@pytest.mark.parametrize(
    ("number", "table", "address"),
    [
        ("00001", Table.COIL, 0),
        ("09999", Table.COIL, 9998),
        ("10001", Table.DISCRETE_INPUT, 0),
        ("30001", Table.INPUT_REGISTER, 0),
        ("300001", Table.INPUT_REGISTER, 0),
        ("40108", Table.HOLDING_REGISTER, 107),
        ("410000", Table.HOLDING_REGISTER, 9999),
        ("465536", Table.HOLDING_REGISTER, 65535),
    ],
)
def test_a_reference_number_is_one_more_than_its_address(number, table, address):
    assert reference.parse(number) == (table, address)


@pytest.mark.parametrize("number", ["30000", "400000", "465537", "099999"])
def test_entries_that_do_not_exist_are_refused(number):
    with pytest.raises(ValueError, match="from 1 to 65536"):
        reference.parse(number)


@given(st.sampled_from(Table), st.integers(0, 65535))
def test_both_ways_of_counting_name_the_same_entry(table, address):
    assert reference.parse(reference.reference_of(table, address)) == (table, address)


def test_an_address_that_looks_like_a_reference_number_is_noticed():
    assert reference.mistaken_for_address(Table.HOLDING_REGISTER, 40001) == 0
    assert reference.mistaken_for_address(Table.INPUT_REGISTER, 40001) is None
    assert reference.mistaken_for_address(Table.HOLDING_REGISTER, 9999) is None


def test_a_place_shows_both_ways():
    assert (
        reference.place("mill-gateway", 1, Table.INPUT_REGISTER, 0)
        == "mill-gateway unit 1, input register, protocol address 0 (reference 30001)"
    )
    assert reference.place("g", 7, Table.HOLDING_REGISTER, 9, 2).endswith(
        "protocol addresses 9 to 10 (reference 40010 to 40011)"
    )
