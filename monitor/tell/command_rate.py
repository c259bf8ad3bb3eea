"""Command rate: so many at once, and so many a second.

A flood of commands must neither fill the journal nor keep the judge from its readings.
"""

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Fills by the second, up to its brim; each command takes one out.

    Attributes:
        brim: so many at once.
        a_second: so many a second over a longer time, above 0.
        level: what was in it at ``at_s``.
        at_s: seconds of any clock that never steps back.
    """

    brim: float
    a_second: float
    level: float
    at_s: float

    @classmethod
    def full(cls, brim: float, a_second: float, now_s: float) -> "Bucket":
        """One out of which nothing was taken yet."""
        return cls(brim=brim, a_second=a_second, level=brim, at_s=now_s)

    def level_at(self, now_s: float) -> float:
        """What is in it by now."""
        return min(self.brim, self.level + max(0.0, now_s - self.at_s) * self.a_second)

    def take(self, now_s: float) -> "Bucket | None":
        """The bucket with one less; None where there is not one in it."""
        level = self.level_at(now_s)
        return replace(self, level=level - 1.0, at_s=now_s) if level >= 1.0 else None

    def wait_s(self, now_s: float) -> float:
        """Seconds until there is one in it."""
        return max(0.0, 1.0 - self.level_at(now_s)) / self.a_second
