"""Every rule that the tables hold is broken once on purpose, past the program."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Date,
    Engine,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    Table,
    UniqueConstraint,
    text,
)
from sqlalchemy.exc import IntegrityError
from sqlalchemy.types import TypeDecorator, TypeEngine

from registry.location import Location
from registry.storage.base import Base
from registry.storage.engine import WRITING, door, make_engine
from tests import homes

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


def kind_of(column: Column[Any]) -> TypeEngine[Any]:
    return column.type.impl_instance if isinstance(column.type, TypeDecorator) else column.type


def row_of(table: Table, **given: Any) -> dict[str, Any]:
    """A row of `table` that breaks no rule, unlike every other; references point nowhere."""
    row: dict[str, Any] = {}
    for column in table.columns:
        number = next(counter)
        match kind_of(column):
            case _ if column.nullable:
                row[column.name] = None
            case Boolean():
                row[column.name] = False
            case Integer():
                row[column.name] = number
            case Date():
                row[column.name] = "2026-05-14"
            case LargeBinary():
                row[column.name] = number.to_bytes(16)
            case _:
                row[column.name] = f"text {number}"
    return row | VALID.get(table.name, {}) | given


def put(connection: Connection, table: Table, **given: Any) -> None:
    """Add a row, or leave everything as it was."""
    row = row_of(table, **given)
    columns = ", ".join(f'"{name}"' for name in row)
    values = ", ".join(f":{name}" for name in row)
    statement = text(f'INSERT INTO "{table.name}" ({columns}) VALUES ({values})')  # noqa: S608 - our own names
    with connection.begin_nested():
        connection.execute(statement, row)


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
REFERRING = [table for table in Base.metadata.sorted_tables if table.foreign_keys]


@pytest.fixture(scope="module")
def whole(registry_template: Location, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    """One registry for all tests here, none of which leaves anything in it."""
    folder = tmp_path_factory.mktemp("constraints")
    return make_engine(homes.copied(registry_template, folder / "registry.ortet"))


@pytest.fixture
def connection(whole: Engine) -> Iterator[Connection]:
    """The registry without a head, in a transaction that ends before references are looked at."""
    with whole.execution_options(**{WRITING: True}).connect() as opened, door(opened):
        opened.exec_driver_sql("DELETE FROM chain_head")
        yield opened
        opened.rollback()


def test_every_check_is_broken_below():
    assert set(BROKEN) == set(CHECKS)


@pytest.mark.parametrize("name", BROKEN)
def test_a_check_refuses(connection, name):
    for given in BROKEN[name]:
        with pytest.raises(IntegrityError, match=rf"(?i)check constraint.*\b{name}\b"):
            put(connection, CHECKS[name], **given)
    put(connection, CHECKS[name])


@pytest.mark.parametrize(
    ("name", "table", "columns", "partial"),
    [pytest.param(*rule, id=rule[0]) for rule in uniques()],
)
def test_a_unique_rule_refuses_a_second_row(connection, name, table, columns, partial):
    same = {name: row_of(table)[name] for name in columns}
    for column in columns:
        if same[column] is None and column not in VALID.get(table.name, {}):
            same[column] = next(counter)
    put(connection, table, **same)
    # SQLite names the columns, and a server the rule; of a registry's two rules, its key's.
    refused = rf'UNIQUE constraint failed|unique.* "({name}|pk_registry)"'
    with pytest.raises(IntegrityError, match=refused):
        put(connection, table, **same)
    if partial:  # one that was taken back leaves its place free
        put(connection, table, **same, void_seq=5)


def test_an_open_count_is_not_a_negative_one(connection):
    put(connection, CHECKS["ck_lot_never_negative"], in_bench=None)


def instead(table: Table, column: Column[Any]) -> dict[str, None]:
    """What has to be empty where a row is about what `column` refers to, and about that alone."""
    rivals: set[str] = set()
    for rule in table.constraints:
        if isinstance(rule, CheckConstraint):
            words = set(re.findall(r"\w+", str(rule.sqltext)))
            rivals |= words if column.name in words else set()
    return {
        other.name: None
        for other in table.columns
        if other.name in rivals and other.nullable and other.foreign_keys
    }


def refuses(connection: Connection, table: Table, rule: ForeignKeyConstraint) -> bool:
    """Whether a reference is looked at, of the row that was just added."""
    if connection.dialect.name == "postgresql":
        try:
            with connection.begin_nested():
                connection.exec_driver_sql(f'SET CONSTRAINTS "{rule.name}" IMMEDIATE')
        except IntegrityError as error:
            return f'foreign key constraint "{rule.name}"' in str(error)
        return False
    broken = connection.exec_driver_sql(
        'SELECT key."from" FROM pragma_foreign_key_check(?) AS broken'
        " JOIN pragma_foreign_key_list(?) AS key ON key.id = broken.fkid",
        (table.name, table.name),
    )
    return set(rule.column_keys) <= set(broken.scalars())


@pytest.mark.parametrize("table", [pytest.param(table, id=table.name) for table in REFERRING])
def test_a_reference_to_nothing_is_refused(connection, table):
    for rule in table.foreign_key_constraints:
        (column,) = rule.columns
        with_it = {column.name: next(counter)} if column.nullable else {}
        put(connection, table, **instead(table, column) | with_it)
        assert refuses(connection, table, rule), rule.name


@homes.in_a_file
def test_the_engine_switches_references_on(engine):
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2  # FULL
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
