"""Daemon door: asks the daemon that is running on a site, over the control socket in its store's folder.

Of the site file only the store's folder is looked at, so that whoever acknowledges an alarm needs none of the
passwords that the file names, and waits for none of the checks that the daemon has made already.
"""

import http.client
import json
import sys
import time
from pathlib import Path
from typing import Any, NoReturn

import click

from monitor.errors import PlantError
from monitor.site import document
from monitor.tell import control_socket
from monitor.tell.command_form import read_answer, write_command
from monitor.words import Answer, AnswerCode, Command

#: The daemon is not there, may not be reached or does not answer.
NO_DAEMON = 3
#: Longer than the daemon takes to say that its disk does not answer.
ANSWER_LIMIT_S = 20.0
#: Where a command was one too many at once, it is sent again so often, and after so long.
_TRIES = 60
_PAUSE_S = 0.25
#: Whoever presses Tab waits no longer, seconds.
_PATIENCE_S = 1.0
#: As in the site file's description.
_DEFAULT_FOLDER = "./data"


class DaemonDoor:
    """The way to the daemon of one site.

    Args:
        folder: its store's.
        limit_s: what has no answer after this has none.
    """

    def __init__(self, folder: Path, limit_s: float | None = None) -> None:
        self._folder = folder
        self._limit_s = limit_s or ANSWER_LIMIT_S
        self._socket = folder / control_socket.NAME

    def send(self, command: Command) -> Answer:
        """What became of the command.

        Raises:
            PlantError: there is no daemon, or no answer of it; a sentence.
        """
        for _ in range(_TRIES):
            answer = self._sent(command)
            if answer.code is not AnswerCode.TOO_MANY:
                break
            time.sleep(_PAUSE_S)
        return answer

    def alarms(self, query: str) -> list[dict[str, Any]]:
        """The alarms that a query (``state=…&held=yes``) asks for.

        Raises:
            PlantError: as ``send``.
        """
        try:
            listed = json.loads(self._asked("GET", f"/api/v1/alarms?{query}"))["alarms"]
        except (ValueError, KeyError, TypeError):
            raise PlantError(self._of_another_kind()) from None
        return listed if isinstance(listed, list) else []

    def get(self, path: str) -> bytes:
        """What an address of the daemon answers.

        Raises:
            PlantError: as ``send``.
        """
        return self._asked("GET", path)

    def _sent(self, command: Command) -> Answer:
        try:
            return read_answer(self._asked("POST", "/api/v1/commands", write_command(command)))
        except ValueError:
            raise PlantError(self._of_another_kind()) from None
        except PlantError as error:
            again = f"to learn what became of it, send it again with --id {command.command_id}"
            raise PlantError(f"{error}; {again}") if isinstance(error, _SilentError) else error from None

    def _asked(self, method: str, path: str, body: bytes | None = None) -> bytes:
        connection = _UnixConnection(self._socket, self._limit_s)
        headers = {"Content-Type": "application/json"} if body else {}
        try:
            connection.connect()
        except OSError as error:
            raise PlantError(self._not_there(error)) from None
        try:
            connection.request(method, path, body, headers)
            return connection.getresponse().read()
        except (OSError, http.client.HTTPException):
            raise _SilentError(f"the daemon on the store {self._folder} did not answer") from None
        finally:
            connection.close()

    def _not_there(self, error: OSError) -> str:
        if isinstance(error, FileNotFoundError | ConnectionRefusedError):
            return f"no cakewatch is running on the store {self._folder}: start it with cakewatch run"
        if isinstance(error, PermissionError):
            return (
                f"the daemon's control socket {self._socket} may not be used by you: "
                "ask as the user that the daemon runs as, or as root"
            )
        return f"the daemon on the store {self._folder} cannot be reached: {error.strerror or error}"

    def _of_another_kind(self) -> str:
        return f"what answers on {self._socket} does not speak as this cakewatch does: is it of another version?"


class _SilentError(PlantError):
    """Asked, and no answer: whether a command was carried out is not known."""


class _UnixConnection(http.client.HTTPConnection):
    """HTTP over a socket of the file system."""

    def __init__(self, path: Path, limit_s: float) -> None:
        super().__init__("localhost", timeout=limit_s)
        self._path = path
        self._limit_s = limit_s

    def connect(self) -> None:
        """Reach the daemon."""
        if self.sock is None:
            self.sock = control_socket.connect(self._path, self._limit_s)


def door_of(site: Path) -> DaemonDoor:
    """The way to the daemon of this site file; a file that cannot be read ends the command."""
    return DaemonDoor(store_folder(site))


def quiet_door_of(site: Path) -> DaemonDoor:
    """The same for who must hear no sentence; PlantError where the file cannot be read."""
    folder = _folder_in(site)
    if folder is None:
        raise PlantError(f"{site} names no store")
    return DaemonDoor(folder, _PATIENCE_S)


def store_folder(site: Path) -> Path:
    """The folder of the store that this site file names."""
    folder = _folder_in(site)
    if folder is not None:
        return folder
    from monitor.cli.site_file import load_or_exit  # noqa: PLC0415  twice the start for what is hardly ever needed

    # Nothing short was found, so the long way says what is wrong with the file.
    return load_or_exit(site).store.folder


def _folder_in(site: Path) -> Path | None:
    try:
        found = document.read(site.read_bytes())
    except (OSError, ValueError):
        return None
    store = found.data.get("store", {})
    folder = store.get("folder", _DEFAULT_FOLDER) if isinstance(store, dict) else None
    is_fit = found.is_whole and isinstance(folder, str) and folder.strip()
    return site.parent / folder.strip() if is_fit and isinstance(folder, str) else None


def end_without_daemon(error: PlantError) -> NoReturn:
    """Say why there is no answer, and end the command."""
    click.echo(f"cakewatch: {error}", err=True)
    sys.exit(NO_DAEMON)
