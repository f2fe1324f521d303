"""Copies of a registry: made while others write, brought back, and made before migrating.

Whatever is written appears whole or not at all, and a file that is replaced is kept or was asked
for. Copies are made with SQLite's online backup (SQLite Backup API), in one step, so that a copy
holds one moment; each is a single file without side files, and is looked at before it is named.
"""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from pathlib import Path

from registry.domain.soundness import Report
from registry.errors import (
    CopyUnsound,
    FileInTheWay,
    FileUnreadable,
    FileUnwritable,
    MigrateUnsound,
    RegistryDamaged,
    RegistryItself,
    RegistryReadOnly,
)
from registry.ids import uuid7
from registry.location import Location, Server
from registry.storage import engine as engines
from registry.storage.engine import Opened, make_engine, open_registry, stands, translated
from registry.storage.files import SIDE_FILES, beside, left_beside, settle
from registry.storage.migrate import alone, upgrade_over
from registry.storage.revision import HEAD
from registry.storage.transaction import recording
from registry.storage.verify import (
    Progress,
    room_to_rebuild,
    tell_nobody,
    verify,
    verify_chain,
    verify_over,
)
from registry.wording.storage import fault


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was made: where, how large in bytes, and what a look at it found."""

    path: Path
    size: int
    report: Report


@dataclass(frozen=True, slots=True)
class Restored:
    """A copy that was brought back.

    Attributes:
        path: where.
        kept: where what stood there is kept.
        instead_of: the newest entry of what stood there; None where nothing did, or nothing that
            can be read.
        shared: the newest entry that both have; 0 where the copy is another registry's.
        report: what was found in the copy.
    """

    path: Location
    kept: Path | None
    instead_of: int | None
    shared: int | None
    report: Report


@dataclass(frozen=True, slots=True)
class Migrated:
    """A registry brought up to date: from and to which revision, and the copy made before.

    `copy` and `report` are None where there was nothing to do.
    """

    path: Location
    before: str
    after: str
    copy: Path | None
    report: Report | None


def dated(path: Path, word: str, now: datetime) -> Path:
    """A free name beside `path` that says what the file is and of when.

    `registry.ortet` → `registry.before-restore-20260514T100000Z.ortet`; a number follows if that
    is taken.
    """
    stamp = f"{word}-{now:%Y%m%dT%H%M%SZ}"
    for number in count(1):
        more = "" if number == 1 else f"-{number}"
        name = path.with_name(f"{path.stem}.{stamp}{more}{path.suffix}")
        if not name.exists():
            return name
    raise AssertionError  # numbers do not end


def back_up(
    opened: Opened, target: Path, *, replace: bool = False, tell: Progress = tell_nobody
) -> Copied:
    """Copy a registry to the file `target`, whoever else is using it.

    A registry that was changed behind the record's back is copied as it stands: the report says
    what was found in the copy. `tell` is told how far the check of the copy is.

    Raises:
        FileInTheWay: something stands at `target` and `replace` is false.
        RegistryItself: `target` is the registry.
        FileUnwritable, StorageFull: the copy cannot be written.
        RegistryDamaged: the registry cannot be read.
    """
    if target.exists():
        if _same(target, opened.path):
            raise RegistryItself(target)
        if not replace:
            raise FileInTheWay(target)
        if not target.is_file():
            raise FileUnwritable(target, "it is no ordinary file")
    with beside(target) as fresh:
        _copy(opened, fresh, target)
        report = verify_chain(make_engine(fresh, mode="ro", immutable=True), fresh, tell)
        if any(problem.where == "file" for problem in report.problems):
            raise RegistryDamaged(opened.path, report.problems[0].found)
        size = fresh.stat().st_size
        try:
            settle(fresh, target, replace=replace)
        except FileExistsError as error:
            raise FileInTheWay(left_beside(target) or target) from error
    return Copied(target, size, report)


def _same(file: Path, registry: Location) -> bool:
    return isinstance(registry, Path) and file.samefile(registry)


def as_file(path: Location) -> Path:
    """The registry's file; for one on a server, what a file of it is called where one works."""
    return path if isinstance(path, Path) else Path(f"{path.name}.sqlite").absolute()


