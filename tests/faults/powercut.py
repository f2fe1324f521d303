"""The power fails between any two writes of SQLite's, with what was not synced yet kept or lost.

The statements that commands send are recorded, then sent once more through a layer of our own
under SQLite (a VFS, by apsw) that notes every write, sync and deletion. From these notes the files
are made as they may stand after a power cut: each synced write is there; of those since the last
sync any may be, whole or torn at the boundary of a sector. (SQLite, "Atomic Commit In SQLite",
section 2, says what it takes for granted of a disk.)
"""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw
import pytest

from tests.faults.load import Grower
from tests.faults.places import REGISTRY, Place, check_sqlite, fresh
from tests.faults.table import Row
from tests.faults.tampering import noticed

SECTOR = 512
WRITES = ("INSERT", "UPDATE", "DELETE", "CREATE", "REPLACE", "COMMIT")


@dataclass(slots=True)
class Sent:
    """What was sent over one connection: statements with their values; None as values ends it."""

    statements: list[tuple[str, Any, bool]] = field(default_factory=list)

    @property
    def writes(self) -> bool:
        """Whether anything was written over it."""
        return any(sql.lstrip().upper().startswith(WRITES[:-1]) for sql, *_ in self.statements)


class _Cursor(sqlite3.Cursor):
    def execute(self, sql: str, values: Any = ()) -> Any:
        self.connection.sent.statements.append((sql, values, False))  # type: ignore[attr-defined]  # ours, below
        return super().execute(sql, values)

    def executemany(self, sql: str, values: Any) -> Any:
        rows = list(values)
        self.connection.sent.statements.append((sql, rows, True))  # type: ignore[attr-defined]  # ours, below
        return super().executemany(sql, rows)


