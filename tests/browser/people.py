"""People: who may log in at the mill of the tests, and with what."""

import functools
from typing import Any

from argon2 import PasswordHasher

#: Anna operates, ben may only look.
MAY: dict[str, Any] = {"anna": "all", "ben": "none"}
PASSWORD = {"anna": "seven rows of bags", "ben": "only looking today"}


def _variable(person: str) -> str:
    return f"CAKEWATCH_HASH_{person.upper()}"


def block(*, machine: str = "all") -> dict[str, Any]:
    """The ``commands`` of the site file; ``machine`` is what may be done from the machine itself, unproven."""
    people = {name: {"may": may, "password_hash_env": _variable(name)} for name, may in MAY.items()}
    return {"machine": machine, "people": people}


@functools.cache
def environ() -> dict[str, str]:
    """What the daemon's environment must hold for it."""
    # As cheap as the library allows: the tests are not about how long a guess takes.
    hasher = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    return {_variable(name): hasher.hash(password) for name, password in PASSWORD.items()}
