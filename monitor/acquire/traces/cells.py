"""Cells: the texts of one column become numbers, failures and nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite

from monitor.acquire.traces.trace import Cell
from monitor.words import Failure, Reason

#: What historians write where a reading was bad (common practice, no source); case does not matter.
BAD_WORDS = frozenset(
    (
        *("bad", "nan", "inf", "-inf", "error", "fault", "failed", "invalid", "bad input", "comm fail"),
        *("comm error", "i/o timeout", "#n/a", "#value!", "#num!"),
    )
)
#: What stands where there is no reading.
EMPTY_WORDS = frozenset(("", "null", "none", "-", "–", "no data"))
_YES = dict.fromkeys(("1", "1.0", "true", "t", "yes", "y", "on", "running", "run", "open"), 1.0)
_NO = dict.fromkeys(("0", "0.0", "-0.0", "false", "f", "no", "n", "off", "stopped", "stop", "closed"), 0.0)
_YES_OR_NO: Mapping[str, float] = {**_YES, **_NO}

#: Told of a cell that cannot be read: which of them, and why.
Complain = Callable[[int, str], None]


@dataclass(frozen=True, slots=True)
class Reader:
    """How the cells of one column are read.

    Attributes:
        factor: inside units in one of the column's unit.
        is_yes_no: a yes/no point; else a number.
        decimal_comma: ``4,32`` is 4.32.
    """

    factor: float = 1.0
    is_yes_no: bool = False
    decimal_comma: bool = False


def read_column(reader: Reader, texts: Sequence[str], complain: Complain) -> tuple[list[Cell], list[int]]:
    """The cells, and the places of those that are no number.

    A cell that can be read as nothing at all is told of and taken as no reading.
    """
    if not reader.is_yes_no:
        whole = _numbers(reader, texts)
        if whole is not None:
            return whole, []
    known: dict[str, Cell] = {}
    cells = [_cell(reader, text, place, known, complain) for place, text in enumerate(texts)]
    return cells, [place for place, cell in enumerate(cells) if not isinstance(cell, float)]


def _numbers(reader: Reader, texts: Sequence[str]) -> list[Cell] | None:
    """All of them as numbers; None where one is none. The usual case, and the quick one."""
    try:
        if reader.decimal_comma:
            texts = [text.replace(",", ".") for text in texts]
        numbers = list(map(float, texts))
    except ValueError:
        return None
    if not isfinite(sum(numbers)):
        return None
    factor = reader.factor
    return [*numbers] if factor == 1.0 else [number * factor for number in numbers]


def _cell(reader: Reader, text: str, place: int, known: dict[str, Cell], complain: Complain) -> Cell:
    if text in known:
        return known[text]
    try:
        cell = _read(reader, text.strip())
    except ValueError as error:
        complain(place, str(error))
        return None
    if len(known) < 1000:  # texts repeat where a column needs this way, and numbers do not
        known[text] = cell
    return cell


def _read(reader: Reader, text: str) -> Cell:
    folded = text.casefold()
    if folded in EMPTY_WORDS:
        return None
    if folded in BAD_WORDS:
        return bad(text)
    if reader.is_yes_no:
        answer = _YES_OR_NO.get(folded)
        if answer is None:
            raise ValueError(f"{text!r} is neither yes nor no (1 or 0, true or false, on or off)")
        return answer
    try:
        number = float(text.replace(",", ".") if reader.decimal_comma else text) * reader.factor
    except ValueError:
        raise ValueError(f"{text!r} is no number") from None
    return number if isfinite(number) else bad(text)


def bad(text: str) -> Failure:
    """A reading that the recording itself calls bad."""
    return Failure(Reason.NOT_A_NUMBER, f"the trace says {text}")