class _Connection(sqlite3.Connection):
    """Notes what is sent over it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sent = Sent()

    def cursor(self, factory: Any = _Cursor) -> Any:
        return super().cursor(_Cursor)

    def execute(self, sql: str, values: Any = ()) -> sqlite3.Cursor:
        self.sent.statements.append((sql, values, False))
        return super().execute(sql, values)

    def commit(self) -> None:
        if self.in_transaction:
            self.sent.statements.append(("COMMIT", (), False))
        super().commit()

    def rollback(self) -> None:
        if self.in_transaction:
            self.sent.statements.append(("ROLLBACK", (), False))
        super().rollback()


@contextmanager
def listening() -> Iterator[list[Sent]]:
    """Within this, every connection of the program's notes what is sent over it."""
    heard: list[Sent] = []
    connect = sqlite3.connect

    def noting(*args: Any, **kwargs: Any) -> sqlite3.Connection:
        connection = connect(*args, factory=_Connection, **kwargs)
        heard.append(connection.sent)
        return connection

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", noting)
        yield heard


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that SQLite asked of the disk, or the moment at which an act was acknowledged.

    Attributes:
        kind: write, cut (to a length), sync, delete or told.
        file: the ending of the file's name: empty or `-wal`.
        at: where it was written; to what length it was cut; which act was acknowledged.
        data: what was written.
    """

    kind: str
    file: str = ""
    at: int = 0
    data: bytes = b""


class _Disk(apsw.VFS):
    """A layer over the usual one that notes what is asked of it."""

    def __init__(self, steps: list[Step]) -> None:
        self.steps = steps
        super().__init__("noting", "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:  # noqa: N802 - apsw's name
        return _File(self.steps, name, flags)

    def xDelete(self, name: str, syncdir: bool) -> None:  # noqa: N802 - apsw's name
        self.steps.append(Step("delete", _ending(name)))
        super().xDelete(name, syncdir)


class _File(apsw.VFSFile):
    def __init__(self, steps: list[Step], name: Any, flags: list[int]) -> None:
        self.steps = steps
        self.ending = _ending(name.filename() if isinstance(name, apsw.URIFilename) else name or "")
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 - apsw's name
        self.steps.append(Step("write", self.ending, offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, size: int) -> None:  # noqa: N802 - apsw's name
        self.steps.append(Step("cut", self.ending, size))
        super().xTruncate(size)

    def xSync(self, flags: int) -> None:  # noqa: N802 - apsw's name
        self.steps.append(Step("sync", self.ending))
        super().xSync(flags)


def _ending(name: str) -> str:
    return "-wal" if name.endswith("-wal") else "-journal" if name.endswith("-journal") else ""


def replayed(path: Path, acts: list[list[Sent]]) -> list[Step]:
    """Send what was heard of each act once more, to the copy at `path`; gives the disk's notes.

    The registry is held by the one connection (`locking_mode`), since apsw passes on no shared
    memory; what is written is the same.
    """
    steps: list[Step] = []
    disk = _Disk(steps)
    for number, act in enumerate(acts):
        for sent in act:
            if not sent.writes:
                continue
            with closing(apsw.Connection(str(path), vfs="noting")) as connection:
                connection.execute("PRAGMA locking_mode = EXCLUSIVE")
                for sql, values, many in sent.statements:
                    for one in values if many else (values,):
                        connection.execute(sql, one).fetchall()
        steps.append(Step("told", at=number))
    disk.unregister()
    return steps


def cut(steps: list[Step], before: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    """The files as they may stand if the power fails after `steps`."""
    files = dict(before)
    waiting: dict[str, list[Step]] = {}
    how = dice.choice(("all", "none", "some"))
    for step in steps:
        if step.kind == "sync":
            for one in waiting.pop(step.file, []):
                _apply(files, one, one.data)
        elif step.kind != "told":
            waiting.setdefault(step.file, []).append(step)
    for late in waiting.values():
        for one in late:
            if how == "all" or (how == "some" and dice.random() < 0.5):
                torn = how == "some" and len(one.data) > SECTOR and dice.random() < 0.3
                end = dice.randrange(SECTOR, len(one.data), SECTOR) if torn else len(one.data)
                _apply(files, one, one.data[:end])
    return files


def _apply(files: dict[str, bytes], step: Step, data: bytes) -> None:
    content = files.get(step.file, b"")
    if step.kind == "delete":
        files.pop(step.file, None)
    elif step.kind == "cut":
        files[step.file] = content[: step.at].ljust(step.at, b"\0")
    else:
        content = content.ljust(step.at, b"\0")
        files[step.file] = content[: step.at] + data + content[step.at + len(data) :]


def run(folder: Path, acts: int, cuts: int, seed: int = 5) -> Row:
    """Let the power fail `cuts` times during a mixed load of `acts` acts.

    Args:
        folder: an empty folder.
        acts: how many acts are recorded.
        cuts: how many moments are tried, spread over all.
        seed: of the load and of what is kept.
    """
    dice = random.Random(seed)
    place = fresh(folder)
    before = folder / "before.sqlite"
    shutil.copy(place.file, before)
    grower = Grower(place, "g", dice, folder)
    heard: list[list[Sent]] = []
    entries: list[int] = []
    while len(heard) < acts:
        with listening() as sent:
            said = grower.stick() if not heard else grower.act()
        if said.exit == 0:
            heard.append(sent)
            entries.append(len(place.hashes()))
    told = place.hashes()
    again = folder / "again.sqlite"
    shutil.copy(before, again)
    steps = replayed(again, heard)
    assert Place(again).hashes() == told, "what was sent again is not what was sent"
    stood = 0
    for number in range(cuts):
        at = dice.randrange(number * len(steps) // cuts, (number + 1) * len(steps) // cuts)
        files = cut(steps[:at], {"": before.read_bytes()}, dice)
        path = _laid_out(folder / "cut", files)
        acknowledged = max((entries[s.at] for s in steps[:at] if s.kind == "told"), default=1)
        found = Place(path).hashes()
        lost = [seq for seq in range(1, acknowledged + 1) if found.get(seq) != told[seq]]
        assert not lost, f"cut at step {at}: entries {lost} are missing"
        assert found.items() <= told.items(), f"cut at step {at}"
        assert not noticed(path), f"cut at step {at}"
        check_sqlite(path)
        stood += len(found) > acknowledged
    return Row(
        f"a power cut between any two of the {len(steps)} writes and syncs of {acts} acts, what "
        "was not synced kept, lost, kept in part or torn",
        cuts,
        f"no acknowledged entry was lost; after {stood} the entry in the making stood whole, after "
        "the others it had never been",
        "every acknowledged hash stands; `verify`, integrity_check, foreign_key_check",
    )


def _laid_out(folder: Path, files: dict[str, bytes]) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    path = folder / REGISTRY
    for ending, content in files.items():
        Path(f"{path}{ending}").write_bytes(content)
    return path
