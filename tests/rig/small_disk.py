"""Small disk: a folder that a test can fill to the last byte, and empty again.

A tmpfs where this machine lets us mount one; elsewhere a bound on the size of the daemon's files, set on the
running process, which SQLite meets in the same place.
"""

import contextlib
import os
import resource
import subprocess
from collections.abc import Iterator
from pathlib import Path

#: Room for both files of the store with their logs, which SQLite lets grow to about 4 MB each.
SIZE = 30_000_000


class SmallDisk:
    """Full or not, as told."""

    def __init__(self, folder: Path, *, mounted: bool) -> None:
        self.folder = folder
        self.mounted = mounted
        self._filler = folder / "filler"

    def fill(self, pid: int) -> None:
        """Leave no room at all for this process."""
        if not self.mounted:
            largest = max(file.stat().st_size for file in self.folder.rglob("*.db-wal"))
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (largest, resource.RLIM_INFINITY))
            return
        with self._filler.open("ab", buffering=0) as filler:
            for chunk in (65536, 1024, 1):
                with contextlib.suppress(OSError):
                    while True:
                        filler.write(b"\0" * chunk)

    def make_room(self, pid: int) -> None:
        """As it was."""
        if self.mounted:
            self._filler.unlink()
        else:
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


@contextlib.contextmanager
def small_disk(folder: Path, *, mounted: bool) -> Iterator[SmallDisk]:
    """Put it up under this folder; ``mounted`` asks for a tmpfs, and gets the bound where that cannot be."""
    folder.mkdir()
    got = mounted and _mount(folder)
    try:
        yield SmallDisk(folder, mounted=got)
    finally:
        if got:
            subprocess.run(["umount", "-l", str(folder)], check=True)


def _mount(folder: Path) -> bool:
    if os.geteuid() != 0:
        return False
    command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)]
    return subprocess.run(command, capture_output=True).returncode == 0
