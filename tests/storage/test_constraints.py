"""Every rule that the tables hold is broken once on purpose, straight in SQLite."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest
from sqlalchemy import Boolean, CheckConstraint, Date, Integer, LargeBinary, Table, UniqueConstraint

from registry.storage.base import Base
from tests import homes

pytestmark = homes.in_a_file


VALID: dict[str, dict[str, Any]] = {
    "registry": {"id": 1},
    "node": {"kind": "plant"},
    "plant": {"plants": 1},
    "alias": {"node_id": 1},
    "stay": {"node_id": 1},
    "consent": {"plant_id": 1},
    "hold": {"node_id": 1},
    "release_item": {"node_id": 1, "n": 1},
    "loss": {"n": 1},
    "ledger_entry": {"lot_id": 1, "n": 1},
    "look": {"lot_id": 1},
    "label_print": {"node_id": 1},
    "note": {"node_id": 1},
    "attachment": {"node_id": 1},
    "trait": {"kind": "chimera"},
    "identity_check": {"outcome": "confirmed"},
    "restriction": {"rank": "species"},
    "restriction_act": {"effect": "bars"},
    "demand": {"about": "seed"},
    "recall_item": {"node_id": 1},
    "tool": {"kind": "tool"},
    "chain_head": {"id": 1},
    "checked": {"id": 1},
    "blanking": {"person_id": 1},
}
"""What a row needs beyond being filled, for the rules of its table to hold."""

BROKEN: dict[str, list[dict[str, Any]]] = {
    "ck_registry_one_row": [{"id": 2}],
    "ck_node_kind": [{"kind": "tray"}],
    "ck_plant_plants": [{"plants": 0}],
    "ck_lot_never_negative": [{"in_bench": -1}],
    "ck_batch_never_negative": [{"unsaid": -1}],
    "ck_edge_not_itself": [{"parent_id": 5, "child_id": 5}],
    "ck_alias_one_owner": [{"node_id": None}, {"accession_id": 1}],
    "ck_stay_one_owner": [{"node_id": None}, {"accession_id": 1}],
    "ck_ledger_entry_not_zero": [{"n": 0}],
    "ck_ledger_entry_one_subject": [{"lot_id": None}, {"batch_id": 1}],
    "ck_look_one_subject": [{"lot_id": None}, {"batch_id": 1}],
    "ck_consent_one_subject": [{"plant_id": None}, {"lot_id": 1}, {"right_id": 1}],
    "ck_consent_act_limit_positive": [{"limit_n": 0}],
    "ck_hold_one_subject": [{"node_id": None}, {"accession_id": 1}, {"place_id": 1}],
    "ck_release_item_one_subject": [{"node_id": None}, {"lot_id": 1}, {"batch_id": 1}],
    "ck_release_item_some": [{"n": 0}],
    "ck_loss_some": [{"n": 0}],
    "ck_label_print_one_owner": [{"node_id": None}, {"accession_id": 1}],
    "ck_note_one_subject": [
        {"node_id": None},
        {"accession_id": 1},
        {"person_id": 1},
        {"place_id": 1},
    ],
    "ck_attachment_one_subject": [
        {"node_id": None},
        {"accession_id": 1},
        {"person_id": 1},
        {"consent_id": 1},
        {"right_id": 1},
    ],
    "ck_trait_kind": [{"kind": "tall"}],
    "ck_identity_check_outcome": [{"outcome": "perhaps"}],
    "ck_same_plant_in_order": [{"one_id": 5, "other_id": 5}, {"one_id": 6, "other_id": 5}],
    "ck_restriction_rank": [{"rank": "family"}],
    "ck_demand_about": [{"about": "soil"}],
    "ck_restriction_act_effect": [{"effect": "discourages"}],
    "ck_recall_item_one_subject": [{"node_id": None}, {"release_item_id": 1}],
    "ck_recall_tick_some": [{"n": 0}],
    "ck_tool_kind": [{"kind": "pot"}],
    "ck_chain_head_one_row": [{"id": 2}],
    "ck_checked_one_row": [{"id": 2}],
    "ck_blanking_one_subject": [{"person_id": None}, {"note_id": 1}],
}
"""For each CHECK, ways to break it."""

counter = itertools.count(1000)


def row_of(table: Table, **given: Any) -> dict[str, Any]:
    """A row of `table` that breaks no rule, unlike every other; references point nowhere."""
    row: dict[str, Any] = {}
    for column in table.columns:
        number = next(counter)
        if column.nullable:
            row[column.name] = None
        elif isinstance(column.type, Boolean):
            row[column.name] = 0
        elif isinstance(column.type, Integer):
            row[column.name] = number
        elif isinstance(column.type, Date):
            row[column.name] = "2026-05-14"
        elif isinstance(column.type, LargeBinary):
            row[column.name] = number.to_bytes(16)
        else:
            row[column.name] = f"text {number}"
    return row | VALID.get(table.name, {}) | given


def put(connection: sqlite3.Connection, table: Table, **given: Any) -> None:
    row = row_of(table, **given)
    columns = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" * len(row))
    connection.execute(
        f'INSERT INTO "{table.name}" ({columns}) VALUES ({marks})',  # noqa: S608 - our own names
        list(row.values()),
    )


def uniques() -> Iterator[tuple[str, Table, tuple[str, ...], bool]]:
    """(name, table, columns, whether it looks at standing facts only) of each unique rule."""
    for table in Base.metadata.sorted_tables:
        for rule in table.constraints:
            if isinstance(rule, UniqueConstraint):
                yield str(rule.name), table, tuple(c.name for c in rule.columns), False
        for index in table.indexes:
            if index.unique:
                yield str(index.name), table, tuple(c.name for c in index.columns), True


CHECKS = {
    str(rule.name): table
    for table in Base.metadata.sorted_tables
    for rule in table.constraints
    if isinstance(rule, CheckConstraint)
}


@pytest.fixture
def connection(registry_file):
    """The registry without foreign keys, so that each rule is met alone, and without a head."""
    with closing(sqlite3.connect(registry_file)) as opened:
        opened.execute("DELETE FROM chain_head")
        yield opened


def test_every_check_is_broken_below():
    assert set(BROKEN) == set(CHECKS)


@pytest.mark.parametrize("name", BROKEN)
def test_a_check_refuses(connection, name):
    put(connection, CHECKS[name])
    connection.rollback()
    connection.execute("DELETE FROM chain_head")
    for given in BROKEN[name]:
        with pytest.raises(sqlite3.IntegrityError, match=f"CHECK constraint failed: {name}"):
            put(connection, CHECKS[name], **given)


@pytest.mark.parametrize(
    ("table", "columns", "partial"),
    [pytest.param(*rule[1:], id=rule[0]) for rule in uniques()],
)
def test_a_unique_rule_refuses_a_second_row(connection, table, columns, partial):
    same = {name: row_of(table)[name] for name in columns}
    for name in columns:
        if same[name] is None and name not in VALID.get(table.name, {}):
            same[name] = next(counter)
    put(connection, table, **same)
    with pytest.raises(sqlite3.IntegrityError, match="UNIQUE constraint failed"):
        put(connection, table, **same)
    if partial:  # one that was taken back leaves its place free
        put(connection, table, **same, void_seq=5)


def test_an_open_count_is_not_a_negative_one(connection):
    put(connection, CHECKS["ck_lot_never_negative"], in_bench=None)


def test_a_reference_to_nothing_is_refused(registry_file):
    with closing(sqlite3.connect(registry_file)) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        for table in Base.metadata.sorted_tables:
            needed = [c for c in table.columns if c.foreign_keys and not c.nullable]
            if needed:
                with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
                    put(connection, table)


def test_the_engine_switches_references_on(engine):
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2  # FULL
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
