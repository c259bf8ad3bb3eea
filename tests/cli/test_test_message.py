"""A test message, from the shell through the running daemon to a gateway and back as a sentence."""

import os
import subprocess
import sys

import pytest

from tests.peers.http_receiver import HttpReceiver
from tests.peers.manners import Manner, Manners
from tests.rig import sites
from tests.rig.rig import Rig


def asked(rig, *more):
    line = [sys.executable, "-m", "monitor", "test-message", str(rig.path / "site.yaml"), "--by", "anna", *more]
    return subprocess.run(line, capture_output=True, text=True, timeout=40)


@pytest.fixture
def rig(tmp_path, monkeypatch):
    with Rig(tmp_path) as rig, HttpReceiver() as good, HttpReceiver(Manners({Manner.REFUSE: 1.0})) as bad:
        rig.good = good
        monkeypatch.setenv("ANNA_PUSH", good.url)
        monkeypatch.setenv("BEN_PUSH", bad.url)
        phone = {
            "people": {
                "anna": {
                    "channels": {
                        "push": {"url_env": "ANNA_PUSH"},
                        "text": {"url_env": "ANNA_PUSH", "short": "yes"},
                    }
                },
                "ben": {"channels": {"push": {"url_env": "BEN_PUSH"}}},
            },
            "routes": {"all": {"steps": [{"people": ["anna", "ben"]}]}},
        }
        port = rig.field.device().port
        rig.site({"mill": sites.link(port)}, {"DC-101": sites.collector(101, "mill", 1, 0)}, phone=phone)
        rig.daemon(**{name: os.environ[name] for name in ("ANNA_PUSH", "BEN_PUSH")})
        yield rig


def test_every_channel_is_tried_and_its_outcome_shown(rig):
    told = asked(rig, "--person", "anna")

    assert told.returncode == 0, told.stderr
    assert "anna by push told of a test message" in told.stdout
    assert "anna by text told of a test message" in told.stdout
    assert len(rig.good.manners.arrivals) == 2


def test_a_gateway_that_refuses_is_told_with_its_reason_and_an_exit_code(rig):
    told = asked(rig)

    assert told.returncode == 1
    assert "ben by push not reached" in told.stdout
    assert "500" in told.stdout


def test_somebody_who_cannot_be_called_gets_a_sentence(rig):
    told = asked(rig, "--person", "cem")

    assert (told.returncode, told.stdout) == (1, "")
    assert "it names anna, ben" in told.stderr
