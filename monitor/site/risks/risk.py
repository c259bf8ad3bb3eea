"""Risk: one warning, not yet tied to a line."""

from typing import NamedTuple

from monitor.site.problems import KeyPath


class Risk(NamedTuple):
    """A risky setting: the key it is about, and a clause that says what will happen and what would be better."""

    path: KeyPath
    sentence: str
