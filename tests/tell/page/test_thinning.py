"""Thinning: few pieces that hide nothing of many rows."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.page.thinning import BAD, GOOD, UNCERTAIN, lowest_within, piece_s, thinned
from monitor.words import HistoryRow, Reason

T0 = 1_800_000_000


def row(start, low=1.0, high=2.0, *, bad=0, uncertain=0, good=10):
    last = None if low is None else (low + high) / 2
    reason = Reason.NO_ANSWER if bad else Reason.NONE
    return HistoryRow(
        start_utc_s=start, last=last, lowest=low, highest=high, mean=last,
        good=good, uncertain=uncertain, bad=bad, worst=reason,
    )  # fmt: skip


def blind(start):
    return row(start, None, None, bad=10, good=0)


@st.composite
def histories(draw):
    kinds = draw(st.lists(st.sampled_from(["good", "gap", "blind", "patchy", "uncertain"]), max_size=300))
    rows = []
    for number, kind in enumerate(kinds):
        start = T0 + 10 * number
        low = draw(st.floats(0, 10))
        if kind == "blind":
            rows.append(blind(start))
        elif kind != "gap":
            marks = {"patchy": {"bad": 3}, "uncertain": {"uncertain": 2}}.get(kind, {})
            rows.append(row(start, low, low + draw(st.floats(0, 3)), **marks))
    return rows


@given(rows=histories(), points=st.integers(50, 200), begins=st.integers(0, 600))
def test_no_extreme_and_no_blind_stretch_is_hidden(rows, points, begins):
    step_s = piece_s(3000.0, points, 10.0)
    pieces = thinned(rows, step_s)
    assert len(pieces) <= points
    assert [one.at_utc_s for one in pieces] == sorted({one.at_utc_s for one in pieces})
    for one in rows:
        (piece,) = [p for p in pieces if p.at_utc_s <= one.start_utc_s < p.at_utc_s + step_s]
        if one.lowest is None:
            assert piece.quality == BAD
        else:
            assert piece.low <= one.lowest
            assert piece.high >= one.highest
            assert piece.quality >= (UNCERTAIN if one.bad or one.uncertain else GOOD)
    lows = [one.lowest for one in rows if one.lowest is not None]
    assert min((p.low for p in pieces if p.low is not None), default=None) == min(lows, default=None)


@given(span_s=st.floats(60, 3 * 366 * 86400), points=st.integers(50, 2000), offset=st.integers(0, 10**6))
def test_there_are_never_more_pieces_than_asked(span_s, points, offset):
    for row_s in (1.0, 10.0, 60.0, 3600.0):
        step_s = piece_s(span_s, points, row_s)
        first, last = T0 + offset - row_s, T0 + offset + span_s
        assert last // step_s - first // step_s + 1 <= points + (1 if span_s <= row_s else 0)
        assert step_s % row_s == 0


def test_a_piece_without_a_row_is_missing():
    assert [one.at_utc_s for one in thinned([row(T0), row(T0 + 40)], 10.0)] == [T0, T0 + 40]


def test_a_blind_row_among_good_ones_is_told_with_what_was_seen():
    (piece,) = thinned([row(T0), blind(T0 + 10)], 20.0)
    assert (piece.low, piece.high, piece.quality) == (1.0, 2.0, BAD)


@given(
    lows=st.lists(st.one_of(st.none(), st.floats(0, 10)), min_size=1, max_size=80),
    window=st.sampled_from([10.0, 50.0, 200.0]),
    step=st.sampled_from([10.0, 30.0]),
    stood=st.sets(st.integers(0, 79)),
)
def test_the_residual_is_the_lowest_of_the_window_while_the_fan_ran(lows, window, step, stood):
    base = T0 // 30 * 30
    rows = [blind(base + 10 * n) if low is None else row(base + 10 * n, low, low) for n, low in enumerate(lows)]
    standing = frozenset(base + 10 * n for n in stood)
    found = dict(lowest_within(rows, standing, window, step))
    for begin in {one.start_utc_s // step * step for one in rows}:
        last = max(one.start_utc_s for one in rows if one.start_utc_s // step * step == begin)
        running = [one for one in rows if one.lowest is not None and one.start_utc_s not in standing]
        seen = [one.lowest for one in running if last - window < one.start_utc_s <= last]
        assert found.get(begin) == min(seen, default=None)
