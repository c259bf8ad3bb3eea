"""Values: the text behind one key becomes a number, a choice or a name, or a sentence about what it must be.

Everything arrives as it stands in the file: ``017`` is seventeen, ``1e3`` is a thousand, and yes and no are
taken for a truth value only where one is asked for.
"""

import difflib
import math
import re
from collections.abc import Iterable, Sequence
from typing import Any

NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"

_NUMBER = re.compile(NUMBER, re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,15}", re.ASCII)
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


class UnfitError(ValueError):
    """A value is not what its key wants.

    Attributes:
        wanted: a clause that goes on from the key: "must be …".
        note: what is odd about what was found, to stand behind it; may be empty.
    """

    def __init__(self, wanted: str, note: str = "") -> None:
        self.wanted = wanted
        self.note = note
        super().__init__(wanted)


def text(value: Any, wanted: str) -> str:
    """Return the value if it is one line of text that is not empty, without blanks around it."""
    if isinstance(value, str) and value.strip() and "\n" not in value.strip():
        return value.strip()
    raise UnfitError(wanted)


def number(value: Any, wanted: str) -> float:
    """Return a finite decimal number with a point, such as ``-0.5`` or ``1e3``."""
    plain = text(value, wanted)
    if not _NUMBER.fullmatch(plain):
        raise UnfitError(wanted, number_note(plain))
    found = float(plain)
    if not math.isfinite(found):
        raise UnfitError(wanted, "too large")
    return found


def number_note(plain: str) -> str:
    """Return what is probably meant by a number that is not one."""
    if re.match(r"[+-]?\d+,\d+", plain):
        return "write the decimal point as a point"
    return "the minus sign is not the plain one" if plain.startswith(("−", "–")) else ""


def whole(value: Any, low: int, high: int, wanted: str) -> int:
    """Return a whole number from ``low`` to ``high``, read as decimal whatever zeros it begins with."""
    plain = text(value, wanted)
    if not _WHOLE.fullmatch(plain) or not low <= int(plain) <= high:
        raise UnfitError(wanted)
    return int(plain)


def yes_no(value: Any) -> bool:
    """Return the truth value of yes, no, true or false; ``on`` and ``off`` are left to switches."""
    wanted = "must be yes or no"
    found = _YES_NO.get(text(value, wanted).casefold())
    if found is None:
        raise UnfitError(wanted)
    return found


def choice(value: Any, choices: Sequence[str]) -> str:
    """Return one of the choices, as written there."""
    wanted = f"must be {listed(choices)}"
    found = text(value, wanted)
    if found not in choices:
        raise UnfitError(wanted, meant(found, choices))
    return found


def name(value: Any, what: str, longest: int = 40) -> str:
    """Return a name or tag of letters, digits, ``. _ -`` that begins with a letter or digit."""
    wanted = f"must be {what}: letters, digits, dot, underscore and hyphen, {longest} at most"
    found = text(value, wanted)
    if len(found) > longest or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", found):
        raise UnfitError(wanted)
    return found


def listed(words: Sequence[str]) -> str:
    """Return ``a``, ``a or b``, ``a, b or c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def meant(found: str, known: Iterable[str]) -> str:
    """Return ``did you mean "x"?`` for a near miss, or nothing."""
    by_fold = {word.casefold(): word for word in known}
    folded = found.casefold().replace(" ", "_") if found.casefold() not in by_fold else found.casefold()
    near = difflib.get_close_matches(folded, by_fold, n=1, cutoff=0.7)
    return f'did you mean "{by_fold[near[0]]}"?' if near else ""
