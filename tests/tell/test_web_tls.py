"""TLS of the HTTP address: modern, told in a sentence where it cannot be had, renewed without a restart."""

import contextlib
import socket
import ssl
import subprocess
import threading
import time
from pathlib import Path

import pytest

from monitor.errors import PlantError
from monitor.tell import web_connection, web_tls
from monitor.tell.settings import HttpSettings, ServerTls
from monitor.tell.web_tls import server_context
from tests.tell.served import LIMIT_S, ServedWeb

REQUEST = b"GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"


def make(folder: Path, name: str) -> ServerTls:
    tls = ServerTls(certificate_file=folder / f"{name}.crt", key_file=folder / f"{name}.key")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
         "-days", "2", "-subj", f"/CN={name}", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1",
         "-keyout", tls.key_file, "-out", tls.certificate_file],
        check=True, capture_output=True, timeout=30,
    )  # fmt: skip
    return tls


@pytest.fixture(scope="module")
def pairs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tls")
    return make(folder, "one"), make(folder, "other")


@pytest.fixture
def tls(pairs, tmp_path):
    """A pair that a test may spoil."""
    mine = ServerTls(certificate_file=tmp_path / "mine.crt", key_file=tmp_path / "mine.key")
    put(pairs[0], mine)
    return mine


def put(source: ServerTls, target: ServerTls) -> None:
    target.certificate_file.write_bytes(source.certificate_file.read_bytes())
    target.key_file.write_bytes(source.key_file.read_bytes())


def wrapped(address, tls, **limits):
    context = ssl.create_default_context(cafile=str(tls.certificate_file))
    for name, value in limits.items():
        setattr(context, name, value)
    return context.wrap_socket(socket.create_connection(address, timeout=LIMIT_S), server_hostname="localhost")


def answer_of(connection) -> bytes:
    connection.sendall(REQUEST)
    answer = b""
    while piece := connection.recv(4096):
        answer += piece
    return answer


def test_what_is_told_goes_through_tls_and_asks_for_it_from_now_on(tls):
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web, wrapped(web.server.address, tls) as connection:
        answer = answer_of(connection)
        assert connection.version() == "TLSv1.3"

    assert answer.startswith(b"HTTP/1.1 200 OK")
    assert b"strict-transport-security: max-age=31536000" in answer


def test_tls_1_2_is_taken_and_what_is_older_is_not(tls):
    old = ssl.TLSVersion
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web:
        with wrapped(web.server.address, tls, maximum_version=old.TLSv1_2) as connection:
            assert connection.version() == "TLSv1.2"
        with pytest.warns(DeprecationWarning, match="TLSv1_1"), pytest.raises((ssl.SSLError, OSError)):
            wrapped(web.server.address, tls, minimum_version=old.TLSv1_1, maximum_version=old.TLSv1_1)


def test_plain_http_is_not_answered_in_the_clear(tls):
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web, web.connect() as connection:
        connection.sendall(REQUEST)
        with contextlib.suppress(ConnectionResetError):
            assert b"HTTP/1.1 200" not in connection.recv(4096)


def test_the_figures_keep_their_own_plain_address(tls):
    settings = HttpSettings(port=0, tls=tls, metrics=("127.0.0.1", 0))
    with ServedWeb(settings) as web, socket.create_connection(web.server.metrics_address, LIMIT_S) as plain:
        assert answer_of(plain).startswith(b"HTTP/1.1 200 OK")


def swap(tls, pairs):
    tls.key_file.write_bytes(pairs[1].key_file.read_bytes())


def spoil(tls, _pairs):
    tls.certificate_file.write_text("no certificate")


def empty(tls, _pairs):
    tls.key_file.write_text("")


def lock(tls, _pairs):
    subprocess.run(
        ["openssl", "ec", "-in", tls.key_file, "-aes256", "-passout", "pass:x", "-out", tls.key_file],
        check=True, capture_output=True, timeout=30,
    )  # fmt: skip


def lose(tls, _pairs):
    tls.key_file.unlink()


@pytest.mark.parametrize(
    ("spoiled", "why"),
    [
        (swap, "the key that belongs to it"),
        (spoil, "must be a certificate with its chain"),
        (empty, "both PEM"),
        (lock, "without a password"),
        (lose, r"http\.tls\.key: .*mine\.key cannot be read \(No such file"),
    ],
)
def test_files_that_cannot_be_used_are_told_at_the_start_and_nothing_listens(tls, pairs, spoiled, why):
    spoiled(tls, pairs)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    with pytest.raises(PlantError, match=why), ServedWeb(HttpSettings(port=port, tls=tls)):
        pass
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port))


def test_a_renewed_certificate_is_shown_without_a_restart(tls, pairs, monkeypatch):
    monkeypatch.setattr(web_tls, "LOOK_AGAIN_S", 0.05)
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web:
        wrapped(web.server.address, pairs[0]).close()
        spoil(tls, pairs)
        time.sleep(0.2)
        wrapped(web.server.address, pairs[0]).close()
        put(pairs[1], tls)
        until = time.monotonic() + 5
        while time.monotonic() < until:
            try:
                wrapped(web.server.address, pairs[1]).close()
                break
            except ssl.SSLError:
                time.sleep(0.05)
        else:
            pytest.fail("the renewed certificate was never shown")


def test_half_a_renewal_leaves_the_old_pair(pairs, tls):
    context = server_context(tls)
    swap(tls, pairs)
    with pytest.raises(PlantError):
        web_tls.load(context, tls)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        served = threading.Thread(
            target=lambda: context.wrap_socket(listener.accept()[0], server_side=True).close()
        )
        served.start()
        wrapped(listener.getsockname(), pairs[0]).close()
        served.join()


def test_who_never_finishes_the_request_is_cut_off(tls, monkeypatch):
    monkeypatch.setattr(web_connection, "REQUEST_LIMIT_S", 0.3)
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web, wrapped(web.server.address, tls) as connection:
        connection.sendall(b"GET /health HT")
        began = time.monotonic()
        assert _ends(connection)
        assert time.monotonic() - began < 3.0


def _ends(connection) -> bool:
    try:
        return connection.recv(1) == b""
    except OSError:
        return True


def test_stopping_takes_less_than_a_second_whoever_is_connected(tls):
    with ServedWeb(HttpSettings(port=0, tls=tls)) as web:
        crowd = [wrapped(web.server.address, tls) for _ in range(5)] + [web.connect() for _ in range(5)]
        began = time.monotonic()
    assert time.monotonic() - began < 1.0
    for one in crowd:
        one.close()
