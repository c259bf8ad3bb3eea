"""Control socket: where the command line of the same machine finds the daemon, a socket in the store's folder.

Who may connect is what the file system says (mode 0600: the daemon's own user, and root). A socket that a dead
daemon left is replaced, that of a living one is not touched. Two daemons never come here at once: the store lets
in only one.

Linux takes at most 107 bytes of a socket's path (unix(7)). A longer one is reached through the opened folder,
``/proc/self/fd/N/control.sock``: the socket lies where it would have lain, under the same rights, and the command
line finds it in the same way, with nothing to agree upon.
"""

import contextlib
import os
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

from monitor.errors import PlantError

NAME = "control.sock"
LONGEST_PATH_BYTES = 107
_PROC = "/proc"


class ControlSocket:
    """The daemon's end.

    Args:
        path: where it lies; the folder must be there.
        mode: who may connect; 0o660 lets the folder's group in too.
    """

    def __init__(self, path: Path, mode: int = 0o600) -> None:
        self._path = path
        self._mode = mode
        self._made: tuple[int, int] | None = None

    def open(self) -> socket.socket:
        """Listen.

        Raises:
            PlantError: it cannot be had; the sentence says why.
        """
        self._clear_the_place()
        listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            with _address(self._path) as address:
                listener.bind(address)
            # Nobody can connect before it listens, so nobody does before its rights are set.
            self._path.chmod(self._mode)
            found = self._path.lstat()
            self._made = found.st_dev, found.st_ino
            listener.listen(16)
            listener.setblocking(False)
        except OSError as error:
            listener.close()
            raise PlantError(_cannot(self._path, error)) from None
        return listener

    def remove(self) -> None:
        """Take it away, if it is still the one that was made here; may be called twice."""
        with contextlib.suppress(OSError):
            found = self._path.lstat()
            if (found.st_dev, found.st_ino) == self._made:
                self._path.unlink()
        self._made = None

    def _clear_the_place(self) -> None:
        try:
            found = self._path.lstat()
        except FileNotFoundError:
            return
        except OSError as error:
            raise PlantError(_cannot(self._path, error)) from None
        if not stat.S_ISSOCK(found.st_mode):
            raise PlantError(f"{self._path} is in the way of the control socket and is none: move it elsewhere")
        if _is_alive(self._path):
            raise PlantError(f"another cakewatch listens on {self._path}: stop it first")
        with contextlib.suppress(FileNotFoundError):
            self._path.unlink()


def connect(path: Path, timeout_s: float) -> socket.socket:
    """A connection to the daemon.

    Raises:
        OSError: there is none, or it may not be reached.
    """
    connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        connection.settimeout(timeout_s)
        with _address(path) as address:
            connection.connect(address)
    except OSError:
        connection.close()
        raise
    return connection


def _is_alive(path: Path) -> bool:
    """Whether somebody listens; who cannot be asked (no right, all places taken) is taken to be alive."""
    try:
        connect(path, 1.0).close()
    except (ConnectionRefusedError, FileNotFoundError):
        return False
    except OSError:
        return True
    return True


@contextlib.contextmanager
def _address(path: Path) -> Iterator[str]:
    """The path in a form that the system takes."""
    if len(os.fsencode(path)) <= LONGEST_PATH_BYTES:
        yield str(path)
        return
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"{_PROC}/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)


def _cannot(path: Path, error: OSError) -> str:
    why = error.strerror or str(error)
    sentence = f"the control socket {path} cannot be had ({why}), so the command line would find no daemon: "
    size = len(os.fsencode(path))
    if size > LONGEST_PATH_BYTES and path.parent.is_dir():
        return f"{sentence}its path has {size} bytes; name a store folder whose path is shorter than 90"
    return f"{sentence}the store folder must be one that can be written and can hold sockets"