def _copy(opened: Opened, fresh: Path, target: Path) -> None:
    if isinstance(opened.path, Server):
        from registry.storage.crossing import to_file

        with translated(opened.path), opened.engine.connect() as connection, translated(target):
            to_file(connection, fresh, opened.revision)
        return
    with translated(opened.path), closing(opened.engine.raw_connection()) as source:
        driver = source.driver_connection
        assert driver is not None  # noqa: S101 - tells the type checker: it was just opened
        with translated(target), closing(sqlite3.connect(fresh)) as copy:
            driver.backup(copy)
            # One file, which can be read from a disc or a stick that cannot be written.
            copy.execute("PRAGMA journal_mode = DELETE")


def restore(
    copy: Path,
    path: Location,
    *,
    now: datetime,
    replace: bool,
    anyway: bool,
    tell: Progress = tell_nobody,
) -> Restored:
    """Bring `copy` back as the registry at `path`; the file before it is kept under a dated name.

    What stood in the database of a server is kept as a file where one works. The copy is copied
    and checked before anything at `path` is touched.

    Args:
        copy: what was written by `back_up`; any registry will do.
        path: where the registry is to stand.
        now: the moment, for the dated name.
        replace: whether a file at `path` may be put aside.
        anyway: whether a copy that does not check out is taken as it is.
        tell: is told how far the check of the copy is.

    Raises:
        FileUnreadable, NotARegistry, RegistryFromNewerProgram: `copy` cannot be used.
        CopyUnsound: `copy` does not hold what was recorded, and `anyway` is false.
        FileInTheWay: something stands at `path`, and `replace` is false.
        RegistryItself: `copy` is the registry at `path`.
        RegistryLocked: somebody is using the registry at `path`.
        FileUnwritable, StorageFull: the registry cannot be written.
    """
    if not copy.exists():
        raise FileUnreadable(copy, "No such file or directory")
    source = open_registry(copy, any_revision=True)
    if isinstance(path, Server):
        return _to_server(source, copy, path, now=now, replace=replace, anyway=anyway, tell=tell)
    path = path.resolve() if path.is_symlink() else path  # the registry, and not its other name
    if path.exists() and path.samefile(copy):
        raise RegistryItself(copy)
    in_the_way = path if path.exists() else left_beside(path)
    if in_the_way is not None and not replace:
        raise FileInTheWay(in_the_way)
    with beside(path) as fresh:
        _copy(source, fresh, path)
        report = _looked_at(source, fresh, copy, anyway=anyway, tell=tell)
        instead_of = _last_entry(path) if path.exists() else None
        if path.exists() and report.ok and source.revision == HEAD:
            _tell_of_it(fresh, copy, instead_of=instead_of, now=now)
        kept = _put_aside(path, now) if in_the_way == path else None
        if kept is None and in_the_way is not None:
            _rename_beside(path, dated(path, "before-restore", now))
        try:
            settle(fresh, path)
        except BaseException:
            if kept is not None:
                kept.rename(path)
            raise
    shared = _shared(kept, path) if kept is not None and instead_of is not None else None
    return Restored(path, kept, instead_of, shared, report)


