"""Edits behind the program's back: a few of what the command makes at length."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from registry.domain.soundness import Fault
from registry.storage.engine import open_registry
from registry.storage.verify import verify
from tests.faults import tampering
from tests.faults.places import REGISTRY

SOME = 30


def test_an_edit_that_changes_anything_is_noticed(garden, tmp_path):
    assert tampering.try_edits(garden / REGISTRY, tmp_path, SOME).total() > SOME // 4


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        # each was once unnoticed, or stopped the check with an error of Python's
        ("UPDATE person_detail SET key = 'somebody else'", Fault.DETAILS_CHANGED),
        ("UPDATE person_detail SET share = 7", Fault.DETAILS_CHANGED),
        ("UPDATE person_detail SET salt = 'text'", Fault.CHECK_STOPPED),
        ("UPDATE name_search SET now = 1", Fault.CHECK_STOPPED),
        ("UPDATE accession SET number = 'one' WHERE id = 3", Fault.CHANGED),
        ("UPDATE registry SET number_width = -4", Fault.CHANGED),
        ("UPDATE chain_entry SET header = 7 WHERE seq = 3", Fault.HEADER_UNREADABLE),
        ("UPDATE chain_part SET body = 'text' WHERE seq = 3", Fault.PART_UNREADABLE),
        ("UPDATE place SET name = CAST(x'ff' AS TEXT)", Fault.CHANGED),
    ],
)
def test_a_value_of_a_wrong_kind_is_told_and_stops_nothing(garden, tmp_path, statement, fault):
    copy = tmp_path / "edited.sqlite"
    copy.write_bytes((garden / REGISTRY).read_bytes())
    with closing(sqlite3.connect(copy)) as connection, connection:
        connection.execute(statement)
    report = verify(open_registry(copy).engine, copy)
    assert fault in {problem.fault for problem in report.problems}
