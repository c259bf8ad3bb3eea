"""The mutants of the judge are killed by its tests: some of them by lot in the normal run, all in the long one."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.mutation.equivalent import EQUIVALENT
from tests.mutation.mutants import mutants_of
from tests.mutation.whole import every_mutant

ROOT = Path(__file__).parents[2]
DRAWN = 24
SEED = int(os.environ.get("CAKEWATCH_SEED", "26"))
#: Of all mutants, the equivalent ones counted as alive.
LEAST_PERCENT = 95.0


def run(*arguments):
    """The mutation test in a process of its own: it forks, and each fork runs pytest."""
    return subprocess.run(
        [sys.executable, "-m", "tests.mutation", *arguments], cwd=ROOT, capture_output=True, text=True
    )


@pytest.mark.timeout(300)
def test_no_mutant_of_a_draw_survives_that_is_not_known_to_change_nothing(record_property):
    done = run("--draw", str(DRAWN), "--seed", str(SEED))
    record_property("counts", f"seed {SEED}: {done.stdout.splitlines()[-1] if done.stdout else done.stderr}")

    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.long
@pytest.mark.timeout(7200)
def test_no_mutant_survives_and_those_that_change_nothing_are_few(record_property):
    done = run()
    record_property("counts", done.stdout.splitlines()[-1] if done.stdout else done.stderr)

    assert done.returncode == 0, done.stdout + done.stderr
    assert float(re.search(r"([\d.]+)% of all$", done.stdout.strip())[1]) >= LEAST_PERCENT


def test_there_are_many_mutants_and_each_has_a_name_of_its_own():
    names = [one.mutant.name for one in every_mutant()]

    assert len(names) > 800
    assert len(set(names)) == len(names)


def test_every_equivalent_mutant_is_one_and_says_why():
    assert set(EQUIVALENT) - {one.mutant.name for one in every_mutant()} == set()
    assert [name for name, why in EQUIVALENT.items() if len(why.split()) < 4] == []


@pytest.mark.parametrize(
    ("source", "mistakes"),
    [
        ("a = b < c", ["b < c → b <= c", "b < c → b >= c"]),
        ("a = b is None", ["b is None → b is not None"]),
        (
            "a = b <= c < d",
            [f"b <= c < d → {other}" for other in ("b < c < d", "b > c < d", "b <= c <= d", "b <= c >= d")],
        ),
        ("a = b and c", ["b and c → b or c", "b and c → c", "b and c → b"]),
        ("a = not b", ["not b → b"]),
        ("a = b + 2", ["b + 2 → b - 2", "2 → 3"]),
        ("a = True", ["True → False"]),
        ("a = 'b'", ["'b' → 'b?'"]),
        ("a = b if c else d", ["b if c else d → d if c else b"]),
        ("a = min(b, c)", ["min(b, c) → max(b, c)"]),
        ("a = replace(b, c=d)", ["replace(b, c=d) → replace(b)"]),
        ("a = Cause.PERSON", ["Cause.PERSON → Cause.TIMER"]),
        ("a = {b, c}", ["{b, c} → {c}", "{b, c} → {b}"]),
        ("def f():\n    return a", ["return a → return None"]),
        ("if a:\n    b()", ["if a: → if not a:", "b() → pass"]),
        ("while a:\n    continue", ["while a: → while not a:", "continue → break"]),
        ("a += b", ["a += b → pass"]),
        ("def f(a: int = 1) -> bool:\n    '''Says.'''", ["1 → 2"]),
        ("from a import b", []),
    ],
)
def test_each_kind_of_mistake_is_made(source, mistakes):
    made = [one.name.split(": ", 1)[1] for one in mutants_of("m", source, {"Cause": ["PERSON", "TIMER"]})]

    assert [mistake for mistake in made if mistake in mistakes] == mistakes
    assert all(mistake in mistakes or mistake.endswith("→ pass") for mistake in made)


def test_a_mutant_is_the_module_with_one_mistake():
    sources = [one.source for one in mutants_of("m", "a = 1\nb = 2", {})]

    assert sources == ["pass\nb = 2", "a = 2\nb = 2", "a = 1\npass", "a = 1\nb = 3"]
