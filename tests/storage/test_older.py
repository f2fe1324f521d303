"""Registries of every revision that ever landed open after `migrate`, with nothing lost.

Each file in `older/` was recorded with the commands of its time: people and places, a stock plant
with leave and without, lots, looks, pots, a gift against an open question, a hold, a right, a
picture, an entry taken back; and what a later revision knew besides (a recall, two records of one
plant, a rule of a place). That of 0007 is that of 0004, brought up to date by the program of its
time, which then recorded a tool and a checked name; that of 0008 came of it in turn, with a gift
that tells its name's check, and a rootstock without a name, which then began a line.
"""

from __future__ import annotations

import gzip
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from registry.errors import RegistryNeedsMigrate
from registry.location import Location
from registry.storage.backup import as_file, back_up, restore
from registry.storage.engine import open_registry
from registry.storage.rebuild import quoted
from registry.storage.revision import HEAD, KNOWN
from tests import homes
from tests.conftest import MOMENT

OLDER = {file.name.split(".")[0]: file for file in Path(__file__).with_name("older").glob("*.gz")}
CHANGES = {"alembic_version", "chain_head", "chain_entry", "chain_part", "checked", "line"}
"""Tables that a migration itself writes in; lines are worked out, and `verify` holds them right."""


def rows_of(path: Path) -> dict[str, tuple[list[str], set[tuple[object, ...]]]]:
    """Every table's columns and rows, without the index of words, which is worked out."""
    with closing(sqlite3.connect(path)) as file:
        tables = [
            name
            for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            if not name.startswith(("name_search", "sqlite_"))
        ]
        found = {}
        for table in tables:
            cursor = file.execute(f"SELECT * FROM {quoted(table)}")  # noqa: S608 - quoted
            found[table] = ([column[0] for column in cursor.description], set(cursor))
    return found


@pytest.fixture(params=sorted(OLDER))
def older(request, ortet, tmp_path) -> tuple[Path, Location]:
    """The file as it was found, and the same as a registry on the engine under test."""
    found = tmp_path / f"{request.param}.sqlite"
    found.write_bytes(gzip.decompress(OLDER[request.param].read_bytes()))
    if homes.SERVER is None:
        standing = tmp_path / "standing.sqlite"
        standing.write_bytes(found.read_bytes())
        return found, standing
    server = homes.empty(tmp_path / "standing")
    restore(found, server, now=MOMENT, replace=False, anyway=False)
    return found, server


def test_there_is_one_of_every_revision_that_landed():
    """0005 to 0007 came together, so no registry of 0005 or 0006 was ever in anybody's hands."""
    landed = [revision for revision in KNOWN[:-1] if revision not in ("0005", "0006")]
    assert sorted(OLDER) == landed


def test_it_opens_after_migrating_with_nothing_lost(older, ortet, tmp_path):
    found, location = older
    there = replace(ortet, path=location)
    with pytest.raises(RegistryNeedsMigrate):
        open_registry(location)
    assert "ortet migrate" in there.refused("plant list")
    there("migrate")
    assert open_registry(location).revision == HEAD
    assert there.ask("verify")["ok"]
    after = location
    if homes.SERVER is not None:
        after = back_up(open_registry(location), tmp_path / "after.sqlite").path
    new = rows_of(after)
    for table, (columns, rows) in rows_of(found).items():
        if table in CHANGES:
            continue
        places = [new[table][0].index(column) for column in columns]
        stands = {tuple(row[place] for place in places) for row in new[table][1]}
        assert rows <= stands, table
    entries = {row[:2] for row in rows_of(found)["chain_entry"][1]}
    assert entries <= {row[:2] for row in new["chain_entry"][1]}, "what was recorded stands"


def test_what_it_was_about_is_still_told(older, ortet):
    _, location = older
    there = replace(ortet, path=location)
    there("migrate")
    kept = as_file(location).parent
    assert list(kept.glob("*before-*")), "a copy of it as it was"
    shown = there.ask("plant show N24-P-2")
    assert "Ashe Red" in shown["name"]
    assert there.ask("may sell N24-P-2", expect=1)["verdict"] == "barred"
    nodes = there.ask("trace NAN-1 --down")["nodes"]
    assert len([node for node in nodes if node["kind"] == "plant"]) >= 6
    assert "leaf.png" in there.ask("plant show NAN-1")["files"]
    there("look O25 --rooted 2")  # and it goes on
    assert there.ask("verify")["ok"]
