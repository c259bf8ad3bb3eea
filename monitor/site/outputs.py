"""Outputs: what the annunciator writes, by name."""

from collections.abc import Iterator

from monitor.site.shape.annunciator import Annunciator, Written

#: The names that the link's worker knows them by.
NAMES = ("horn", "beacon", "heartbeat")

#: What a register is written for on and off, where the file says nothing else; a coil knows no other.
ON, OFF = 1, 0


def outputs_of(shape: Annunciator) -> Iterator[tuple[str, Written]]:
    """Yield each output that the file gives."""
    for name in NAMES:
        written = getattr(shape, name)
        if written is not None:
            yield name, written


def words_of(written: Written) -> tuple[int, int]:
    """Return what is written to energise and to de-energise an output."""
    on_word, off_word = written.on_word, written.off_word
    return ON if on_word is None else on_word, OFF if off_word is None else off_word
