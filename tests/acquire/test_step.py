"""May an answer on an RTU line still belong to an earlier request?"""

from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.framing import Shape, shape_of
from monitor.acquire.settings import ForbiddenGap
from monitor.acquire.step import FORGET_S, Step, proof_block
from monitor.words import Block, Table

HOLDING = Table.HOLDING_REGISTER


def block(address=0, count=1, table=HOLDING, unit_id=1):
    return Block(unit_id, table, address, count, ())


def forbidden(first, last, table=HOLDING):
    return ForbiddenGap(link="north", unit_id=1, table=table, first=first, last=last)


def proof(blocks, owed, gaps=(), most=125):
    found = proof_block(blocks, frozenset(owed), gaps, most)
    return None if found is None else (found.table, found.address, found.count)


def test_a_block_of_another_shape_is_its_own_proof():
    assert proof([block(0, 2), block(10, 3)], {Shape(3, 4)}) == (HOLDING, 0, 1)
    assert proof([block(0, 1), block(10, 3)], {Shape(3, 2)}) == (HOLDING, 10, 3)


def test_a_lone_register_is_proved_by_one_more():
    assert proof([block(7, 1)], {Shape(3, 2)}) == (HOLDING, 7, 2)


def test_where_one_more_is_forbidden_another_table_is_asked():
    assert proof([block(7, 1)], {Shape(3, 2)}, [forbidden(8, 8)]) == (Table.COIL, 7, 1)
    assert proof([block(65535, 1)], {Shape(3, 2)}) == (Table.COIL, 65535, 1)
    assert proof([block(7, 1)], {Shape(3, 2)}, most=1) == (Table.COIL, 7, 1)


def test_where_nothing_is_left_there_is_no_proof():
    owed = {Shape(3, 2), Shape(3, 4), Shape(4, 2), Shape(1, 1), Shape(2, 1)}
    assert proof([block(7, 1)], owed) == (Table.COIL, 7, 9)
    owed |= {Shape(function, n) for function in (1, 2) for n in range(1, 5)}
    owed |= {Shape(function, 2 * n) for function in (3, 4) for n in range(1, 5)}
    assert proof([block(7, 1)], owed) is None
    assert proof([block(65535, 1)], {Shape(3, 2), Shape(4, 2), Shape(1, 1), Shape(2, 1)}) is None


def test_bits_are_told_apart_by_whole_bytes():
    assert proof([block(0, 20, Table.COIL)], {Shape(1, 3)}) == (Table.COIL, 0, 12)


@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(1, 9), st.sampled_from(list(Table))), min_size=1, max_size=4
    ),
    st.sets(st.tuples(st.integers(1, 4), st.integers(1, 20)), max_size=12),
    st.lists(st.tuples(st.integers(0, 70), st.integers(0, 4), st.sampled_from(list(Table))), max_size=4),
)
def test_a_proof_is_never_mistakable_and_never_forbidden(places, owed, gaps):
    blocks = [block(address, count, table) for address, count, table in places]
    forbid = [forbidden(first, first + more, table) for first, more, table in gaps]
    owed = frozenset(Shape(*one) for one in owed)

    found = proof_block(blocks, owed, forbid, 125)

    if found is not None:
        assert shape_of(found) not in owed
        read = range(found.address, found.address + found.count)
        assert not any(g.table is found.table and g.first <= a <= g.last for g in forbid for a in read)


def test_data_of_the_asked_shape_bring_the_line_back_in_step():
    step = Step()
    step.lose(Shape(3, 2), 10.0, 3.0)
    assert step.lost(11.0)
    assert step.quiet_until_s == 13.0

    assert step.prove(Shape(3, 4), 0x03, 14.0)
    assert not step.lost(14.0)


def test_an_exception_that_could_be_late_settles_only_the_oldest():
    step = Step()
    step.lose(Shape(3, 2), 10.0, 3.0)
    step.lose(Shape(3, 4), 20.0, 3.0)

    assert not step.prove(Shape(3, 6), 0x83, 24.0)
    assert step.owed(24.0) == {Shape(3, 4), Shape(3, 6)}


def test_an_exception_to_a_function_that_nobody_owes_is_a_proof():
    step = Step()
    step.lose(Shape(3, 2), 10.0, 3.0)

    assert step.prove(Shape(4, 2), 0x84, 14.0)
    assert not step.lost(14.0)


def test_what_is_owed_is_forgotten_in_the_end():
    step = Step()
    step.lose(Shape(3, 2), 10.0, 3.0)

    assert step.lost(10.0 + FORGET_S)
    assert not step.lost(10.1 + FORGET_S)
