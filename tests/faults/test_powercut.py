"""The power fails while SQLite writes: a few of the moments that the command tries."""

from __future__ import annotations

import random

import pytest

apsw = pytest.importorskip("apsw", reason="apsw is not installed here")

from tests.faults import powercut  # noqa: E402 - it needs apsw
from tests.faults.powercut import SECTOR, Step, cut  # noqa: E402 - it needs apsw


def test_a_power_cut_loses_nothing_that_was_acknowledged(tmp_path):
    assert powercut.run(tmp_path, acts=3, cuts=8).tried == 8


def test_the_disk_keeps_what_was_synced_and_may_lose_the_rest():
    """The simulated disk itself: without this the test above could not fail."""
    steps = [Step("write", "", 0, b"a" * 2 * SECTOR), Step("sync"), Step("write", "", 0, b"b")]
    seen = {cut(steps, {}, random.Random(n))[""][:1] for n in range(50)}
    assert seen == {b"a", b"b"}
    seen = {cut(steps[:1], {}, random.Random(n)).get("", b"") for n in range(50)}
    assert seen == {b"", b"a" * SECTOR, b"a" * 2 * SECTOR}
