"""Writers that are killed, and writers that meet: a few runs of what the command runs at length."""

from __future__ import annotations

import sys

import pytest

from tests.faults import crowd, killing

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="fork and SIGKILL are POSIX")


def test_writers_killed_in_a_mixed_load_lose_nothing_that_was_acknowledged(tmp_path):
    assert killing.run(tmp_path, 2).tried == 2


def test_many_at_once_come_to_exact_totals(tmp_path):
    assert crowd.run(tmp_path, processes=3, acts=5).tried == 15
