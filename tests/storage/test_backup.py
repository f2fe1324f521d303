"""Copies lose nothing, appear whole, and never take a file's place unasked."""

from __future__ import annotations

import dataclasses
import json
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from registry.domain.soundness import Fault
from registry.errors import (
    CopyUnsound,
    FileInTheWay,
    FileUnreadable,
    FileUnwritable,
    MigrateUnsound,
    NotARegistry,
    RegistryDamaged,
    RegistryExists,
    RegistryFromNewerProgram,
    RegistryItself,
    RegistryLocked,
    RegistryNeedsMigrate,
    RegistryReadOnly,
    StorageFull,
)
from registry.storage import backup as copies
from registry.storage import engine as engines
from registry.storage import migrate as migrating
from registry.storage import rebuild, transaction
from registry.storage import verify as verifying
from registry.storage.backup import back_up, dated, migrate, restore
from registry.storage.engine import open_registry
from registry.storage.models import Series
from registry.storage.revision import HEAD, KNOWN
from registry.storage.verify import verify
from tests import homes
from tests.storage.makers import add_garden

pytestmark = homes.in_a_file


NOW = datetime(2026, 5, 14, 10, 0, tzinfo=UTC)


@pytest.fixture
def garden(record, registry_file):
    add_garden(record)
    return registry_file


