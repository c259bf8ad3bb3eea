"""One browser for the tests of this folder; one rig, and fresh windows, for each.

The browser must be gone before other tests run: while its driver runs, no other event loop may in this thread.
"""

import pytest

from tests.browser.chromium import running
from tests.browser.visit import Visitors
from tests.rig.rig import Rig


@pytest.fixture(scope="package")
def browser():
    with running() as started:
        yield started


@pytest.fixture
def visitors(browser):
    opened = Visitors(browser)
    yield opened
    opened.close()


@pytest.fixture
def rig(tmp_path):
    with Rig(tmp_path) as put_up:
        yield put_up
