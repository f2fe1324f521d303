"""What was done to the tables themselves is found, though every row stands as it was recorded."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from registry.domain.soundness import Fault
from registry.services.upkeep import check, remember
from registry.storage import search
from registry.storage.engine import open_registry
from registry.storage.schema import made
from tests import homes
from tests.homes import edit
from tests.storage.makers import add_garden

IN_A_FILE = [
    (
        "CREATE TRIGGER sly AFTER INSERT ON ledger_entry BEGIN SELECT 1; END",
        (Fault.STRANGE, "trigger sly"),
    ),
    ("CREATE VIEW mine AS SELECT 1 AS one", (Fault.STRANGE, "view mine")),
    ("CREATE TABLE mine (one INTEGER)", (Fault.STRANGE, "table mine")),
    ("CREATE INDEX mine ON hold (reason)", (Fault.STRANGE, "index mine")),
    ("DROP INDEX uq_lot_batch_letter", (Fault.OTHERWISE, "index uq_lot_batch_letter")),
    ("DROP INDEX ix_hold_node_id", (Fault.OTHERWISE, "index ix_hold_node_id")),
    ("ALTER TABLE lot ADD COLUMN secret INTEGER", (Fault.OTHERWISE, "table lot")),
    ("ALTER TABLE chain_entry ADD COLUMN secret INTEGER", (Fault.OTHERWISE, "table chain_entry")),
]
ON_A_SERVER = [
    (
        "CREATE TRIGGER sly BEFORE UPDATE ON lot FOR EACH ROW"
        " EXECUTE FUNCTION suppress_redundant_updates_trigger()",
        (Fault.STRANGE, "trigger sly of lot"),
    ),
    (
        "CREATE RULE deaf AS ON INSERT TO loss DO INSTEAD NOTHING",
        (Fault.STRANGE, "rewriting deaf of loss"),
    ),
    ("CREATE POLICY blind ON hold USING (id > 9)", (Fault.STRANGE, "policy blind of hold")),
    ("CREATE VIEW mine AS SELECT 1 AS one", (Fault.STRANGE, "view mine")),
    ("CREATE INDEX mine ON hold (reason)", (Fault.STRANGE, "index mine of hold")),
    ("ALTER TABLE lot ADD COLUMN secret INTEGER", (Fault.STRANGE, "column secret of lot")),
    (
        "ALTER TABLE lot ALTER hormone SET DEFAULT 'talc'",
        (Fault.STRANGE, "default of hormone of lot"),
    ),
    ("ALTER TABLE hold ENABLE ROW LEVEL SECURITY", (Fault.OTHERWISE, "table hold")),
    ("ALTER TABLE lot DISABLE TRIGGER ALL", (Fault.OTHERWISE, "table lot")),
    ("DROP INDEX uq_lot_batch_letter", (Fault.OTHERWISE, "index uq_lot_batch_letter of lot")),
    (
        "ALTER TABLE lot DROP CONSTRAINT fk_lot_node_id",
        (Fault.OTHERWISE, "rule fk_lot_node_id of lot"),
    ),
    (
        # A schema that is called as the role comes before `public` where names are looked up.
        "DO 'BEGIN EXECUTE format(''CREATE SCHEMA %1$I; CREATE VIEW %1$I.hold AS"
        " SELECT * FROM public.hold'', current_user); END'",
        (Fault.OTHERWISE, "table hold"),
    ),
]


@pytest.fixture
def garden(record, registry_file):
    add_garden(record)
    return registry_file


@pytest.mark.parametrize(
    ("statement", "expected"), ON_A_SERVER if homes.SERVER is not None else IN_A_FILE
)
def test_tables_made_otherwise_are_told_by_either_check(garden, record, statement, expected):
    with record("verify") as rec:
        remember(rec, check(open_registry(garden)))
    edit(garden, statement)
    for fast in (False, True):
        report = check(open_registry(garden), fast=fast)
        assert (report.since is not None) is fast
        assert [(found.fault, found.record) for found in report.problems] == [expected]
        assert report.problems[0].where == "schema"


@homes.in_a_file
def test_a_view_that_shows_a_check_another_name_than_an_answer_is_told(garden):
    edit(
        garden,
        "ALTER TABLE place RENAME TO true_place",
        "CREATE VIEW place AS SELECT id, CASE WHEN (SELECT count(*) FROM pragma_database_list) > 1"
        " THEN name ELSE 'elsewhere' END AS name, key, parent_id, country, region, hidden, seq,"
        " void_seq FROM true_place",
    )
    assert {
        (Fault.OTHERWISE, "table place"),
        (Fault.STRANGE, "table true_place"),
        (Fault.STRANGE, "view place"),
    } <= {(found.fault, found.record) for found in check(open_registry(garden)).problems}


@homes.in_a_file
def test_what_sqlite_keeps_for_itself_is_no_matter(garden):
    edit(garden, "ANALYZE")
    assert check(open_registry(garden)).ok


@homes.on_a_server
def test_what_an_extension_brings_is_no_matter(garden):
    edit(garden, "CREATE EXTENSION pg_stat_statements")
    assert check(open_registry(garden)).ok


def test_rules_of_a_table_may_stand_in_any_order_and_columns_of_an_index_may_not():
    """A migration that makes a table anew hands its rules over in no order of their own."""

    def stands(*statements):
        with closing(sqlite3.connect(":memory:")) as file:
            for statement in statements:
                file.execute(statement)
            return made(file)

    one = "CREATE TABLE pot (n INTEGER, size TEXT, CHECK (n IN (1, 2)), UNIQUE (n, size))"
    other = 'CREATE TABLE "pot" (n INTEGER, size TEXT, UNIQUE (n, size),\n CHECK (n IN (1, 2)))'
    third = "CREATE TABLE pot (n INTEGER, size TEXT, UNIQUE (n, size), CHECK (n IN (1, 3)))"
    assert stands(one) == stands(other) != stands(third)
    by_number, by_size = (
        f"CREATE INDEX i ON pot ({columns})" for columns in ("n, size", "size, n")
    )
    assert stands(one, by_number) != stands(one, by_size)


IN_THE_INDEX = (
    ["UPDATE name_search SET words = ''"]
    if homes.SERVER is not None
    else [
        "DELETE FROM name_search_data WHERE id > 10",
        "UPDATE name_search_data SET block = zeroblob(length(block)) WHERE id > 10",
        "DELETE FROM name_search_docsize",
        "UPDATE name_search_content SET c0 = 'rosa' WHERE c0 LIKE '%fuchsia%'",
    ]
)


@pytest.mark.parametrize("statement", IN_THE_INDEX)
def test_an_index_that_finds_nothing_is_told_and_made_anew(ortet, statement):
    """The words stand in it and are those of the names, but nothing is found by them."""
    ortet("plant add \"Fuchsia 'Lane Ember'\" --owner me")
    edit(ortet.path, statement)
    told = ortet.ask("verify", expect=1)["problems"]
    assert [found["what"] for found in told] == ["index wrong"]
    assert "ortet repair" in ortet("verify", expect=1).out
    ortet("repair")
    assert ortet.ask("verify")["ok"]
    assert "Lane Ember" in ortet("plant list --name fuchsia").out


@homes.in_a_file
def test_an_index_of_another_format_is_damage(ortet):
    edit(ortet.path, "UPDATE name_search_config SET v = 99")
    for command in ("verify", "plant list --name fuchsia"):
        assert "is damaged (invalid fts5 file format" in ortet.refused(command)


@homes.in_a_file
def test_an_index_whose_way_to_its_words_is_gone_is_told():
    """FTS5's own check walks the words themselves; only a large index has a way to them."""
    with closing(sqlite3.connect(":memory:")) as file:
        file.execute(search.FTS5.create)
        file.executemany(
            f"INSERT INTO {search.TABLE} (now, earlier, numbers, shown) VALUES (?, '', ?, '')",  # noqa: S608 - a constant
            ((f"rosa lantern{n}", f"own {n}") for n in range(3000)),
        )
        file.commit()
        assert search.finds_what_it_holds(file)
        assert file.execute(f"DELETE FROM {search.TABLE}_idx").rowcount > 9  # noqa: S608 - a constant
        assert not search.finds_what_it_holds(file)
