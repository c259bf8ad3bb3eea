"""Fault: one broken rule, not yet tied to a line."""

from typing import NamedTuple

from monitor.site.problems import KeyPath


class Fault(NamedTuple):
    """A broken rule: the key it is about, what would be right, and what was found (ready to print)."""

    path: KeyPath
    wanted: str
    found: str = ""
