"""What a record that can be trusted costs: the chain, its check, many writers, opening.

Everything is measured where `tests.homes` has registries: in files, or on the server that
ORTET_TEST_SERVER names.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import text

from registry.location import Location, Server
from registry.storage.crossing import to_server
from registry.storage.engine import make_engine, open_registry, reading
from registry.storage.migrate import alone, in_the_making
from registry.storage.revision import HEAD
from tests import homes
from tests.benchmarks import chains, recording, writers
from tests.benchmarks.grow import copy_to, grow
from tests.benchmarks.timing import Ratio, pair

FULL, FAST, MANY = 25.0, 5.0, 100_000
"""How much longer a check may take than reading and hashing the chain, from so many entries on.

It takes a second to begin, whatever there is to check: making empty tables to play the chain into.
"""

SINCE = 10
"""Of how many entries one was recorded since the last whole check."""

FLAT = 1.5
"""How much longer, or larger, the tenfold may be of what should not grow."""

SMALL = 200_000
"""Up to so many entries a check is timed several times."""


@dataclass(frozen=True, slots=True)
class Memory:
    """The most that a process held while it checked, in kilobytes, at two sizes of registry."""

    what: str
    entries: tuple[int, int]
    kilobytes: tuple[int, int]

    def line(self) -> str:
        """A row of the table."""
        few, many = self.kilobytes
        ratio = many / few
        met = "met" if ratio <= FLAT else "not met"
        return (
            f"| {self.what} | {self.entries[0]:,} | {few / 1024:.0f} | {self.entries[1]:,} "
            f"| {many / 1024:.0f} | {ratio:.2f} | {FLAT:g} | {met} |"
        )


MEMORY_HEADING = (
    "| what | entries | MB | entries | MB | ratio | aim | |\n|---|---|---|---|---|---|---|---|"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """All tables of one engine."""

    chain: list[Ratio]
    checks: list[Ratio]
    memory: list[Memory]
    rates: list[writers.Rate]
    opening: list[Ratio]


def measure(
    folder: Path, most: int = 20_000, seconds: float = 1.0, say: Callable[[str], None] = print
) -> Measured:
    """Measure all of it.

    Args:
        folder: where registries are made; about two kilobytes for each of `most`.
        most: the entries of the longest chain, and the plants of the registry that is opened.
        seconds: how long writers write, each time.
        say: tells how far it is.
    """
    say("recording with the chain and without")
    costs = recording.measure(folder, min(most, recording.IMPORTED))
    say("several writers at once")
    busy = chains.begin(homes.empty(folder / "busy.sqlite"), folder)
    rates = writers.measure(busy, folder, seconds)
    checks, memory = check(folder, most, say)
    return Measured(costs, checks, memory, rates, opening(folder, most, say))


# --- checking ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Checked:
    """Checks of one registry, in turn with the reading and hashing of its chain; in seconds.

    Attributes:
        read: reading and hashing the chain.
        hashed: the hashing alone.
        full, fast: the check.
        kilobytes: what the whole check held at most, and the fast one.
    """

    read: float
    hashed: float
    full: float
    fast: float
    kilobytes: tuple[int, int]


def check(
    folder: Path, most: int, say: Callable[[str], None] = print
) -> tuple[list[Ratio], list[Memory]]:
    """Check registries of a tenth of `most` entries and of `most`."""
    path = folder / "chain.sqlite"
    chains.begin(path, folder)
    found: dict[int, _Checked] = {}
    for entries in (most // 10, most):
        say(f"a chain of {entries:,} entries")
        chains.lengthen(path, entries)
        chains.note_check(path, entries - entries // SINCE)
        place = _brought(path, folder / f"chain-{entries}.sqlite")
        say(f"checking {entries:,} entries")
        times = 3 if entries <= SMALL else 1
        found[entries] = _medians([_check(place) for _ in range(times)])
        homes.dropped(place)
    path.unlink()
    few, many = found.values()
    sizes = most // 10, most
    memory = [
        Memory(what, sizes, (few.kilobytes[which], many.kilobytes[which]))
        for which, what in enumerate(("`verify`", "`verify --fast`"))
    ]
    return list(_ratios(found)), memory


def _ratios(found: dict[int, _Checked]) -> Iterator[Ratio]:
    for entries, one in found.items():
        for command, seconds, aim in (
            ("verify", one.full, FULL),
            ("verify --fast", one.fast, FAST),
        ):
            what = f"`{command}`, {entries:,} entries"
            for against, theirs, hoped in (
                ("reading and hashing the chain", one.read, aim),
                ("hashing it alone, read beforehand", one.hashed, None),
            ):
                aimed = hoped if entries >= MANY else None
                yield Ratio(what, against, seconds, theirs, seconds / theirs, aimed)


def _brought(path: Path, called: Path) -> Location:
    """The registry in a file, or a copy of it on the server for tests."""
    if not homes.SERVER:
        return path
    server = homes.empty(called)
    assert isinstance(server, Server)
    with alone(make_engine(server)) as connection:
        to_server(path, connection, HEAD)
    return server


def _check(place: Location) -> _Checked:
    floors = [_hash_chain(place)]
    full, full_most = _process(place)
    floors.append(_hash_chain(place))
    fast, fast_most = _process(place, "--fast")
    floors.append(_hash_chain(place))
    read, hashed = (statistics.median(times) for times in zip(*floors, strict=True))
    return _Checked(read, hashed, full, fast, (full_most, fast_most))


def _medians(runs: list[_Checked]) -> _Checked:
    return sorted(runs, key=lambda run: run.full / run.read)[len(runs) // 2]


def _process(place: Location, *more: str) -> tuple[float, int]:
    """The seconds that a check took in a process of its own, and the kilobytes it held."""
    where = place.url if isinstance(place, Server) else str(place)
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.checking", where, *more],
        check=True,
        stdout=subprocess.PIPE,
    )
    told = json.loads(done.stdout)
    return told["seconds"], told["kilobytes"]


_CHAIN = (
    "SELECT header FROM chain_entry ORDER BY seq",
    "SELECT body FROM chain_part ORDER BY seq, part",
)
_AT_ONCE = 10_000


def _hash_chain(place: Location) -> tuple[float, float]:
    """Seconds of reading every header and part and hashing each, and of the hashing alone."""
    begun, hashing = time.perf_counter(), 0.0
    for block in _blocks(place):
        start = time.perf_counter()
        for one in block:
            hashlib.sha256(one).digest()
        hashing += time.perf_counter() - start
    return time.perf_counter() - begun, hashing


def _blocks(place: Location) -> Iterator[list[bytes]]:
    if isinstance(place, Server):
        import psycopg

        with psycopg.connect(place.url) as server:
            for statement in _CHAIN:
                with server.cursor(name="chain", binary=True) as cursor:
                    cursor.execute(statement.encode())
                    while rows := cursor.fetchmany(_AT_ONCE):
                        yield [_bytes(one) for (one,) in rows]
        return
    with closing(sqlite3.connect(place)) as file:
        for statement in _CHAIN:
            found = file.execute(statement)
            while rows := found.fetchmany(_AT_ONCE):
                yield [_bytes(one) for (one,) in rows]


def _bytes(value: str | bytes) -> bytes:
    return value.encode() if isinstance(value, str) else value


# --- opening -------------------------------------------------------------------------------------

_TINY = "SELECT code FROM node WHERE id = 1"


def opening(folder: Path, most: int, say: Callable[[str], None] = print) -> list[Ratio]:
    """Opening registries of `most` plants and of a thousandth, and a first tiny answer."""
    rows = []
    first = 0.0
    for plants in (most // 1000, most):
        say(f"growing {plants:,} plants")
        path = folder / f"plants-{plants}.sqlite"
        grow(path, plants)
        place = _grown(path)
        what = f"opening a registry of {plants:,} plants and a first tiny answer"
        bare = "psycopg" if isinstance(place, Server) else "sqlite3"
        found = pair(what, _open(place), f"the same with {bare} alone", _open_bare(place), None, 31)
        rows.append(found)
        if first:
            rows.append(Ratio(what, "the small one", found.ours, first, found.ours / first, FLAT))
        first = found.ours
        homes.dropped(place)
        path.unlink()
    return rows


def _grown(path: Path) -> Location:
    if not homes.SERVER:
        return path
    server = homes.empty(path)
    with in_the_making(server):
        pass
    copy_to(path, make_engine(server))
    return server


def _open(place: Location) -> Callable[[], object]:
    def run() -> object:
        with reading(open_registry(place).engine, place) as session:
            return session.execute(text(_TINY)).scalar_one()

    return run


def _open_bare(place: Location) -> Callable[[], object]:
    def in_a_file() -> object:
        with closing(sqlite3.connect(str(place))) as connection:
            return connection.execute(_TINY).fetchone()

    def on_a_server() -> object:
        import psycopg

        assert isinstance(place, Server)
        with psycopg.connect(place.url) as connection:
            return connection.execute(_TINY).fetchone()

    return on_a_server if isinstance(place, Server) else in_a_file
