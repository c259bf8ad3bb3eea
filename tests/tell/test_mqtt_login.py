"""Why there is no connection, in one sentence, said once: login, TLS, ports that speak something else."""

import asyncio
import subprocess

import pytest

from monitor.tell.mqtt import connection
from monitor.tell.settings import TlsSettings
from tests.peers.mosquitto import Mosquitto, free_port
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for, running
from tests.tell.subscriber import Subscriber, until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])


@pytest.fixture(scope="module")
def papers(tmp_path_factory):
    """A certificate authority of our own, a broker's certificate for localhost, and a client's."""
    folder = tmp_path_factory.mktemp("papers")

    def openssl(*words: str) -> None:
        subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)

    ec = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes")
    for name in ("ca", "stranger"):
        openssl("req", "-x509", *ec, "-keyout", f"{name}.key", "-out", f"{name}.crt", "-subj", f"/CN={name}")
    (folder / "names").write_text("subjectAltName=DNS:localhost\n")
    for name in ("broker", "client"):
        openssl("req", *ec, "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", f"/CN={name}")
        signing = ("-CA", "ca.crt", "-CAkey", "ca.key", "-CAcreateserial", "-extfile", "names")
        openssl("x509", "-req", "-in", f"{name}.csr", "-out", f"{name}.crt", *signing)
    return folder


@pytest.fixture
def tls_lines(papers):
    return [
        f"{what}file {papers / name}"
        for what, name in (("ca", "ca.crt"), ("cert", "broker.crt"), ("key", "broker.key"))
    ]


@pytest.fixture
def passwords(tmp_path):
    file = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", file, "mill", "right"], check=True)
    return file


@BOTH
async def test_a_wrong_password_is_one_sentence_said_once_and_never_shown(tmp_path, version, caplog, passwords):
    with Mosquitto(tmp_path, f"password_file {passwords}", anonymous=False) as broker:
        outlet = outlet_for(broker.port, FakeJournal(), version=version, username="mill", password="wr0ng")
        async with running(outlet):
            await until(
                lambda: (
                    "password" in outlet.figures().last_error or "not authorised" in outlet.figures().last_error
                )
            )
            await asyncio.sleep(1.0)
            trouble = outlet.figures().last_error
        right = outlet_for(broker.port, FakeJournal(), version=version, username="mill", password="right")
        async with running(right):
            await until(lambda: right.figures().connected)

    assert trouble.startswith(f"the broker 127.0.0.1:{broker.port} refused us for user 'mill': ")
    assert "wr0ng" not in caplog.text + repr(outlet._settings)
    assert caplog.text.count("refused us") == 1


async def test_a_broker_with_a_certificate_of_our_authority_is_trusted(tmp_path, papers, tls_lines):
    journal = FakeJournal()
    journal.add(30)
    tls = TlsSettings(ca_file=papers / "ca.crt")
    with Mosquitto(tmp_path, *tls_lines) as broker:
        outlet = outlet_for(broker.port, journal, host="localhost", tls=tls)
        options = ("--cafile", str(papers / "ca.crt"), "-h", "localhost")
        with Subscriber(broker.port, *options) as subscriber:
            async with running(outlet):
                await until(lambda: journal.cursor("mqtt") == 30)
                await until(lambda: len(subscriber.seqs()) >= 1)


@pytest.mark.parametrize(
    ("host", "authority", "sentence"),
    [
        ("127.0.0.1", "ca.crt", "is made out to another name: mqtt.host must be a name it carries"),
        ("localhost", "stranger.crt", "is signed by nobody we trust"),
        ("localhost", "missing.crt", "missing.crt or its key cannot be read: No such file or directory"),
        ("localhost", "ca.key", "ca.key is no certificate"),
    ],
)
async def test_a_certificate_that_does_not_fit_is_named(tmp_path, papers, tls_lines, host, authority, sentence):
    with Mosquitto(tmp_path, *tls_lines) as broker:
        outlet = outlet_for(broker.port, FakeJournal(), host=host, tls=TlsSettings(ca_file=papers / authority))
        async with running(outlet):
            await until(lambda: sentence in outlet.figures().last_error)


@BOTH
async def test_a_client_certificate_opens_the_door_and_its_lack_is_named(tmp_path, papers, tls_lines, version):
    without = TlsSettings(ca_file=papers / "ca.crt")
    carried = TlsSettings(
        ca_file=papers / "ca.crt", certificate_file=papers / "client.crt", key_file=papers / "client.key"
    )
    with Mosquitto(tmp_path, *tls_lines, "require_certificate true") as broker:
        stranger = outlet_for(broker.port, FakeJournal(), host="localhost", tls=without, version=version)
        async with running(stranger):
            await until(lambda: "client certificate" in stranger.figures().last_error)
        known = outlet_for(broker.port, FakeJournal(), host="localhost", tls=carried, version=version)
        async with running(known):
            await until(lambda: known.figures().connected)


async def test_tls_on_a_plain_port_is_named(broker, papers):
    tls = TlsSettings(ca_file=papers / "ca.crt")
    outlet = outlet_for(broker.port, FakeJournal(), host="localhost", tls=tls)
    async with running(outlet):
        await until(lambda: "TLS" in outlet.figures().last_error)


async def test_a_broker_that_is_not_there_is_said_once_however_often_it_is_tried(caplog):
    outlet = outlet_for(free_port(), FakeJournal())
    async with running(outlet):
        await until(lambda: "refuses connections" in outlet.figures().last_error)
        await asyncio.sleep(1.0)

    assert caplog.text.count("refuses connections") == 1


async def test_a_host_name_that_nobody_knows_is_named():
    outlet = outlet_for(1883, FakeJournal(), host="no-such-host.invalid")
    async with running(outlet):
        await until(lambda: "the host name of the broker" in outlet.figures().last_error, 10)


async def test_a_port_that_never_answers_is_named_with_the_way_out(monkeypatch):
    monkeypatch.setattr(connection, "CONNECT_LIMIT_S", 0.3)
    server = await asyncio.start_server(lambda _reader, _writer: asyncio.sleep(30), "127.0.0.1", 0)
    outlet = outlet_for(server.sockets[0].getsockname()[1], FakeJournal())
    async with running(outlet):
        await until(lambda: "took the connection but never answered" in outlet.figures().last_error)
    server.close()

    assert "try mqtt.version 3" in outlet.figures().last_error


@pytest.mark.parametrize(
    "answer", [b"HTTP/1.1 400 Bad Request\r\n\r\n", b"\x20\xff\xff\xff\xff", b"\x20\x02\x00", b""]
)
async def test_a_port_that_speaks_something_else_ends_in_a_sentence(answer, caplog):
    async def speak(_reader, writer) -> None:
        writer.write(answer)
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(speak, "127.0.0.1", 0)
    outlet = outlet_for(server.sockets[0].getsockname()[1], FakeJournal())
    async with running(outlet) as task:
        await until(lambda: outlet.figures().last_error != "")
        await asyncio.sleep(0.5)
        assert not task.done()
    server.close()

    assert "Traceback" not in caplog.text
