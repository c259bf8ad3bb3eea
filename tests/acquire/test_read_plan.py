"""Which requests bring in all points of a link."""

import itertools
import random

from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.read_plan import plan_blocks
from monitor.acquire.settings import Address, ForbiddenGap, LinkPlan, LinkSettings, Protocol, Source
from monitor.words import PointId, Role, Table

HOLDING, INPUT, COIL = Table.HOLDING_REGISTER, Table.INPUT_REGISTER, Table.COIL


def link(**settings):
    return LinkSettings(name="north", protocol=Protocol.TCP, where=Address(host="127.0.0.1"), **settings)


def at(address, width=1, table=HOLDING, unit_id=1, name=None):
    point = PointId(name or f"{unit_id}/{table}/{address}/{width}", Role.DP)
    return Source(point=point, link="north", unit_id=unit_id, table=table, address=address, width=width)


def gap(first, last, table=HOLDING, unit_id=1):
    return ForbiddenGap(link="north", unit_id=unit_id, table=table, first=first, last=last)


def spans(*sources, forbidden=(), **settings):
    blocks = plan_blocks(LinkPlan(link=link(**settings), sources=sources, forbidden=tuple(forbidden)))
    return [(block.address, block.count) for block in blocks]


def test_neighbours_share_a_request():
    assert spans(at(0), at(1), at(2, width=2)) == [(0, 4)]


def test_a_gap_of_max_gap_is_read_along_and_a_wider_one_is_not():
    assert spans(at(0), at(9), max_gap=8) == [(0, 10)]
    assert spans(at(0), at(10), max_gap=8) == [(0, 1), (10, 1)]
    assert spans(at(0), at(2), max_gap=0) == [(0, 1), (2, 1)]


def test_a_forbidden_address_parts_neighbours():
    assert spans(at(0), at(4), forbidden=[gap(2, 2)]) == [(0, 1), (4, 1)]
    assert spans(at(0), at(4), forbidden=[gap(2, 2, unit_id=2)]) == [(0, 5)]
    assert spans(at(0), at(4), forbidden=[gap(2, 2, table=INPUT)]) == [(0, 5)]


def test_a_request_holds_at_most_max_registers():
    assert spans(*(at(i) for i in range(130))) == [(0, 125), (125, 5)]
    assert spans(*(at(i) for i in range(6)), max_registers=4) == [(0, 4), (4, 2)]


def test_a_request_holds_at_most_2000_bits():
    assert spans(*(at(i, table=COIL) for i in range(2001))) == [(0, 2000), (2000, 1)]


def test_a_two_register_point_is_never_split():
    assert spans(*(at(i) for i in range(124)), at(124, width=2)) == [(0, 124), (124, 2)]


def test_units_and_tables_never_share():
    assert len(spans(at(0), at(1, unit_id=2), at(2, table=INPUT))) == 3


def test_two_points_on_one_register_share_it():
    plan = LinkPlan(link=link(), sources=(at(5, name="a"), at(5, name="b"), at(5, width=2, name="c")))
    (block,) = plan_blocks(plan)

    assert (block.address, block.count) == (5, 2)
    assert sorted((slot.point.collector, slot.offset, slot.width) for slot in block.slots) == [
        ("a", 0, 1),
        ("b", 0, 1),
        ("c", 0, 2),
    ]


def test_nothing_to_read_is_no_request():
    assert plan_blocks(LinkPlan(link=link(), sources=())) == ()


@st.composite
def plans(draw):
    tables = st.sampled_from(list(Table))
    places = draw(
        st.lists(st.tuples(st.integers(1, 3), tables, st.integers(0, 300), st.integers(1, 2)), max_size=40)
    )
    sources = tuple(
        at(address, 1 if table.is_bit else width, table, unit_id, name=f"p{i}")
        for i, (unit_id, table, address, width) in enumerate(places)
    )
    gaps = draw(st.lists(st.tuples(st.integers(1, 3), tables, st.integers(0, 300), st.integers(0, 5)), max_size=6))
    asked = {(s.unit_id, s.table, s.address + i) for s in sources for i in range(s.width)}
    forbidden = tuple(
        gap(first, first + more, table, unit_id)
        for unit_id, table, first, more in gaps
        if not any((unit_id, table, address) in asked for address in range(first, first + more + 1))
    )
    settings = link(max_registers=draw(st.integers(2, 125)), max_gap=draw(st.integers(0, 124)))
    return LinkPlan(link=settings, sources=sources, forbidden=forbidden)


@given(plans(), st.randoms(use_true_random=False))
def test_every_source_lies_in_exactly_one_slot_and_no_limit_is_broken(plan: LinkPlan, dice: random.Random):
    blocks = plan_blocks(plan)
    found = {}
    for block in blocks:
        most = 2000 if block.table.is_bit else plan.link.max_registers
        assert 1 <= block.count <= most
        for slot in block.slots:
            assert slot.point not in found
            assert 0 <= slot.offset <= block.count - slot.width
            found[slot.point] = (block.unit_id, block.table, block.address + slot.offset, slot.width)
        for each in plan.forbidden:
            if (each.unit_id, each.table) == (block.unit_id, block.table):
                assert each.last < block.address or each.first >= block.address + block.count
        asked = {block.address + slot.offset + i for slot in block.slots for i in range(slot.width)}
        inside = sorted(asked)
        assert inside[0] == block.address
        assert inside[-1] == block.address + block.count - 1
        assert all(b - a - 1 <= plan.link.max_gap for a, b in itertools.pairwise(inside))
    assert found == {s.point: (s.unit_id, s.table, s.address, s.width) for s in plan.sources}

    shuffled = list(plan.sources)
    dice.shuffle(shuffled)
    again = LinkPlan(link=plan.link, sources=tuple(shuffled), forbidden=plan.forbidden)
    assert plan_blocks(again) == blocks
