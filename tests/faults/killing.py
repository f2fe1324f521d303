"""Writers killed at random moments: what was acknowledged stands, and nothing stands by half."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.faults.load import Grower
from tests.faults.places import ENGINES_OWN, Place, anywhere
from tests.faults.table import Row

WRITERS = 2
LONGEST = 0.6
"""Seconds from the first acknowledgement to the kill, at most: some ten acts of each writer."""

RUNS_PER_REGISTRY = 25


def run(folder: Path, times: int, seed: int = 14) -> Row:
    """Kill two writers `times` times.

    Args:
        folder: an empty folder for the registries.
        times: how often.
        seed: of the moments.
    """
    dice = random.Random(seed)
    told: dict[int, str] = {}
    acknowledged = unheard = 0
    for number in range(times):
        if number % RUNS_PER_REGISTRY == 0:
            home = folder / str(number)
            home.mkdir()
            place = anywhere(home)
            told = {1: place.hash_of(1)}
            before = 1
        said = _kill(place, home, number, dice)
        told |= said
        stands = place.hashes()
        lost = [seq for seq, hashed in told.items() if stands.get(seq) != hashed]
        assert not lost, f"acknowledged entries are missing after run {number}: {lost}"
        # An entry may have been committed in the moment before it could be told.
        assert len(stands) - before <= len(said) + WRITERS, f"run {number}"
        acknowledged, unheard = acknowledged + len(said), unheard + len(stands) - before - len(said)
        before = len(stands)
        place.check()
    return Row(
        f"kill -9 of {WRITERS} writers at a random moment of a mixed load",
        times,
        f"{acknowledged} acts were acknowledged, none is missing; {unheard} more stand whole that "
        "were committed in the moment before they could be told",
        f"`verify`, {ENGINES_OWN} after each",
    )


def _kill(place: Place, home: Path, number: int, dice: random.Random) -> dict[int, str]:
    """Let writers work, kill them, and give the entries they told of, by number."""
    reads, tells = os.pipe()
    names = [f"r{number}w{writer}n" for writer in range(WRITERS)]
    writers = [
        forked(partial(_work, place, home, name, dice.randrange(1_000_000), tells))
        for name in names
    ]
    os.close(tells)
    with os.fdopen(reads, "rb") as told:
        first = told.readline()
        time.sleep(dice.uniform(0, LONGEST))
        for writer in writers:
            os.kill(writer, signal.SIGKILL)
        for writer in writers:
            status = os.waitpid(writer, 0)[1]
            assert os.WIFSIGNALED(status), "a writer stopped by itself"
        lines = [first, *told.readlines()]
    entries = [line.decode().split() for line in lines if line.endswith(b"\n")]
    return {int(seq): hashed for seq, hashed in entries}


def _work(place: Place, home: Path, name: str, seed: int, tells: int) -> None:
    grower = Grower(place, name, random.Random(seed), home)
    said = grower.stick()
    while True:
        if said.exit == 0 and said.entry is not None:
            os.write(tells, f"{said.entry} {place.hash_of(said.entry)}\n".encode())
        said = grower.act()


def forked(work: Callable[[], object]) -> int:
    """Do `work` in a child process, which then ends with 0, or with 1 after an error."""
    child = os.fork()
    if child:
        return child
    try:
        work()
        os._exit(0)
    except BaseException:  # noqa: BLE001 - nothing of the child's may run on as the parent
        import traceback

        traceback.print_exc()
    os._exit(1)
