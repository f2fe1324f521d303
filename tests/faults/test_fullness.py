"""A full disk and a disk that refuses: a few of the moments that the command tries."""

from __future__ import annotations

import sys

import pytest

from tests.faults import hostile

fullness = pytest.importorskip("tests.faults.fullness", reason="RLIMIT_FSIZE is POSIX")


@pytest.mark.skipif(sys.platform == "win32", reason="RLIMIT_FSIZE is POSIX")
@pytest.mark.parametrize("limit", [0, 5 * 4096, 20 * 4096])
def test_a_full_disk_records_nothing_and_says_so(garden, tmp_path, monkeypatch, limit):
    place = hostile.copied(garden, tmp_path / "box", monkeypatch.chdir)
    before = place.hashes()
    said = fullness.within(limit, place, *fullness.ACTS[0])
    assert (said.exit, said.out) == (2, "")
    assert place.hashes() == before
    place.check()


@pytest.mark.parametrize("words", fullness.PAPERS, ids=" ".join)
def test_a_file_that_cannot_be_finished_leaves_nothing_by_half(
    garden, tmp_path, monkeypatch, words
):
    for call in ("fsync", "replace"):
        place = hostile.copied(garden, tmp_path / "box", monkeypatch.chdir)
        fullness.refused_by(call, place, words)
        assert place.file.is_file()
