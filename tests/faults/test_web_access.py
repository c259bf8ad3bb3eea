"""Access at the running daemon: from another address of the machine over real sockets, and what a fuzzer asks."""

import http.client
import json
import socket
import time

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks

from monitor.tell.web_passwords import hash_password
from tests.peers.mosquitto import free_port
from tests.rig import sites
from tests.rig.rig import Rig
from tests.rig.watch import Watch

PASSWORD = "alder-mill-password"
TOKEN = "a-token-of-some-length-for-anna"
#: Cases of each address; the whole is run by hand and at night.
DRAWN, WHOLE = 12, 400
ALL_CHECKS = (
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_schema_conformance,
)


def another_address() -> str:
    """An address of this machine that is none of loopback's."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("198.51.100.1", 9))
        found = probe.getsockname()[0]
    assert not found.startswith("127.")
    return found


class Box:
    """A daemon that people reach from elsewhere."""

    def __init__(self, rig: Rig) -> None:
        self.far = another_address()
        self.port = rig.http_port
        self.metrics_port = free_port()
        device = rig.field.device()
        device.values[1, 0] = 4000
        rig.site(
            {"mill-gateway": sites.link(device.port)},
            {"DC-101": sites.collector(101, "mill-gateway", 1, 0, bands={"PDAH-101": sites.band()})},
            commands={
                "people": {
                    "anna": {"may": "all", "token_env": "ANNAS_TOKEN", "password_hash_env": "HASHED"},
                    "lena": {"may": "none", "password_hash_env": "HASHED"},
                }
            },
            http={
                "host": "0.0.0.0",
                "port": self.port,
                "metrics": {"host": "0.0.0.0", "port": self.metrics_port},
            },
        )
        self.watch: Watch = rig.daemon(ANNAS_TOKEN=TOKEN, HASHED=hash_password(PASSWORD))

    def ask(self, method, path, body=None, headers=None, *, host=None, port=None):
        connection = http.client.HTTPConnection(host or self.far, port or self.port, timeout=10)
        given = {"Content-Type": "application/json", **(headers or {})}
        connection.request(method, path, None if body is None else json.dumps(body), given)
        found = connection.getresponse()
        answer = found.status, dict(found.getheaders()), found.read()
        connection.close()
        return answer

    def log_in(self, person="anna", password=PASSWORD):
        status, headers, body = self.ask("POST", "/api/v1/login", {"person": person, "password": password})
        if status != 200:
            return status, {}
        session = {
            "Cookie": headers["set-cookie"].partition(";")[0],
            "X-Cakewatch-Token": json.loads(body)["csrf"],
        }
        return status, session


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    with Rig(tmp_path_factory.mktemp("access")) as rig:
        yield Box(rig)


def test_from_another_address_nothing_is_open_without_a_login(box):
    for path in ("/metrics", "/api/v1/alarms", "/api/v1/plant", "/api/v1/stream", "/api/v1/openapi.json"):
        assert box.ask("GET", path)[0] == 401
    assert box.ask("POST", "/api/v1/commands", {"command_id": "x1", "command": "silence", "by": "anna"})[0] == 401
    assert json.loads(box.ask("GET", "/health")[2])["checks"] == {}
    assert box.ask("GET", "/metrics", headers={"Authorization": f"Bearer {TOKEN}"})[0] == 200


def test_logging_in_there_opens_what_that_person_may_and_a_restart_logs_nobody_out(box):
    assert box.log_in(password="guess")[0] == 401
    anna, lena = box.log_in("anna")[1], box.log_in("lena")[1]
    asked = {"command_id": "x2", "command": "silence"}

    assert json.loads(box.ask("GET", "/api/v1/me", headers=lena)[2])["may"] == []
    assert box.ask("GET", "/api/v1/alarms", headers=lena)[0] == 200
    status, _, body = box.ask("POST", "/api/v1/commands", asked, lena)
    assert (status, json.loads(body)["code"]) == (403, "not_allowed")
    assert box.ask("POST", "/api/v1/commands", asked | {"command_id": "x3"}, anna)[0] == 200
    time.sleep(0.5)
    box.watch.kill()
    box.watch.start()
    assert box.ask("GET", "/api/v1/alarms", headers=anna)[0] == 200
    assert box.ask("POST", "/api/v1/logout", None, anna)[0] == 204
    assert box.ask("GET", "/api/v1/alarms", headers=anna)[0] == 401


def test_the_other_listener_tells_its_figures_to_everybody_and_nothing_else(box):
    assert box.ask("GET", "/metrics", port=box.metrics_port)[0] == 200
    assert json.loads(box.ask("GET", "/health", port=box.metrics_port)[2])["checks"]
    for path in ("/", "/api/v1/alarms", "/api/v1/me", "/api/v1/openapi.json"):
        assert box.ask("GET", path, port=box.metrics_port)[0] == 404
    assert box.ask("POST", "/api/v1/commands", {}, port=box.metrics_port)[0] == 404


def fuzz(box, examples: int, mode: GenerationMode) -> dict[str, int]:
    """Ask every address so many times; returns how often each was asked."""
    base = f"http://127.0.0.1:{box.port}"
    schema = schemathesis.openapi.from_url(f"{base}/api/v1/openapi.json")
    # The stream has no end to wait for; the page's own tests read it.
    operations = [one.ok() for one in schema.exclude(path="/api/v1/stream").get_all_operations()]
    return {one.label: fuzz_one(base, one, examples, mode) for one in operations}


def fuzz_one(base: str, operation, examples: int, mode: GenerationMode) -> int:
    """Ask this one so many times; returns how often it was asked."""
    count = 0

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(operation.as_strategy(generation_mode=mode))
    def ask(case):
        nonlocal count
        count += 1
        case.call_and_validate(base_url=base, checks=ALL_CHECKS, timeout=10)

    try:
        ask()
    except Unsatisfiable:
        # Nothing is given, or any text will do: there is no wrong question.
        assert mode is GenerationMode.NEGATIVE
    return count


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_whatever_a_fuzzer_asks_is_answered_as_the_document_says(box, mode):
    asked = fuzz(box, DRAWN, mode)

    assert {"GET /api/v1/alarms", "POST /api/v1/commands", "POST /api/v1/login"} <= {
        label for label, count in asked.items() if count >= DRAWN
    }
    assert box.watch.is_up()


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_whatever_a_fuzzer_asks_for_long_is_answered_as_the_document_says(box, mode):
    asked = fuzz(box, WHOLE, mode)

    assert sum(asked.values()) > 3 * WHOLE
    assert box.watch.is_up()
