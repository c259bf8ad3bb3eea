"""The page's scripts: what is pure in them is tried by node, and every one of them is read by it."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[3] / "monitor" / "tell" / "page" / "static"
LAWS = Path(__file__).with_name("script_laws.mjs")
NODE = shutil.which("node")
SCRIPTS = sorted(STATIC.glob("*.js"))


def node(*args, zone="UTC"):
    assert NODE, "node must be there: apt-get install nodejs (18 or later)"
    environ = os.environ | {"PAGE": str(STATIC), "TZ": zone}
    return subprocess.run([NODE, *args], capture_output=True, text=True, timeout=60, env=environ)


def test_the_pure_modules_keep_their_laws():
    done = node("--test", str(LAWS))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "# pass 15" in done.stdout


def test_ticks_of_time_stand_on_midnights_where_clocks_change():
    done = node("--test", "--test-name-pattern=ticks of time", str(LAWS), zone="America/Chicago")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "# pass 1" in done.stdout


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_every_script_can_be_read(script, tmp_path):
    module = tmp_path / f"{script.stem}.mjs"  # so that every node reads it as a module
    module.write_bytes(script.read_bytes())
    done = node("--check", str(module))
    assert done.returncode == 0, done.stderr


def test_nothing_of_the_data_is_ever_read_as_markup():
    for script in SCRIPTS:
        text = script.read_text("utf-8")
        for way in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function"):
            assert way not in text, f"{script.name} uses {way}"


def test_the_pure_modules_ask_for_nothing():
    for name in ("words.js", "scale.js", "span.js"):
        text = (STATIC / name).read_text("utf-8")
        for world in ("document", "window", "fetch(", "Date.now", "performance", "localStorage", "Math.random"):
            assert world not in text, f"{name} uses {world}"


def test_every_file_that_the_page_names_is_there():
    index = (STATIC / "index.html").read_text("utf-8")
    named = {part.split('"')[0] for part in index.split("/page/")[1:]}
    assert named
    for name in named:
        assert (STATIC / name).is_file(), f"index.html names {name}"
