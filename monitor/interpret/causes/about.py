"""About: what the question is about, when somebody asks for the causes."""

from enum import StrEnum


class About(StrEnum):
    """What calls: a DP that is high or low, one that cannot be trusted, or nothing yet."""

    HIGH = "high"
    LOW = "low"
    BAD_SIGNAL = "bad_signal"
    WARNING = "warning"
