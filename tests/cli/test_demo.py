"""The demonstration as a newcomer starts it: one process, real sockets, real output."""

import contextlib
import fcntl
import os
import pty
import re
import signal
import socket
import struct
import subprocess
import sys
import termios
import time
import urllib.request

import pytest


def start(*options: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "monitor", "demo", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def three_free_ports() -> int:
    """The first of three neighbouring ports that are free just now."""
    for first in range(20_000, 40_000, 7):
        held = []
        try:
            for port in (first, first + 1, first + 2):
                one = socket.socket()
                held.append(one)
                one.bind(("127.0.0.1", port))
        except OSError:
            continue
        else:
            return first
        finally:
            for one in held:
                one.close()
    raise AssertionError("no three free ports")


def metrics_within(patience_s: float, port: int) -> str:
    """The metrics page as soon as it has the third collector; the page opens a moment after the first lines."""
    deadline_s = time.monotonic() + patience_s
    text = ""
    while 'collector="DC-103"' not in text and time.monotonic() < deadline_s:
        time.sleep(0.05)
        with (
            contextlib.suppress(OSError),
            urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=2.0) as page,
        ):
            text = page.read().decode()
    return text


def test_it_tells_a_pipe_what_happens_and_ends_by_itself() -> None:
    """Some twenty plant minutes in six seconds: addresses and readings."""
    process = start("--speed", "240", "--minutes", "0.1")
    told, trouble = process.communicate(timeout=30)
    assert (process.returncode, trouble) == (0, "")
    assert told.startswith("Alder Mill, simulated, 240× real time")
    assert re.search(r"DC-101 .* \d\.\d\d inH2O good  fan running", told)
    assert re.search(r"0:2\d:\d\d  DC-103", told)


def test_what_it_prints_as_addresses_is_there() -> None:
    first = three_free_ports()
    process = start("--port", str(first), "--plain")
    try:
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(5)]
        assert f"mosquitto_sub -h 127.0.0.1 -p {first + 1}" in "".join(lines)
        assert 'collector="DC-103"' in metrics_within(10.0, first)
    finally:
        process.send_signal(signal.SIGTERM)
        asked_s = time.monotonic()
        process.communicate(timeout=10)
    assert process.returncode == 0
    # The product's promise: SIGTERM ends within 2 s.
    assert time.monotonic() - asked_s < 3.0


def test_a_taken_port_gets_a_sentence_and_no_traceback() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        process = start("--port", str(holder.getsockname()[1]))
        told, trouble = process.communicate(timeout=30)
    assert process.returncode == 3
    assert "is taken; choose others with --port" in trouble
    assert "Traceback" not in trouble
    assert told == ""


def test_on_a_terminal_it_draws_and_ctrl_c_ends_it() -> None:
    leader, follower = pty.openpty()
    fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-m", "monitor", "demo", "--speed", "240"],
        stdin=follower,
        stdout=follower,
        stderr=follower,
        env={**os.environ, "TERM": "xterm-256color"},
    )
    os.close(follower)
    drawn = b""
    while b"inH2O" not in drawn or "▆".encode() not in drawn:
        drawn += os.read(leader, 65536)
    process.send_signal(signal.SIGINT)
    # Reading goes on, for a full terminal would hold the process up; the end of the file is an error on a pty.
    with contextlib.suppress(OSError):
        while chunk := os.read(leader, 65536):
            drawn += chunk
    os.close(leader)
    assert process.wait(timeout=10) == 0
    # Bytes, for a signal in the middle of a write to a pty may cut a character of the old picture in two.
    assert b"Ended after" in drawn
    assert b"Traceback" not in drawn


@pytest.mark.long
def test_two_real_minutes_show_the_whole_story() -> None:
    process = start("--minutes", "1.8")
    told, trouble = process.communicate(timeout=150)
    assert (process.returncode, trouble) == (0, "")
    story = [line for line in told.splitlines() if "PDAH-101" in line and "inH2O good" not in line]
    assert "raised" in story[0]
    assert any("latched" in line for line in story)
    assert any("cleared by the timer" in line for line in story)
