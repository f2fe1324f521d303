"""The disk is full, or refuses, at one write after another: nothing is recorded by half.

A limit on how large a file may grow (RLIMIT_FSIZE, POSIX setrlimit) makes each write of SQLite's
fail in turn, for root as well; for the files that are made beside a registry the calls that finish
them are made to fail.
"""

from __future__ import annotations

import errno
import json
import os
import resource
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.faults import hostile
from tests.faults.killing import forked
from tests.faults.places import Place, Said
from tests.faults.table import Row

STEP = 4096
"""Bytes by which the limit grows: a page of SQLite's."""

ACTS = (
    ("stick", "F1", "--count", "4", "--open"),
    ("attach", "F1", "leaf.txt"),
    ("pot-up", "B1", "--count", "2"),
    ("person", "add", "Di"),
)

LAST_CALLS = ("fsync", "link", "replace", "rename")
"""What brings a finished file to its place (POSIX)."""

PAPERS = (
    ("backup", "copy.sqlite"),
    ("backup", "."),
    ("restore", "whole.sqlite", "--replace"),
    ("label", "print", "F1", "--out", "a.pdf"),
    ("label", "blank", "1", "--out", "a.pdf"),
    ("pot-up", "B1", "--count", "1", "--labels", "a.pdf"),
    ("trace", "F1", "--chart", "a.svg"),
    ("recall", "export", "1", "a.csv"),
)
"""Commands that make a file."""


def within(limit: int, place: Place, *words: str) -> Said:
    """Run a command in a process whose files may grow to `limit` bytes."""
    reads, tells = os.pipe()

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
        said = place.run(*words)
        os.write(tells, json.dumps([said.exit, said.entry, said.out, said.err]).encode())

    child = forked(limited)
    os.close(tells)
    with os.fdopen(reads) as told:
        answer = told.read()
    assert os.waitpid(child, 0)[1] == 0, "an error that is not ours; it stands above"
    return Said(*json.loads(answer))


def run(folder: Path, step: int = STEP) -> Row:
    """Let the disk be full at each write of each act, and each last call of each paper fail.

    Args:
        folder: an empty folder.
        step: by how much the limit grows.
    """
    home = folder / "garden"
    home.mkdir()
    ends: Counter[int] = Counter()
    here = Path.cwd()
    try:
        os.chdir(home)
        hostile.garden(home)
        for act in ACTS:
            ends += _ever_more_room(home, folder / "box", act, step)
        for words in PAPERS:
            for call in LAST_CALLS:
                place = hostile.copied(home, folder / "box", os.chdir)
                ends[refused_by(call, place, words).exit] += 1
                place.check()
    finally:
        os.chdir(here)
    return Row(
        "the disk is full at every page that SQLite writes of an act; fsync, link, replace or "
        "rename of a finished file fails",
        ends.total(),
        f"{ends[2]} were refused with nothing recorded, after {ends[1]} the act stood and its "
        f"paper did not, and said so, {ends[0]} had room enough",
        "the chain's head as before where refused; no half file left; `verify`, integrity_check",
    )


def _ever_more_room(home: Path, box: Path, words: tuple[str, ...], step: int) -> Counter[int]:
    """Run an act with ever more room, until there is enough."""
    ends: Counter[int] = Counter()
    limit = 0
    while not ends[0]:
        place = hostile.copied(home, box, os.chdir)
        before = place.hashes()
        said = within(limit, place, *words)
        ends[said.exit] += 1
        assert said.exit in (0, 2), said
        if said.exit == 2:
            assert said.err.strip(), said
            assert place.hashes() == before, "refused, and something was recorded"
        place.check()
        limit += step
    return ends


@contextmanager
def failing(call: str) -> Iterator[None]:
    """Within this, a call of the system fails as on a full disk."""

    def fails(*args: object, **kwargs: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, call, fails)
        yield


def refused_by(call: str, place: Place, words: tuple[str, ...]) -> Said:
    """Run a command whose `call` fails; whatever comes of it, no half file may stay."""
    before = _files(place)
    with failing(call):
        said = place.run(*words)
    assert said.exit in (0, 1, 2), said
    left = _files(place) - before
    if said.exit:
        assert said.err.strip(), said
        assert not left, f"{words} left {left}"
    assert not [name for name in left if name.endswith((".part", ".new"))]
    return said


def _files(place: Place) -> set[str]:
    sides = ("-wal", "-shm")
    return {file.name for file in place.file.parent.iterdir() if not file.name.endswith(sides)}
