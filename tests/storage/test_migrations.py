"""Migrations and models say the same, both ways."""

from __future__ import annotations

import re
import sqlite3

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, inspect

from registry.errors import FileUnwritable, RegistryExists
from registry.storage import migrate, search
from registry.storage.base import Base
from registry.storage.engine import make_engine
from registry.storage.migrate import configuration, create, downgrade, upgrade
from registry.storage.revision import HEAD, KNOWN
from tests import homes

pytestmark = homes.in_a_file


ADDED = re.compile(r", (?=\w+ (?:VARCHAR|DATE|INTEGER|BOOLEAN)\b)")
"""Where SQLite writes a column that was added to a table: behind a comma, in the same line."""


def schema(connection: Connection) -> dict[str, str]:
    """What SQLite holds of each table and index, without Alembic's own."""
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    # A table's rules come in no fixed order, a column that was added stands in another's line, and
    # the name of a table that was made anew stands in marks.
    return {
        name: "\n".join(
            sorted(line.strip(" \t,") for line in ADDED.sub("\n", sql).splitlines())
        ).replace(f'CREATE TABLE "{name}"', f"CREATE TABLE {name}")
        for name, sql in rows
        if name != "alembic_version"
    }


def schema_of(engine: Engine) -> dict[str, str]:
    with engine.connect() as connection:
        return schema(connection)


def test_the_models_say_no_more_and_no_less_than_the_migrations(engine):
    with engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_server_default": True, "include_name": search.include_name}
        )
        assert compare_metadata(context, Base.metadata) == []


def test_the_migrations_make_the_rules_of_the_models_to_the_letter(engine):
    """Alembic's comparison sees no CHECK and no WHERE; the statements themselves hold both."""
    modelled = create_engine("sqlite://")
    with modelled.begin() as connection:
        Base.metadata.create_all(connection)
        expected = schema(connection)
    assert schema_of(engine) == expected


def test_down_to_nothing_and_up_again(engine):
    before = schema_of(engine)
    downgrade(engine, "base")
    assert schema_of(engine) == {}
    upgrade(engine)
    assert schema_of(engine) == before


def test_the_revisions_known_are_those_that_there_are():
    script = ScriptDirectory.from_config(configuration())
    assert script.get_current_head() == HEAD
    assert tuple(reversed([s.revision for s in script.walk_revisions()])) == KNOWN


def test_every_rule_has_a_name():
    for table in Base.metadata.tables.values():
        assert all(rule.name for rule in table.constraints), table.name
        assert all(index.name for index in table.indexes), table.name


def test_every_fact_has_an_index_on_its_entry(engine):
    """So that `correct ENTRY` finds the rows of an entry at once."""
    found = inspect(engine)
    for table in Base.metadata.tables.values():
        if "void_seq" in table.columns:
            indexed = [index["column_names"] for index in found.get_indexes(table.name)]
            assert ["seq"] in indexed, table.name


def test_a_migration_that_fails_leaves_the_tables_as_they_were(engine, monkeypatch):
    before = schema_of(engine)

    def fail(*arguments):
        raise RuntimeError("on purpose")

    monkeypatch.setattr(migrate, "_check_references", fail)
    with pytest.raises(RuntimeError, match="on purpose"):
        downgrade(engine, "base")
    assert schema_of(engine) == before


def test_rows_that_lost_their_parents_stop_a_migration(registry_file, engine):
    connection = sqlite3.connect(registry_file)
    connection.execute("INSERT INTO right_name (right_id, key, name) VALUES (7, 'k', 'n')")
    connection.commit()
    connection.close()
    with pytest.raises(RuntimeError, match="without their parents"):
        upgrade(engine)


def test_a_new_registry_appears_whole_with_nothing_beside_it(tmp_path):
    path = tmp_path / "100% mine?.ortet"
    create(path)
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    tables = inspect(make_engine(path)).get_table_names()
    ours = [name for name in tables if search.include_name(name, "table", None)]
    assert len(ours) == len(Base.metadata.tables) + 1


def test_an_interrupted_beginning_leaves_nothing(tmp_path, monkeypatch):
    def interrupt(*arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(migrate, "_check_references", interrupt)
    with pytest.raises(KeyboardInterrupt):
        create(tmp_path / "registry.ortet")
    assert list(tmp_path.iterdir()) == []


def test_a_registry_is_never_made_over_something(tmp_path):
    path = tmp_path / "registry.ortet"
    path.write_text("mine")
    with pytest.raises(RegistryExists):
        create(path)
    assert path.read_text() == "mine"


def test_a_registry_that_appeared_meanwhile_is_not_written_over(tmp_path, monkeypatch):
    path = tmp_path / "registry.ortet"
    monkeypatch.setattr(migrate, "_check_references", lambda connection: path.write_text("mine"))
    with pytest.raises(RegistryExists):
        create(path)
    assert path.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [path]


def test_a_registry_needs_a_folder(tmp_path):
    with pytest.raises(FileUnwritable, match="does not exist"):
        create(tmp_path / "nowhere" / "registry.ortet")
