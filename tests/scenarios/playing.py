"""Playing: a trial read as the daemon reads it, digest by digest, with the truth beside each."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.interpret.digest import Digest
from monitor.interpret.gathering import EMPTY, gather
from monitor.plant.telling import Shown
from monitor.plant.trial import Trial, shown


class Played(NamedTuple):
    """One digest, and the last moment that went into it."""

    digest: Digest
    last: Shown


def played(trial: Trial, digest_s: float = 5.0) -> Iterator[Played]:
    """Play the trial; every digest with the truth at its end."""
    state, last = EMPTY, None
    for one in shown(trial):
        state, digest = gather(digest_s, state, one.sample)
        if digest is not None and last is not None:
            yield Played(digest, last)
        last = one


def digests(trial: Trial, digest_s: float = 5.0) -> Iterator[Digest]:
    """Play the trial; its digests alone."""
    return (one.digest for one in played(trial, digest_s))
