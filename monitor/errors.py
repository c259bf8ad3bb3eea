"""Errors: sorted by whose turn it is to act.

    CakewatchError
    ├── SiteFileError     you: edit the site file (carries every problem found, not just the first)
    ├── PlantError        the world: expected, retried, becomes bad quality, never a crash
    └── StoreError        the disk: the daemon goes on judging and telling, and says so

Anything else that is raised is our own fault and may crash.
"""


class CakewatchError(Exception):
    """The root: everything here carries a sentence that says what to do next."""


class PlantError(CakewatchError):
    """A device, link, broker or file did not do what was asked; the next scan tries again."""


class StoreError(CakewatchError):
    """The journal or the history could not be written or read."""
