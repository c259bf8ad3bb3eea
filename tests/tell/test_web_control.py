"""The control socket: the machine itself and nobody else, one daemon, and nothing left behind."""

import os
import socket
import stat
import threading
import time
from pathlib import Path

import pytest

from monitor.errors import PlantError
from monitor.tell import control_socket
from monitor.tell.control_socket import LONGEST_PATH_BYTES, ControlSocket
from monitor.tell.settings import HttpSettings
from monitor.words import Door
from tests.tell.page_table import page_table
from tests.tell.served import ServedWeb
from tests.tell.visiting import Mill

ACK = {"command_id": "a1", "command": "acknowledge", "tag": "PDAH-101", "by": "anna"}


@pytest.fixture
def path(tmp_path):
    return tmp_path / control_socket.NAME


def test_a_command_through_the_socket_is_the_command_lines(path):
    with ServedWeb(control=path) as web:
        status, answer = web.command(ACK)

    assert (status, answer["code"]) == (200, "done")
    assert (web.rulebook.commands[0].door, web.rulebook.commands[0].proven) == (Door.COMMAND_LINE, False)


@pytest.mark.parametrize(
    "headers",
    [
        {"Authorization": "Bearer guess"},
        {"Host": "elsewhere.example"},
        {"Origin": "https://elsewhere.example"},
        {"X-Forwarded-For": "192.0.2.7"},
    ],
)
def test_who_may_open_the_socket_needs_no_more(path, headers):
    with ServedWeb(control=path) as web:
        assert web.command(ACK, headers)[0] == 200
        assert web.ask("GET", "/api/v1/alarms", headers=headers)[0] == 200


def test_the_socket_tells_what_the_api_tells_and_has_no_page_login_or_link(path):
    with Mill(control=path, settings={}, addresses=page_table()) as web:
        table = {one.path for one in web.server._doors[0].table}

    assert {"/api/v1/alarms", "/api/v1/commands", "/api/v1/plant", "/api/v1/stream", "/health"} <= table
    assert not {"/api/v1/login", "/api/v1/logout", "/ack/{token}", "/page/{file}"} & table


def test_both_doors_stand_side_by_side_and_know_themselves(path):
    with ServedWeb(HttpSettings(port=0), path) as web:
        assert web.command(ACK)[0] == 200
        by_socket = control_socket.connect(path, 5.0)
        body = b'{"command_id":"a2","command":"silence","by":"ben"}'
        by_socket.sendall(
            b"POST /api/v1/commands HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n"
            b"Content-Type: application/json\r\nContent-Length: %d\r\n\r\n%s" % (len(body), body)
        )
        assert by_socket.recv(4096).startswith(b"HTTP/1.1 200")
        by_socket.close()

    assert [command.door for command in web.rulebook.commands] == [Door.HTTP, Door.COMMAND_LINE]


def test_a_crowd_at_the_address_does_not_keep_the_command_line_out(path):
    with ServedWeb(HttpSettings(port=0), path) as web:
        crowd = [web.connect() for _ in range(60)]
        with control_socket.connect(path, 5.0) as one:
            one.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n")
            assert one.recv(4096).startswith(b"HTTP/1.1 200")
        for connection in crowd:
            connection.close()


@pytest.mark.parametrize("mode", [0o600, 0o660])
def test_the_socket_is_its_owners_alone_unless_told_otherwise(path, mode):
    before = os.umask(0)
    try:
        with ServedWeb(control=path, **({} if mode == 0o600 else {"control_mode": mode})):
            found = path.lstat()
    finally:
        os.umask(before)

    assert stat.S_ISSOCK(found.st_mode)
    assert stat.S_IMODE(found.st_mode) == mode


def test_stopping_takes_the_socket_away(path):
    with ServedWeb(control=path):
        assert path.exists()

    assert not path.exists()


def test_stopping_leaves_what_another_put_there(path):
    with ServedWeb(control=path):
        path.unlink()
        path.write_text("somebody else's")

    assert path.read_text() == "somebody else's"


def test_stopping_takes_less_than_a_second_whoever_is_connected(path):
    with ServedWeb(control=path) as web:
        connections = [web.connect() for _ in range(3)]
        connections[0].sendall(b"POST /api/v1/commands HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n")
        began = time.monotonic()

    assert time.monotonic() - began < 1.0
    for connection in connections:
        connection.close()