def content(path: Path) -> list[str]:
    """Every row of a database, as statements."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        return list(connection.iterdump())


def in_bench(path: Path, value: int | None = None) -> int:
    with closing(sqlite3.connect(path)) as connection, connection:
        if value is not None:
            connection.execute("UPDATE lot SET in_bench = ?", (value,))
        return int(connection.execute("SELECT in_bench FROM lot").fetchone()[0])


def names(folder: Path) -> set[str]:
    return {file.name for file in folder.iterdir()}


def test_a_copy_holds_everything_and_stands_alone(garden, tmp_path):
    target = tmp_path / "copies" / "copy.ortet"
    target.parent.mkdir()
    told: list[tuple[int, int]] = []
    copied = back_up(open_registry(garden), target, tell=lambda *far: told.append(far))
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert copied.path == target
    assert copied.report.ok
    assert copied.report.entries == 3
    assert copied.size == target.stat().st_size
    assert names(target.parent) == {"copy.ortet"}
    assert content(target) == content(garden)
    assert verify(open_registry(target).engine, target).ok


def test_a_copy_is_made_while_somebody_writes_and_holds_what_was_committed(
    garden, record, tmp_path
):
    target = tmp_path / "copy.ortet"
    with record("sow") as rec:
        rec.add(Series(year=2030, next=1))
        rec.flush()
        assert back_up(open_registry(garden), target).report.entries == 3
    assert back_up(open_registry(garden), target, replace=True).report.entries == 4


def test_a_file_in_the_way_is_left_alone(garden, tmp_path):
    target = tmp_path / "copy.ortet"
    target.write_text("mine")
    with pytest.raises(FileInTheWay):
        back_up(open_registry(garden), target)
    assert target.read_text() == "mine"
    assert back_up(open_registry(garden), target, replace=True).report.ok


def test_a_registry_is_never_copied_over_itself(garden):
    for replace in (True, False):
        with pytest.raises(RegistryItself):
            back_up(open_registry(garden), garden, replace=replace)


def test_a_copy_needs_a_folder(garden, tmp_path):
    with pytest.raises(FileUnwritable, match="does not exist"):
        back_up(open_registry(garden), tmp_path / "nowhere" / "copy.ortet")


def test_what_was_changed_behind_the_back_is_copied_as_it_stands_and_told(garden, tmp_path):
    with closing(sqlite3.connect(garden)) as connection, connection:
        connection.execute("UPDATE chain_head SET hash = 'x'")
    copied = back_up(open_registry(garden), tmp_path / "copy.ortet")
    assert [problem.fault for problem in copied.report.problems] == [Fault.HEAD_WRONG]


def test_a_full_disk_leaves_no_half_copy(garden, tmp_path, monkeypatch):
    real = sqlite3.connect

    def small(database, *arguments, **options):
        connection = real(database, *arguments, **options)
        if str(database).endswith(".new"):
            connection.execute("PRAGMA max_page_count = 10")
        return connection

    monkeypatch.setattr(sqlite3, "connect", small)
    with pytest.raises(StorageFull):
        back_up(open_registry(garden), tmp_path / "copy.ortet")
    assert names(tmp_path) == {garden.name}


def test_a_disk_that_refuses_the_name_leaves_no_half_copy(garden, tmp_path, monkeypatch):
    def refuse(*arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("registry.storage.files.sync", refuse)
    with pytest.raises(FileUnwritable, match="No space left"):
        back_up(open_registry(garden), tmp_path / "copy.ortet")
    assert names(tmp_path) == {garden.name}


def test_a_damaged_registry_gives_no_copy(garden, tmp_path):
    opened = open_registry(garden)
    bytes_ = bytearray(garden.read_bytes())
    middle = len(bytes_) // 2 // 4096 * 4096
    bytes_[middle : middle + 4096] = b"\xff" * 4096
    garden.write_bytes(bytes_)
    with pytest.raises(RegistryDamaged):
        back_up(opened, tmp_path / "copy.ortet")
    assert names(tmp_path) == {garden.name}


def test_a_copy_comes_back_and_what_stood_there_is_kept(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    in_bench(garden, 99)
    restored = restore(copy, garden, now=NOW, replace=True, anyway=False)
    assert in_bench(garden) == 13
    assert restored.report.ok
    assert restored.kept is not None
    assert restored.kept == tmp_path / "registry.before-restore-20260514T100000Z.ortet"
    assert in_bench(restored.kept) == 99
    assert names(tmp_path) == {garden.name, copy.name, restored.kept.name}


def test_a_copy_comes_back_where_nothing_stands(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    garden.unlink()
    restored = restore(copy, garden, now=NOW, replace=False, anyway=False)
    assert restored.kept is None
    assert content(garden) == content(copy)


def test_what_stands_there_is_not_put_aside_unasked(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    with pytest.raises(FileInTheWay):
        restore(copy, garden, now=NOW, replace=False, anyway=False)
    with pytest.raises(RegistryItself):
        restore(garden, garden, now=NOW, replace=True, anyway=False)


def test_a_copy_that_does_not_check_out_is_refused_and_taken_when_asked(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    in_bench(copy, 12)
    with pytest.raises(CopyUnsound) as caught:
        restore(copy, garden, now=NOW, replace=True, anyway=False)
    assert caught.value.problems == 2
    assert "in_bench is 12, but 13 was recorded" in caught.value.first
    assert in_bench(garden) == 13
    restored = restore(copy, garden, now=NOW, replace=True, anyway=True)
    assert in_bench(garden) == 12
    assert not restored.report.ok


@pytest.mark.parametrize(("made", "error"), [(None, FileUnreadable), (b"a picture", NotARegistry)])
def test_only_a_registry_comes_back(garden, tmp_path, made, error):
    copy = tmp_path / "copy.ortet"
    if made is not None:
        copy.write_bytes(made)
    with pytest.raises(error):
        restore(copy, garden, now=NOW, replace=True, anyway=True)
    assert in_bench(garden) == 13


def test_a_registry_in_use_is_not_put_aside(garden, record, tmp_path, monkeypatch):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    monkeypatch.setattr(engines, "LOCK_WAIT_MS", 50)
    with record("stick"), pytest.raises(RegistryLocked):
        restore(copy, garden, now=NOW, replace=True, anyway=False)
    assert in_bench(garden) == 13


def test_a_damaged_registry_makes_way_for_its_copy_with_its_log(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    garden.write_bytes(b"SQLite format 3\x00" + b"\xff" * 9000)
    (tmp_path / "registry.ortet-wal").write_bytes(b"what was not yet written back")
    restored = restore(copy, garden, now=NOW, replace=True, anyway=False)
    assert verify(open_registry(garden).engine, garden).ok
    assert restored.kept is not None
    assert restored.kept.read_bytes().startswith(b"SQLite format 3\x00\xff")
    assert not (tmp_path / "registry.ortet-wal").exists()


def test_what_was_put_aside_comes_back_when_the_copy_cannot_take_its_place(
    garden, tmp_path, monkeypatch
):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    in_bench(garden, 99)

    def refuse(*arguments, **options):
        raise FileUnwritable(garden, "on purpose")

    monkeypatch.setattr(copies, "settle", refuse)
    with pytest.raises(FileUnwritable):
        restore(copy, garden, now=NOW, replace=True, anyway=False)
    assert in_bench(garden) == 99
    assert names(tmp_path) == {garden.name, copy.name}


def test_dated_names_do_not_meet(tmp_path):
    first = dated(tmp_path / "registry.ortet", "backup", NOW)
    assert first.name == "registry.backup-20260514T100000Z.ortet"
    first.touch()
    second = dated(tmp_path / "registry.ortet", "backup", NOW)
    assert second.name == "registry.backup-20260514T100000Z-2.ortet"


# --- migrating, with a next revision that stands only here -------------------------------------

NEXT = '''"""Pots have a colour."""

import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{head}"
branch_labels = None
depends_on = None


def upgrade():
    with op.batch_alter_table("plant") as batch:
        batch.add_column(sa.Column("colour", sa.String()))
    {more}


def downgrade():
    pass
'''


@pytest.fixture
def next_revision(tmp_path_factory, monkeypatch):
    """Makes the program one that knows a revision 9999, whose upgrade ends with `more`."""

    def make(more="pass"):
        folder = tmp_path_factory.mktemp("next") / "migrations"
        shutil.copytree(migrating.migrations_folder(), folder)
        (folder / "versions" / "9999_colour.py").write_text(NEXT.format(head=HEAD, more=more))
        monkeypatch.setattr(migrating, "migrations_folder", lambda: folder)
        for module in (engines, copies, verifying, rebuild, migrating, transaction):
            monkeypatch.setattr(module, "HEAD", "9999")
        for module in (engines, verifying):
            monkeypatch.setattr(module, "KNOWN", (*KNOWN, "9999"))

    return make


def test_there_is_nothing_to_do_for_a_registry_of_today(garden):
    done = migrate(garden, now=NOW)
    assert (done.before, done.after, done.copy) == (HEAD, HEAD, None)
    assert names(garden.parent) == {garden.name}


def test_an_older_registry_opens_after_migrating_and_a_copy_is_kept(garden, next_revision):
    next_revision()
    with pytest.raises(RegistryNeedsMigrate):
        open_registry(garden)
    before = content(garden)
    done = migrate(garden, now=NOW)
    assert (done.before, done.after) == (HEAD, "9999")
    assert done.report is not None
    assert done.report.ok
    assert done.copy is not None
    assert done.copy.name == "registry.before-9999-20260514T100000Z.ortet"
    assert content(done.copy) == before
    assert open_registry(garden).revision == "9999"
    assert in_bench(garden) == 13


def test_the_chain_tells_of_a_migration(garden, next_revision):
    next_revision()
    migrate(garden, now=NOW)
    with closing(sqlite3.connect(garden)) as connection:
        (header,) = connection.execute("SELECT header FROM chain_entry WHERE seq = 4").fetchone()
    facts = json.loads(header)
    assert (facts["what"], facts["revision"], facts["parts"]) == ("migrate", "9999", 0)
    assert facts["more"] == {"from": HEAD, "to": "9999"}


def test_nobody_writes_between_the_copy_and_the_end_of_a_migration(
    garden, next_revision, monkeypatch
):
    """The moment after the copy is where an older way of doing it let an act be lost."""
    next_revision()
    tried = []

    def write(opened, target, **options):
        copied = back_up(opened, target, **options)
        with closing(sqlite3.connect(garden, timeout=0)) as other:
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                other.execute("UPDATE lot SET in_bench = 99")
            tried.append(copied.path)
        return copied

    monkeypatch.setattr(copies, "back_up", write)
    assert migrate(garden, now=NOW).copy == tried[0]
    assert in_bench(garden) == 13


def test_a_program_that_had_it_open_before_a_migration_writes_nothing(
    garden, next_revision, record
):
    next_revision()
    migrate(garden, now=NOW)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(transaction, "HEAD", HEAD)
        with pytest.raises(RegistryFromNewerProgram), record("look"):
            raise AssertionError("it was let in")
    assert verify(open_registry(garden).engine, garden).ok


def test_a_migration_that_fails_changes_nothing(garden, next_revision):
    next_revision(more="raise RuntimeError('on purpose')")
    before = content(garden)
    with pytest.raises(RuntimeError, match="on purpose"):
        migrate(garden, now=NOW)
    assert content(garden) == before


def test_a_registry_that_does_not_check_out_afterwards_is_put_back(garden, next_revision):
    # This upgrade loses a movement, in the rebuilt tables as well; the counts still tell.
    next_revision(more="op.execute('DELETE FROM ledger_entry WHERE n < 0')")
    before = content(garden)
    with pytest.raises(MigrateUnsound) as caught:
        migrate(garden, now=NOW)
    assert "its movements come to 16" in caught.value.first
    assert content(garden) == before
    assert content(caught.value.copy) == before


def test_a_read_only_registry_is_not_migrated(garden, next_revision, monkeypatch):
    next_revision()
    monkeypatch.setattr(engines, "_writable", lambda path: False)
    with pytest.raises(RegistryReadOnly):
        migrate(garden, now=NOW)


def test_an_entry_after_a_migration_is_played_back_on_the_tables_of_its_time(
    garden, next_revision, record
):
    next_revision()
    migrate(garden, now=NOW)
    with record("sow") as rec:
        rec.add(Series(year=2030, next=1))
    assert verify(open_registry(garden).engine, garden).ok


@pytest.fixture
def left(garden, tmp_path):
    """The log of a registry that is gone itself: SQLite would lay it over whatever comes there."""
    other = tmp_path / "other.ortet"
    shutil.copy(garden, other)
    with closing(sqlite3.connect(other)) as writer:
        writer.execute("PRAGMA journal_mode = WAL")
        writer.execute("UPDATE lot SET in_bench = 99")
        writer.commit()
        return Path(f"{other}-wal").read_bytes()


def test_a_log_that_was_left_is_not_laid_over_what_is_brought_back(garden, left, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    path = tmp_path / "place" / "registry.ortet"
    path.parent.mkdir()
    Path(f"{path}-wal").write_bytes(left)
    with pytest.raises(FileInTheWay) as caught:
        restore(copy, path, now=NOW, replace=False, anyway=False)
    assert caught.value.path == Path(f"{path}-wal")
    restore(copy, path, now=NOW, replace=True, anyway=False)
    assert in_bench(path) == in_bench(garden) != 99
    kept = "registry.before-restore-20260514T100000Z.ortet-wal"
    assert (path.parent / kept).read_bytes() == left


def test_a_log_that_was_left_is_not_laid_over_a_copy(garden, left, tmp_path):
    target = tmp_path / "copy.ortet"
    Path(f"{target}-wal").write_bytes(left)
    with pytest.raises(FileInTheWay) as caught:
        back_up(open_registry(garden), target)
    assert caught.value.path == Path(f"{target}-wal")
    back_up(open_registry(garden), target, replace=True)
    assert in_bench(target) == in_bench(garden)


def test_a_log_that_was_left_is_not_laid_over_a_new_registry(left, tmp_path):
    path = tmp_path / "new.ortet"
    Path(f"{path}-wal").write_bytes(left)
    with pytest.raises(RegistryExists) as caught:
        migrating.create(path)
    assert caught.value.path == Path(f"{path}-wal")
    assert not path.exists()


def test_another_name_of_the_registry_stays_one(garden, tmp_path):
    copy = back_up(open_registry(garden), tmp_path / "copy.ortet").path
    in_bench(garden, 1)
    name = tmp_path / "mine.ortet"
    name.symlink_to(garden)
    done = restore(copy, name, now=NOW, replace=True, anyway=False)
    assert name.is_symlink()
    assert in_bench(garden) != 1
    assert done.kept is not None
    assert in_bench(done.kept) == 1


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_device_or_a_pipe_is_not_written_over(garden, tmp_path):
    target = tmp_path / "pipe"
    os.mkfifo(target)
    with pytest.raises(FileUnwritable):
        back_up(open_registry(garden), target, replace=True)
    assert not target.is_file()


def test_a_file_of_commands_makes_no_registry_under_a_log_that_was_left(ortet, left, tmp_path):
    path = tmp_path / "bench.ortet"
    Path(f"{path}-wal").write_bytes(left)
    lines = tmp_path / "first.txt"
    lines.write_text('init --grower "Jo Field" --country US --region US-OR\n')
    there = dataclasses.replace(ortet, path=path)
    told = there(f"bench {lines}", expect=2).err
    assert "bench.ortet-wal" in told
    assert not path.exists()
