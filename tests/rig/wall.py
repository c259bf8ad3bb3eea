"""Wall: the wall clock of a daemon that was started bent, set from the test at any moment."""

from pathlib import Path


class Wall:
    """``environ`` goes to the daemon; it looks at the file each time it wants to know the time."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "wall"
        self.environ = {"RIG_WALL_FILE": str(self._file)}
        self.set_off(0.0)

    def set_off(self, seconds: float) -> None:
        """Have the wall clock be off by so much, from now on."""
        fresh = self._file.with_suffix(".new")
        fresh.write_text(str(seconds))
        fresh.replace(self._file)  # whole, or not at all: a file half written would be a step of its own