def test_the_socket_of_a_dead_daemon_is_replaced(path):
    dead = socket.socket(socket.AF_UNIX)
    dead.bind(str(path))
    dead.listen()
    dead.close()

    with ServedWeb(control=path) as web:
        assert web.command(ACK)[0] == 200


def test_the_socket_of_a_living_daemon_is_not_taken_from_it(path):
    with ServedWeb(control=path) as web:
        with pytest.raises(PlantError, match="another cakewatch listens on"):
            ControlSocket(path).open()
        assert web.command(ACK)[0] == 200


def test_a_living_daemon_that_is_too_busy_is_alive(path):
    with socket.socket(socket.AF_UNIX) as busy:
        busy.bind(str(path))
        busy.listen(0)
        with control_socket.connect(path, 1.0), pytest.raises(PlantError, match="another cakewatch listens on"):
            ControlSocket(path).open()


def test_a_file_in_the_way_is_named_and_left(path):
    path.write_text("notes")

    with pytest.raises(PlantError, match=r"control\.sock is in the way of the control socket"):
        ControlSocket(path).open()
    assert path.read_text() == "notes"


def test_a_link_in_the_way_is_not_followed(path, tmp_path):
    (tmp_path / "elsewhere").write_text("notes")
    path.symlink_to(tmp_path / "elsewhere")

    with pytest.raises(PlantError, match="is in the way"):
        ControlSocket(path).open()
    assert path.is_symlink()


def test_a_folder_that_is_not_there_is_a_sentence(tmp_path):
    with pytest.raises(PlantError, match=r"No such file or directory.*the store folder must be one that can"):
        ControlSocket(tmp_path / "absent" / "control.sock").open()


@pytest.mark.parametrize("size", [LONGEST_PATH_BYTES, LONGEST_PATH_BYTES + 1, 300, 2000])
def test_a_path_of_any_length_can_be_used(tmp_path, size):
    path = tmp_path
    while len(os.fsencode(path)) + 210 < size - len("/control.sock"):
        path /= "d" * 200
    path /= "d" * (size - len(os.fsencode(path)) - len("//control.sock"))
    path.mkdir(parents=True)
    path /= control_socket.NAME
    assert len(os.fsencode(path)) == size

    with ServedWeb(control=path) as web:
        assert stat.S_IMODE(path.lstat().st_mode) == 0o600
        assert web.command(ACK)[0] == 200
        with pytest.raises(PlantError, match="another cakewatch"):
            ControlSocket(path).open()
    assert not path.exists()


def test_a_path_that_cannot_be_used_says_how_long_it_is(tmp_path, monkeypatch):
    folder = tmp_path / ("d" * 200)
    folder.mkdir()
    monkeypatch.setattr(control_socket, "_PROC", "/nowhere")

    with pytest.raises(PlantError, match="name a store folder whose path is shorter"):
        ControlSocket(folder / control_socket.NAME).open()


def test_where_the_socket_cannot_be_had_the_address_is_given_back(path):
    path.write_text("notes")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    with pytest.raises(PlantError, match="is in the way"), ServedWeb(HttpSettings(port=port), path):
        pass
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port))


def test_no_descriptor_is_left_open(path, tmp_path):
    long = tmp_path / ("d" * 200)
    long.mkdir()

    def once():
        for one in (path, long / control_socket.NAME):
            made = ControlSocket(one)
            listener = made.open()
            control_socket.connect(one, 1.0).close()
            with pytest.raises(PlantError):
                ControlSocket(one).open()
            listener.close()
            made.remove()
            with pytest.raises(OSError):
                control_socket.connect(one, 1.0)

    once()
    before = _open_descriptors()
    once()
    assert _open_descriptors() == before


def test_nobody_can_connect_before_the_rights_are_set(path, monkeypatch):
    """A socket that does not listen yet refuses everybody, whatever its rights."""
    seen = []
    chmod = type(path).chmod

    def look(self, mode):
        thread = threading.Thread(target=lambda: seen.append(_try(path)))
        thread.start()
        thread.join()
        chmod(self, mode)

    monkeypatch.setattr(type(path), "chmod", look)
    ControlSocket(path).open().close()

    assert seen == [ConnectionRefusedError]


def _open_descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def _try(path) -> type:
    try:
        control_socket.connect(path, 1.0).close()
    except OSError as error:
        return type(error)
    return type(None)
