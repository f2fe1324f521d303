"""What may stand where a registry is looked for, and what is said of it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from registry.errors import (
    FileUnreadable,
    NotARegistry,
    RegistryDamaged,
    RegistryFromNewerProgram,
    RegistryMissing,
    RegistryNeedsMigrate,
    RegistryReadOnly,
    RegistryUnsupported,
)
from registry.storage import engine as engines
from registry.storage.engine import open_registry, reading
from registry.storage.revision import HEAD
from registry.storage.transaction import recording
from tests import homes

pytestmark = homes.in_a_file


def test_a_registry_opens(registry_file):
    opened = open_registry(registry_file)
    assert opened.path == registry_file
    assert opened.revision == HEAD
    assert opened.writable
    assert not opened.immutable


def test_nothing_there(tmp_path):
    with pytest.raises(RegistryMissing):
        open_registry(tmp_path / "nothing.ortet")
    with pytest.raises(RegistryMissing):
        open_registry(tmp_path / "no" / "folder.ortet")


def test_a_folder_a_picture_and_an_empty_file_are_not_registries(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff" + bytes(50))
    (tmp_path / "empty").touch()
    for name in ("", "photo.jpg", "empty"):
        with pytest.raises(NotARegistry):
            open_registry(tmp_path / name)


def test_another_programs_database_is_not_a_registry(tmp_path):
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE bookmarks (id)")
    with pytest.raises(NotARegistry):
        open_registry(path)


def test_something_under_a_file_is_missing(registry_file):
    with pytest.raises(RegistryMissing):
        open_registry(registry_file / "registry.ortet")


def test_a_file_that_may_not_be_read(registry_file, monkeypatch):
    def refuse(*arguments, **options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(FileUnreadable, match="Permission denied"):
        open_registry(registry_file)


@pytest.mark.parametrize("location", ["postgresql://nursery/ortet", "https://example.org/r"])
def test_an_address_is_not_served(location):
    with pytest.raises(RegistryUnsupported):
        open_registry(Path(location))


def test_a_damaged_file(registry_file):
    content = bytearray(registry_file.read_bytes())
    content[100:4096] = b"\xff" * 3996
    registry_file.write_bytes(content)
    with pytest.raises(RegistryDamaged):
        open_registry(registry_file)


@pytest.mark.parametrize(
    ("known", "error"),
    [((HEAD,), RegistryFromNewerProgram), (("0000", HEAD), RegistryNeedsMigrate)],
)
def test_another_revision(registry_file, monkeypatch, known, error):
    with closing(sqlite3.connect(registry_file)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '0000'")
    monkeypatch.setattr(engines, "KNOWN", known)
    with pytest.raises(error) as caught:
        open_registry(registry_file)
    assert caught.value.revision == "0000"
    assert caught.value.known == HEAD


def test_an_older_revision_opens_for_copying(registry_file, monkeypatch):
    with closing(sqlite3.connect(registry_file)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '0000'")
    monkeypatch.setattr(engines, "KNOWN", ("0000", HEAD))
    assert open_registry(registry_file, any_revision=True).revision == "0000"


def test_a_read_only_registry_answers_and_refuses_to_record(
    registry_file, monkeypatch, moment, new_id
):
    # Permissions would not stop the superuser, whom tests may run as.
    monkeypatch.setattr(engines, "_writable", lambda path: False)
    opened = open_registry(registry_file)
    assert not opened.writable
    assert opened.immutable
    with reading(opened.engine, registry_file) as session:
        assert session.connection().exec_driver_sql("SELECT seq FROM chain_head").scalar() == 0
    with (
        pytest.raises(RegistryReadOnly),
        recording(opened.engine, registry_file, "stick", now=moment, new_id=new_id),
    ):
        pass
    assert [file.name for file in registry_file.parent.iterdir()] == [registry_file.name]


def test_a_read_only_registry_that_is_being_written_is_not_taken_for_still(
    registry_file, monkeypatch
):
    with closing(sqlite3.connect(registry_file)) as writer:
        writer.execute("UPDATE chain_head SET seq = 7")
        writer.commit()
        monkeypatch.setattr(engines, "_writable", lambda path: False)
        opened = open_registry(registry_file)
        assert not opened.immutable
        with reading(opened.engine, registry_file) as session:
            assert session.connection().exec_driver_sql("SELECT seq FROM chain_head").scalar() == 7


def test_a_registry_of_two_revisions_is_damaged(registry_file):
    with closing(sqlite3.connect(registry_file)) as connection, connection:
        connection.execute("INSERT INTO alembic_version VALUES ('other')")
    with pytest.raises(RegistryDamaged, match="names 2 revisions"):
        open_registry(registry_file)


def test_a_text_that_is_no_text_is_damage(registry_file):
    with closing(sqlite3.connect(registry_file)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = CAST(x'726fff' AS TEXT)")
    with pytest.raises(RegistryDamaged, match="UTF-8"):
        open_registry(registry_file)
