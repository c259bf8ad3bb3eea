"""Trial: one mutant before the tests that are quickest to kill it.

Each trial is a fork of a process that has the libraries loaded already, so that it costs the tests alone. The
mutated module is put in place of the real one while the tests import it; nothing is written to disk.
"""

import contextlib
import importlib.abc
import importlib.util
import os
import resource
import sys
from pathlib import Path

import hypothesis  # noqa: F401  loaded once, before the forks
import pytest

from tests.mutation.mutants import Mutant

ROOT = Path(__file__).parents[2]
#: Quick examples first, then the smallest worlds of the model; everything here fails the same way each time.
KILLERS = (
    "tests/judge/test_table.py",
    "tests/house/test_diagram.py::test_the_page_shows_what_the_code_says[diagram]",
    "tests/house/test_diagram.py::test_the_page_shows_what_the_code_says[table]",
    "tests/judge/test_lifecycle.py",
    "tests/judge/test_moves.py",
    "tests/judge/test_holds.py",
    "tests/judge/test_watch.py",
    "tests/judge/test_watch_holds.py",
    "tests/judge/test_calm.py",
    *(
        f"tests/judge/test_model.py::test_every_invariant_holds_in_every_reachable_state[{world}]"
        for world in (
            "signal, counting back",
            "seen at every moment, latching",
            "band, not latching",
            "collector, restarts",
        )
    ),
)
#: Drawn days fail one way today and another tomorrow.
DRAWN = "not never_changes_a_judgement"
#: A mutant that loops for ever is killed by this many seconds of processor time.
CPU_S = 30
#: How a trial may end: the last two where a mutant cannot even be imported.
_SEEN = {
    *(pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED),
    *(pytest.ExitCode.INTERRUPTED, pytest.ExitCode.USAGE_ERROR),
}
MEMORY_BYTES = 2 << 30


class _Loader(importlib.abc.Loader):
    def __init__(self, source: str, path: str) -> None:
        self.source, self.path = source, path

    def create_module(self, spec):
        return None

    def exec_module(self, module):
        # Under the real name, so that a failing test shows where it happened.
        exec(compile(self.source, self.path, "exec"), module.__dict__)


class _Finder(importlib.abc.MetaPathFinder):
    def __init__(self, module: str, source: str) -> None:
        self.module, self.source = module, source

    def find_spec(self, fullname, path, target=None):
        if fullname != self.module:
            return None
        real = str(ROOT / (fullname.replace(".", "/") + ".py"))
        return importlib.util.spec_from_loader(fullname, _Loader(self.source, real), origin=real)


def begin(module: str, mutant: Mutant | None) -> int:
    """Fork a trial and return its process id; it ends with pytest's exit code. None: the real module."""
    child = os.fork()
    if child:
        return child
    code = 99
    try:
        code = _live(module, mutant)
    finally:
        os._exit(code)


def was_killed(status: int) -> bool:
    """Whether a trial that ended with this wait status was noticed: by a failing test, or as it did not end."""
    if os.WIFSIGNALED(status):
        return True
    code = os.WEXITSTATUS(status)
    if code not in _SEEN:
        raise RuntimeError(f"the trial itself failed (exit code {code})")
    return code != pytest.ExitCode.OK


def _live(module: str, mutant: Mutant | None) -> int:
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S + 1))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    for name in [name for name in sys.modules if name.startswith(("monitor", "tests."))]:
        del sys.modules[name]
    if mutant is not None:
        sys.meta_path.insert(0, _Finder(module, mutant.source))
    with Path(os.devnull).open("w") as nothing, _silenced(nothing):
        return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-m", "", "-k", DRAWN, *KILLERS]))


@contextlib.contextmanager
def _silenced(nothing):
    with contextlib.redirect_stdout(nothing), contextlib.redirect_stderr(nothing):
        yield
