"""One rig for each test."""

import pytest

from tests.rig.rig import Rig


@pytest.fixture
def rig(tmp_path):
    with Rig(tmp_path) as put_up:
        yield put_up
