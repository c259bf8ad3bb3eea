"""Lock: one daemon for each store.

The kernel drops the lock when its holder ends, however it ends, so a lock never has to be removed by hand.
"""

import fcntl
import os
from pathlib import Path

from monitor.errors import StoreError

LOCK_NAME = "lock"


class FolderLock:
    """Holds the store's folder from its making until ``release`` or the end of the process.

    Raises:
        StoreError: another process holds it, or the folder cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        try:
            self._descriptor = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            raise StoreError(
                f"The store folder {folder} cannot be written ({error.strerror}): "
                "give it to the user the daemon runs as, or name another folder in the site file."
            ) from error
        self._take(folder)

    def _take(self, folder: Path) -> None:
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            holder = os.pread(self._descriptor, 20, 0).decode("ascii", "replace").strip()
            os.close(self._descriptor)
            who = f"process {holder}" if holder else "another process"
            raise StoreError(
                f"The store in {folder} is in use by {who}: "
                "stop that daemon first, or give this one a folder of its own."
            ) from error
        self._sign()

    def _sign(self) -> None:
        # The number is only for the sentence above; a full disk must not keep the daemon from starting.
        try:
            os.ftruncate(self._descriptor, 0)
            os.pwrite(self._descriptor, f"{os.getpid()}\n".encode("ascii"), 0)
        except OSError:
            return

    def release(self) -> None:
        """Let the next one in; may be called twice."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1
