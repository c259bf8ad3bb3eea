"""Equivalent: mutants that change nothing, each by name and with the reason why no test can tell it."""

from collections.abc import Mapping

EQUIVALENT: Mapping[str, str] = {}
