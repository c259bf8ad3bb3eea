"""Waiting: until something holds, bounded, with a complaint that says what did not come."""

import time
from collections.abc import Callable
from typing import TypeVar

Found = TypeVar("Found")


def until(holds: Callable[[], Found], within_s: float, what: str | Callable[[], object] = "") -> Found:
    """Return what ``holds`` gives as soon as it is true; AssertionError after ``within_s``."""
    deadline_s = time.monotonic() + within_s
    while not (found := holds()):
        if time.monotonic() > deadline_s:
            said = what() if callable(what) else what
            raise AssertionError(f"not within {within_s:g} s: {said}")
        time.sleep(0.02)
    return found
