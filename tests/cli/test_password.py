"""The hash of a password for the page's login, as the shell makes it."""

import argon2
import pytest
from click.testing import CliRunner

from monitor.cli.main import main

SECRET = "seven quiet bags"


def made(first, second=None):
    return CliRunner().invoke(main, ["password"], input=f"{first}\n{second or first}\n")


def test_what_it_prints_is_a_hash_of_the_password_and_nothing_else():
    told = made(SECRET)

    assert told.exit_code == 0
    (line,) = told.stdout.splitlines()
    assert SECRET not in told.output
    assert argon2.PasswordHasher().verify(line, SECRET)


def test_two_hashes_of_one_password_differ():
    assert made(SECRET).stdout != made(SECRET).stdout


@pytest.mark.parametrize("weak", ["short", "x" * 300])
def test_a_weak_password_gets_a_sentence(weak):
    told = made(weak)

    assert (told.exit_code, told.stdout) == (1, "")
    assert "a password has 10 to 256 characters" in told.stderr
    assert weak not in told.output
