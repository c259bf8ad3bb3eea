"""Store settings: where the file lies and how large it may grow."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreSettings:
    """Two SQLite files in one folder: ``journal.db`` and ``history.db``.

    Attributes:
        folder: an existing or creatable folder that the daemon may write.
        history_step_s: one row of history for each point and this many seconds, 1 to 3600.
        keep_history_s: steps of the history older than this are dropped.
        keep_minutes_s, keep_hours_s: the same of its minutes and hours.
        max_history_mb: and so are the oldest beyond this size, 1 or more (megabytes of 1,000,000 bytes): steps
            first, then minutes, hours last; a week of steps and a month of minutes stay as long as they can. What
            fits, ``monitor.remember.sizes`` tells. The file may be about 1 MB larger, and has a log of about 4 MB
            beside it while the daemon runs.
        flush_s: readings are written together this often, to spare flash memory, 1 to 300.
        keep_events: most events kept; the oldest that every outlet has confirmed go first. Unconfirmed ones
            stay up to twice as many; then the oldest are given up, and counted as dropped.
    """

    folder: Path
    history_step_s: float = 10.0
    keep_history_s: float = 90 * 86400.0
    keep_minutes_s: float = 400 * 86400.0
    keep_hours_s: float = 1830 * 86400.0
    max_history_mb: int = 500
    flush_s: float = 10.0
    keep_events: int = 100_000
