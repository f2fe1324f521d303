"""A check that goes on from the last whole one: what it finds, and what it says it did not see."""

from __future__ import annotations

import pytest
from sqlalchemy import insert, select

from registry.domain.heads import Head
from registry.domain.soundness import Fault, Mark
from registry.services.upkeep import check, remember
from registry.storage.engine import make_engine, open_registry
from registry.storage.models import Blob, ChainEntry, Line, Lot, Series
from registry.storage.since import newest_mark
from tests import homes
from tests.homes import edit
from tests.storage.makers import add_garden, add_lot, add_person, add_photo, lose
from tests.storage.test_verify import LOT


@pytest.fixture
def garden(record, registry_file):
    """The garden, checked whole after three entries, and two entries since."""
    add_garden(record)
    opened = open_registry(registry_file)
    with record("verify") as rec:
        remember(rec, check(opened))
    with record("look") as rec:
        lose(rec, rec.session.get_one(Lot, 2), 2)
    with record("stick") as rec:
        rec.session.get_one(Series, 2026).next = 4
        lot = add_lot(rec, 3, 1, 8)
        rec.derived(insert(Line).values(node_id=lot.node_id, root_id=1))
        add_person(rec, "Bram")
        add_photo(rec, 1, b"another picture")
    return registry_file


def fast(path, against=None):
    return check(open_registry(path), fast=True, against=against)


def head_of(path, seq):
    with make_engine(path).connect() as connection:
        of_entry = select(ChainEntry.hash).where(ChainEntry.seq == seq)
        return Head.of(seq, connection.execute(of_entry).scalar_one())


def test_what_was_recorded_since_checks_out(garden):
    report = fast(garden)
    assert report.problems == ()
    assert isinstance(report.since, Mark)
    assert (report.since.seq, report.entries, report.seq) == (3, 2, 5)


def test_a_whole_check_that_finds_something_moves_nothing(garden, record):
    edit(garden, "UPDATE lot SET in_bench = 1 WHERE node_id = 2")
    with record("verify") as rec:
        remember(rec, check(open_registry(garden)))
    mark = newest_mark(open_registry(garden).engine, garden)
    assert mark is not None
    assert mark.seq == 3


def test_a_check_leaves_the_head_as_it_found_it(garden, record):
    before = head_of(garden, 5)
    with record("verify") as rec:
        remember(rec, check(open_registry(garden)))
    mark = newest_mark(open_registry(garden).engine, garden)
    assert mark is not None
    assert Head.of(mark.seq, mark.hash) == before


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("UPDATE lot SET in_bench = 99 WHERE node_id = 2", Fault.CHANGED),
        ("UPDATE lot SET in_bench = 7 WHERE node_id = 3", Fault.CHANGED),
        ("UPDATE ledger_entry SET n = -9 WHERE seq = 4", Fault.CHANGED),
        ("UPDATE ledger_entry SET void_seq = 5 WHERE seq = 3", Fault.CHANGED),
        ("DELETE FROM ledger_entry WHERE seq = 4", Fault.GONE),
        ("DELETE FROM lot WHERE node_id = 3", Fault.GONE),
        ("DELETE FROM lot WHERE node_id = 2", Fault.ROW_IMPOSSIBLE),
        (
            "INSERT INTO ledger_entry (lot_id, kind, n, seq) VALUES (2, 'lost', -1, 5)",
            Fault.ADDED,
        ),
        ("UPDATE node SET code = '26-0003B-0' WHERE seq = 5", Fault.CODE_WRONG),
        ("UPDATE person_detail SET name = 'Cy' WHERE name = 'Bram'", Fault.DETAILS_CHANGED),
        (
            "UPDATE person_detail SET salt = x'', name = '' WHERE name = 'Bram'",
            Fault.EMPTIED,
        ),
        ("UPDATE blob SET bytes = x'00' WHERE size = 15", Fault.FILE_CHANGED),
        ("UPDATE chain_entry SET header = replace(header, 'look', 'take') WHERE seq = 4",
         Fault.HASH_WRONG),
        ("DELETE FROM chain_entry WHERE seq = 4", Fault.ENTRY_MISSING),
        ("DELETE FROM chain_part WHERE seq = 5", Fault.PARTS_WRONG),
        ("UPDATE chain_head SET seq = 4", Fault.HEAD_WRONG),
        ("UPDATE chain_entry SET hash = 'x' WHERE seq = 3", Fault.CHECK_GONE),
        ("UPDATE chain_entry SET header = header || ' ' WHERE seq = 3", Fault.CHECK_GONE),
        ("UPDATE checked SET hash = replace(hash, 'a', 'b')", Fault.CHECK_GONE),
    ],
)  # fmt: skip
def test_tampering_with_what_it_covers_is_found(garden, statement, fault):
    edit(garden, statement)
    report = fast(garden)
    assert not report.ok
    assert fault in {problem.fault for problem in report.problems}


def test_a_changed_count_is_named_with_its_entry(garden):
    edit(garden, "UPDATE lot SET in_bench = 99 WHERE node_id = 2")
    assert (LOT, 4, "99", "11") in {
        (p.record, p.seq, p.found, p.expected) for p in fast(garden).problems
    }


def test_what_it_does_not_cover_is_left_to_the_whole_check(garden):
    """A name that was recorded before, and not touched since: the answer says so in words."""
    edit(garden, "UPDATE plant SET received_as = 'Rosa' WHERE node_id = 1")
    assert fast(garden).ok
    assert not check(open_registry(garden)).ok


def test_without_a_whole_check_everything_is_looked_at(record, registry_file):
    add_garden(record)
    report = fast(registry_file)
    assert report.since is None
    assert report.entries == 3


def test_a_head_that_was_kept_is_held_against_the_chain(garden):
    for seq in (1, 3, 4, 5):
        assert fast(garden, head_of(garden, seq)).ok
        assert check(open_registry(garden), against=head_of(garden, seq)).ok


@pytest.mark.parametrize("quick", [True, False])
def test_a_cut_tail_and_a_rewritten_whole_are_told(garden, quick):
    def found(head):
        report = check(open_registry(garden), fast=quick, against=head)
        return [p.fault for p in report.problems if p.where == "head"]

    longer = Head.of(7, "ab" * 32)
    assert found(longer) == [Fault.TAIL_CUT]
    other = Head.of(2, "ab" * 32)
    assert found(other) == [Fault.REWRITTEN]


def test_a_whole_rewritten_up_to_an_old_head_is_told_fast_too(garden):
    """The hash of the old entry is left standing, and its words are changed."""
    head = head_of(garden, 2)
    edit(garden, "UPDATE chain_entry SET header = header || ' ' WHERE seq = 2")
    assert not fast(garden, head).ok


def test_a_file_that_was_emptied_since_is_no_fault(garden, record):
    """Its row is older than the whole check, and was changed after it."""
    with record("blank") as rec:
        for blob in rec.session.scalars(select(Blob)):
            blob.content, blob.blanked = None, True
    report = fast(garden)
    assert report.since is not None
    assert report.problems == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE checked SET at = 'yesterday'",
        pytest.param("UPDATE checked SET at = x'ff'", marks=homes.in_a_file),
        pytest.param("UPDATE checked SET seq = 'three'", marks=homes.in_a_file),
        "UPDATE checked SET seq = -1",
    ],
)
def test_a_note_that_no_check_leaves_is_not_gone_on_from(garden, statement):
    edit(garden, statement)
    report = fast(garden)
    assert report.ok
    assert report.since is None
    assert report.entries == 5