def _tell_of_it(fresh: Path, copy: Path, *, instead_of: int | None, now: datetime) -> None:
    """Have the registry that is brought back say so: what was recorded after it is not in it."""
    engine = make_engine(fresh)
    with recording(engine, fresh, "restore", now=now, new_id=uuid7) as rec:
        rec.more = {"from": copy.name, "instead_of": instead_of}
    with closing(sqlite3.connect(fresh)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")  # one file again


def _last_entry(path: Path) -> int | None:
    """The newest entry of the registry that is put aside; None where it cannot be read."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(path)) as connection:
        row = connection.execute("SELECT seq FROM chain_head").fetchone()
        return int(row[0]) if row else None
    return None


def _shared(kept: Path, brought: Path) -> int | None:
    """The newest entry that two registries have alike; 0 where they share none."""
    newest = (
        "SELECT coalesce(max(seq), 0) FROM chain_entry JOIN brought.chain_entry USING (seq, hash)"
    )
    with suppress(sqlite3.Error), closing(sqlite3.connect(kept)) as connection:
        connection.execute("ATTACH ? AS brought", (str(brought),))
        return int(connection.execute(newest).fetchone()[0])
    return None


def _looked_at(source: Opened, fresh: Path, copy: Path, *, anyway: bool, tell: Progress) -> Report:
    """What a check of the file `fresh` finds, which was copied from `copy`."""
    check = verify if source.revision == HEAD else verify_chain
    report = check(make_engine(fresh, mode="ro", immutable=True), fresh, tell)
    if not report.ok and not anyway:
        raise _unsound(copy, report)
    return report


def _to_server(
    source: Opened,
    copy: Path,
    server: Server,
    *,
    now: datetime,
    replace: bool,
    anyway: bool,
    tell: Progress,
) -> Restored:
    """Bring a copy into the database of a server, in one transaction."""
    from registry.storage import postgres
    from registry.storage.crossing import to_server

    if stands(server) and not replace:
        raise FileInTheWay(server)
    kept = instead_of = shared = None
    with tempfile.TemporaryDirectory() as folder:
        fresh = Path(folder) / "copy.sqlite"
        _copy(source, fresh, fresh)
        report = _looked_at(source, fresh, copy, anyway=anyway, tell=tell)
        with translated(server), alone(make_engine(server)) as connection:
            if postgres.has_tables(connection):
                before = open_registry(server, any_revision=True)
                kept = back_up(before, dated(as_file(server), "before-restore", now)).path
                instead_of, shared = _last_entry(kept), _shared(kept, fresh)
                postgres.take_tables_away(connection)
                if report.ok and source.revision == HEAD:
                    _tell_of_it(fresh, copy, instead_of=instead_of, now=now)
            to_server(fresh, connection, source.revision)
    return Restored(server, kept, instead_of, shared, report)


def _unsound(copy: Path, report: Report) -> CopyUnsound:
    problems = len(report.problems) + report.more
    return CopyUnsound(copy, problems, fault(report.problems[0]))


def _put_aside(path: Path, now: datetime) -> Path:
    """Rename the registry at `path`, with what SQLite keeps beside it."""
    kept = dated(path, "before-restore", now)
    wait = engines.LOCK_WAIT_MS / 1000
    with (
        suppress(RegistryDamaged),
        translated(path),
        closing(sqlite3.connect(path, timeout=wait)) as connection,
    ):
        # Leaving the write-ahead log needs the file to itself, so this fails if somebody uses it.
        connection.execute("PRAGMA journal_mode = DELETE")
    try:
        path.rename(kept)
        _rename_beside(path, kept)  # of a file too damaged for SQLite to tidy up
    except OSError as error:
        raise FileUnwritable(path, error.strerror or str(error)) from error
    return kept


def _rename_beside(path: Path, kept: Path) -> None:
    for suffix in SIDE_FILES:
        with suppress(FileNotFoundError):
            Path(f"{path}{suffix}").rename(f"{kept}{suffix}")


def migrate(path: Location, *, now: datetime, tell: Progress = tell_nobody) -> Migrated:
    """Bring the registry at `path` up to date; a copy is made before, beside it.

    From before the copy is made until all was checked nobody else can write, and the new tables
    stand with an entry of their own in the chain, or not at all. `tell` is told how far the
    check is.

    Raises:
        RegistryMissing, NotARegistry, RegistryFromNewerProgram: there is none to migrate.
        RegistryReadOnly: it cannot be written.
        RegistryLocked: somebody else is writing in it.
        MigrateUnsound: it did not check out afterwards, and was put back.
        FileUnwritable, StorageFull: there is no room for the copy; nothing was changed.
    """
    opened = open_registry(path, any_revision=True)
    if opened.revision == HEAD:
        return Migrated(path, HEAD, HEAD, None, None)
    if not opened.writable:
        raise RegistryReadOnly(path)
    with translated(path), room_to_rebuild() as rebuilt, alone(opened.engine) as connection:
        copy = back_up(opened, dated(as_file(path), f"before-{HEAD}", now)).path
        upgrade_over(connection)
        with recording(connection, path, "migrate", now=now, new_id=uuid7) as rec:
            rec.more = {"from": opened.revision, "to": HEAD}
        report = verify_over(connection, rebuilt, tell)
        if not report.ok:  # leaving so rolls everything back
            raise MigrateUnsound(
                path, copy, len(report.problems) + report.more, fault(report.problems[0])
            )
    return Migrated(path, opened.revision, HEAD, copy, report)
