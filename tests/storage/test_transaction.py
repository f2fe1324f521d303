"""The one way to write: whole or not at all, sealed, one at a time."""

from __future__ import annotations

import itertools
import json
import sqlite3
import subprocess
import sys
from datetime import date

import pytest
from sqlalchemy import func, insert, select, text, update
from sqlalchemy.exc import IntegrityError, PendingRollbackError

from registry.domain.dates import FuzzyDate
from registry.errors import (
    RegistryDamaged,
    RegistryLocked,
    RegistryReadOnly,
    SignUnfit,
    StorageFull,
)
from registry.storage import chain
from registry.storage import engine as engines
from registry.storage.engine import make_engine, reading, translated
from registry.storage.models import (
    Accession,
    ChainEntry,
    ChainHead,
    ChainPart,
    Hold,
    Line,
    Node,
    Place,
    Plant,
    Series,
)
from registry.storage.revision import HEAD
from registry.storage.transaction import recording
from registry.storage.verify import verify
from tests import homes
from tests.storage.makers import add_person, add_plant

MAY = FuzzyDate("2026-05", date(2026, 5, 1), date(2026, 5, 31), "in May")


def rows_of(session, seq):
    parts = session.scalars(
        select(ChainPart.body).where(ChainPart.seq == seq).order_by(ChainPart.part)
    )
    return [row for body in parts for row in chain.unpack(body) if row[0] != "="]


def test_what_is_recorded_is_there_afterwards_and_in_the_chain(record, engine, registry_file):
    with record("plant add") as rec:
        plant = add_plant(rec, 1, born=MAY)
        rec.last = ["26-0001"]
        rec.happened = "2026-05"
    with reading(engine, registry_file) as session:
        assert session.get_one(Node, plant.node_id).born == MAY
        entry = session.scalars(select(ChainEntry)).one()
        header = json.loads(entry.header)
        assert header == {
            "seq": 1,
            "previous": chain.GENESIS,
            "what": "plant add",
            "by": None,
            "happened": "2026-05",
            "recorded": "2026-05-14T10:00:00+00:00",
            "revision": HEAD,
            "parts": 1,
            "digest": header["digest"],
            "last": ["26-0001"],
        }
        assert entry.hash == chain.digest(entry.header.encode())
        assert session.execute(select(ChainHead.seq, ChainHead.hash)).one() == (1, entry.hash)
        tables = [(row[0], row[1]) for row in rows_of(session, 1)]
        assert tables == [("+", "accession"), ("+", "node"), ("+", "plant")]


def test_a_date_said_is_recorded_as_its_four_columns(record, engine, registry_file):
    with record("plant add") as rec:
        add_plant(rec, 1, born=MAY)
    with reading(engine, registry_file) as session:
        node = next(row for row in rows_of(session, 1) if row[1] == "node")
    named = dict(zip((c.name for c in Node.__table__.columns), node[2], strict=True))
    assert named["born_edtf"] == "2026-05"
    assert named["born_first"] == "2026-05-01"
    assert named["born_last"] == "2026-05-31"
    assert named["born_said"] == "in May"


def test_a_date_not_said_reads_as_none_and_one_with_open_bounds_does_not(
    record, engine, registry_file
):
    with record("plant add") as rec:
        plant = add_plant(rec, 1, born=FuzzyDate("XXXX", None, None, None))
        key = plant.node_id
    with reading(engine, registry_file) as session:
        assert session.get_one(Plant, key).ended is None
        assert session.get_one(Node, key).born == FuzzyDate("XXXX", None, None, None)


def test_the_defaults_of_columns_are_recorded_as_they_are_stored(record, engine, registry_file):
    with record("plant add") as rec:
        add_plant(rec, 1)
        add_plant(rec, 2)
    with reading(engine, registry_file) as session:
        recorded = [row[2] for row in rows_of(session, 1) if row[1] == "plant"]
        columns = Plant.__table__.columns
        stored = session.execute(select(*columns).order_by(Plant.node_id))
        assert recorded == [[chain.plain(value) for value in row] for row in stored]


def test_a_change_of_a_row_is_recorded_by_its_key_with_what_changed(record, engine, registry_file):
    with record("plant add") as rec:
        key = add_plant(rec, 1).node_id
    with record("plant end") as rec:
        plant = rec.session.get_one(Plant, key)
        plant.status = "dead"
        plant.pieces = None  # as it was: not a change
    with reading(engine, registry_file) as session:
        assert rows_of(session, 2) == [["~", "plant", [key], {"status": "dead"}]]


def test_a_value_changed_in_place_after_a_flush_does_not_change_what_was_recorded(
    record, engine, registry_file
):
    stops = ["sell"]
    with record("hold add") as rec:
        plant = add_plant(rec, 1)
        rec.add(Hold(node_id=plant.node_id, stops=stops, reason="spots"))
        rec.flush()
        stops.append("give")
    with reading(engine, registry_file) as session:
        (row,) = (row for row in rows_of(session, 1) if row[1] == "hold")
        assert ["sell"] in row[2]
        assert session.scalars(select(Hold.stops)).one() == ["sell"]


def test_two_entries_link(record, engine, registry_file):
    for number in (1, 2):
        with record("plant add") as rec:
            assert rec.seq == number
            add_plant(rec, number)
    with reading(engine, registry_file) as session:
        first, second = session.scalars(select(ChainEntry).order_by(ChainEntry.seq))
        assert json.loads(second.header)["previous"] == first.hash
        assert session.scalars(select(ChainHead.hash)).one() == second.hash


def test_a_recording_that_records_nothing_leaves_no_entry(record, engine, registry_file):
    with record("due"):
        pass
    with reading(engine, registry_file) as session:
        assert session.scalars(select(func.count()).select_from(ChainEntry)).one() == 0


def test_the_parts_of_a_large_entry_hold_a_thousand_rows_each(record, engine, registry_file):
    with record("import") as rec:
        rec.add(Accession(year=2026, number=0, kind="founder"))
        rec.session.add_all(Series(year=year, next=1) for year in range(1, 1200))
        rec.flush()
        rec.session.add_all(Series(year=year, next=1) for year in range(1200, 2301))
    with reading(engine, registry_file) as session:
        bodies = session.scalars(select(ChainPart.body).order_by(ChainPart.part)).all()
        assert [len(list(chain.unpack(body))) for body in bodies] == [1000, 1000, 303]
        assert rows_of(session, 1)[0][1] == "accession"


def test_bulk_rows_are_stored_and_recorded_alike_with_their_defaults(record, engine, registry_file):
    with record("import") as rec:
        rec.bulk(
            Accession.__table__,
            [{"id": n, "year": 2026, "number": n, "kind": "founder"} for n in range(1, 1502)],
        )
    with reading(engine, registry_file) as session:
        stored = session.execute(select(*Accession.__table__.columns).order_by(Accession.id))
        assert [["+", "accession", list(row)] for row in stored] == rows_of(session, 1)
        assert session.get_one(Accession, 1501).next_lot == 1
        assert session.get_one(Accession, 1501).seq == 1


def test_a_column_that_one_bulk_row_says_is_empty_in_the_others(record, engine, registry_file):
    rows = [{"id": 1, "name": "bench", "key": "bench"}, {"id": 2, "name": "bed", "key": "bed"}]
    rows[1]["parent_id"] = 1
    with record("import") as rec:
        rec.bulk(Place.__table__, rows)
    with reading(engine, registry_file) as session:
        stored = session.execute(select(*Place.__table__.columns).order_by(Place.id)).all()
        assert [(row.id, row.parent_id) for row in stored] == [(1, None), (2, 1)]
        assert [["+", "place", list(row)] for row in stored] == rows_of(session, 1)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"id": 1, "year": 2026, "number": 1}, "without \\['kind'\\]"),
        ({"id": 1, "year": 2026, "number": 1, "kind": "x", "colour": 1}, "with \\['colour'\\]"),
    ],
)
def test_a_bulk_row_with_a_gap_or_an_unknown_column_is_a_slip_that_tells(record, row, said):
    with pytest.raises(ValueError, match=said), record("import") as rec:
        rec.bulk(Accession.__table__, [row])


def test_derived_rows_are_written_and_stand_outside_the_chain(record, engine, registry_file):
    with record("plant add") as rec:
        key = add_plant(rec, 1).node_id
        rec.derived(insert(Line).values(node_id=key, root_id=key))
    with reading(engine, registry_file) as session:
        assert session.execute(select(Line.node_id, Line.root_id)).one() == (key, key)
        assert "line" not in {row[1] for row in rows_of(session, 1)}


@pytest.mark.parametrize(
    "statement",
    [
        update(Series).values(next=5),
        insert(Series).values(year=2026, next=1),
        text("UPDATE series SET next = 5"),
        text("  delete from series"),
        text("/* soon */ INSERT INTO series VALUES (2026, 1)"),
        text("-- soon\nREPLACE INTO series VALUES (2026, 1)"),
        text("WITH one(x) AS (SELECT 1) UPDATE series SET next = (SELECT x FROM one)"),
        text("DROP TABLE line"),
    ],
)
def test_a_write_past_the_recorder_is_refused(record, statement):
    with pytest.raises(RuntimeError, match="past the recorder"), record("slip") as rec:
        add_plant(rec, 1)
        rec.session.execute(statement)


def test_bulk_doors_of_the_session_are_shut_too(record):
    with pytest.raises(RuntimeError, match="past the recorder"), record("slip") as rec:
        rec.session.bulk_save_objects([Series(year=2026, next=1)])


def test_a_question_that_only_looks_like_a_write_is_answered(record):
    with record("look") as rec:
        assert rec.session.scalar(
            text("WITH updated(x) AS (SELECT 'delete') SELECT x FROM updated")
        )


def test_reading_never_writes(record, engine, registry_file):
    with (
        pytest.raises(RuntimeError, match="past the recorder"),
        reading(engine, registry_file) as session,
    ):
        session.add(Series(year=2026, next=1))
        session.flush()


def test_nothing_is_deleted(record):
    with record("plant add") as rec:
        rec.add(Series(year=2026, next=1))
    with pytest.raises(RuntimeError, match="nothing is deleted"), record("slip") as rec:
        rec.session.delete(rec.session.get_one(Series, 2026))


def test_a_value_worked_out_by_the_database_cannot_be_recorded(record):
    with record("plant add") as rec:
        rec.add(Series(year=2026, next=1))
    with pytest.raises(RuntimeError, match=r"Series\.next was set to an SQL"), record("x") as rec:
        rec.session.get_one(Series, 2026).next = Series.next + 1


def test_savepoints_are_refused(record):
    with pytest.raises(RuntimeError, match="no savepoints"), record("slip") as rec:
        rec.session.begin_nested()


def test_a_row_may_be_flushed_before_its_parent_but_not_committed_without_it(record):
    with record("plant add") as rec:
        rec.add(Plant(node_id=7))
        rec.flush()
        accession = rec.add(Accession(year=2026, number=1, kind="founder"))
        rec.flush()
        rec.add(Node(id=7, kind="plant", uuid=rec.new_id(), code="x", accession_id=accession.id))
    with pytest.raises(IntegrityError), record("plant add") as rec:
        rec.add(Plant(node_id=8))


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_an_exception_in_the_middle_leaves_nothing(record, engine, registry_file, error):
    with pytest.raises(error), record("plant add") as rec:
        add_plant(rec, 1)
        raise error
    assert_empty(engine, registry_file)


def test_a_constraint_broken_in_a_flush_leaves_nothing_even_when_it_is_caught(
    record, engine, registry_file
):
    with pytest.raises(PendingRollbackError), record("plant add") as rec:
        add_plant(rec, 1)
        rec.add(Accession(year=2026, number=1, kind="founder"))
        with pytest.raises(IntegrityError):
            rec.flush()
    assert_empty(engine, registry_file)


def test_a_rehearsal_runs_everything_and_leaves_nothing(record, engine, registry_file):
    with record("plant add", keep=False) as rec:
        add_plant(rec, 1)
        rec.flush()
        assert rec.session.scalar(select(func.count()).select_from(Plant)) == 1
    assert_empty(engine, registry_file)
    with record("plant add") as rec:
        assert rec.seq == 1


def assert_empty(engine, path):
    with reading(engine, path) as session:
        for table in (Accession, Node, Plant, ChainEntry, ChainPart):
            assert session.scalar(select(func.count()).select_from(table)) == 0, table
        assert session.execute(select(ChainHead.seq, ChainHead.hash)).one() == (0, chain.GENESIS)


def test_a_reader_sees_one_moment_and_never_waits(record, engine, registry_file):
    with reading(engine, registry_file) as session:
        assert session.scalar(select(func.count()).select_from(Plant)) == 0
        with record("plant add") as rec:
            add_plant(rec, 1)
        assert session.scalar(select(func.count()).select_from(Plant)) == 0
    with reading(engine, registry_file) as session:
        assert session.scalar(select(func.count()).select_from(Plant)) == 1


def test_a_second_writer_waits_and_then_says_that_the_registry_is_locked(
    record, engine, registry_file, monkeypatch
):
    monkeypatch.setattr(engines, "LOCK_WAIT_MS", 50)
    with record("stick"), pytest.raises(RegistryLocked), record("stick"):
        pass


def test_a_writer_waits_five_seconds():
    """Design section 17: writers wait five seconds for a lock."""
    assert engines.LOCK_WAIT_MS == 5000


@homes.in_a_file
def test_a_registry_opened_for_reading_refuses_to_record(registry_file, moment, new_id):
    closed = make_engine(registry_file, mode="ro")
    with (
        pytest.raises(RegistryReadOnly),
        recording(closed, registry_file, "stick", now=moment, new_id=new_id),
    ):
        pass


@homes.in_a_file
def test_a_full_disk_is_told_and_leaves_nothing(record, engine, registry_file):
    with pytest.raises(StorageFull), record("import") as rec:
        # SQLite's own limit on pages stands for the end of the disk.
        pages = rec.session.scalar(text("PRAGMA page_count"))
        rec.session.execute(text(f"PRAGMA max_page_count = {pages}"))
        for number in range(1, 2000):
            rec.add(Series(year=number, next=1))
        rec.flush()
    assert_empty(engine, registry_file)
    with record("plant add") as rec:
        add_plant(rec, 1)


def test_a_chain_without_a_head_is_damage(record, registry_file):
    homes.edit(registry_file, "DELETE FROM chain_head")
    with pytest.raises(RegistryDamaged), record("stick"):
        pass


@homes.in_a_file
def test_what_sqlite_says_of_other_things_stays_a_bug(registry_file):
    with pytest.raises(sqlite3.OperationalError, match="no such table"), translated(registry_file):
        connection = sqlite3.connect(registry_file)
        try:
            connection.execute("SELECT * FROM nowhere")
        finally:
            connection.close()


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from registry.ids import uuid7
from registry.location import Server
from registry.storage.engine import make_engine
from registry.storage.models import Series
from registry.storage.transaction import recording
path, start = sys.argv[1], int(sys.argv[2])
path = Server(path) if "://" in path else Path(path)
print("ready", flush=True)
sys.stdin.readline()
for year in range(start, start + 20):
    moment = datetime(2026, 5, 14, tzinfo=UTC)
    with recording(make_engine(path), path, "test", now=moment, new_id=uuid7) as rec:
        rec.add(Series(year=year, next=1))
"""


def test_two_processes_that_write_at_once_both_succeed_in_turn(engine, registry_file):
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(registry_file), start],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        for start in ("1", "1001")
    ]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
    for writer in writers:
        writer.communicate(b"go\n", timeout=60)
        assert writer.returncode == 0
    with reading(engine, registry_file) as session:
        assert session.scalar(select(func.count()).select_from(Series)) == 40
        entries = session.scalars(select(ChainEntry).order_by(ChainEntry.seq)).all()
        assert [entry.seq for entry in entries] == list(range(1, 41))
        for before, after in itertools.pairwise(entries):
            assert json.loads(after.header)["previous"] == before.hash


def test_several_entries_in_one_transaction_stand_together(engine, registry_file, moment, new_id):
    with (
        engine.execution_options(**{engines.WRITING: True}).connect() as outer,
        outer.begin(),
    ):
        for year in (2026, 2027):
            with recording(outer, registry_file, "sow", now=moment, new_id=new_id) as rec:
                rec.add(Series(year=year, next=1))
            with reading(outer, registry_file) as session:
                assert session.get_one(Series, year).next == 1
    with reading(engine, registry_file) as session:
        assert session.scalar(select(func.count()).select_from(Series)) == 2
        assert session.scalar(select(ChainHead.seq)) == 2
    assert verify(engine, registry_file).ok


def test_several_entries_in_one_transaction_fall_together(engine, registry_file, moment, new_id):
    with (
        pytest.raises(ValueError, match="the second"),
        engine.execution_options(**{engines.WRITING: True}).connect() as outer,
        outer.begin(),
    ):
        with recording(outer, registry_file, "sow", now=moment, new_id=new_id) as rec:
            rec.add(Series(year=2026, next=1))
        with recording(outer, registry_file, "sow", now=moment, new_id=new_id) as rec:
            rec.add(Series(year=2027, next=1))
            rec.flush()
            raise ValueError("the second")
    assert_empty(engine, registry_file)


def test_an_entry_given_up_leaves_those_before_it_in_the_same_transaction(
    engine, registry_file, moment, new_id
):
    with (
        engine.execution_options(**{engines.WRITING: True}).connect() as outer,
        outer.begin(),
    ):
        with recording(outer, registry_file, "sow", now=moment, new_id=new_id) as rec:
            rec.add(Series(year=2026, next=1))
        with recording(outer, registry_file, "sow", now=moment, new_id=new_id, keep=False) as rec:
            rec.add(Series(year=2027, next=1))
    with reading(engine, registry_file) as session:
        assert session.scalars(select(Series.year)).all() == [2026]
    assert verify(engine, registry_file).ok


@pytest.mark.parametrize("sign", ["\x00", "\x1b", "\u202e"])
def test_a_sign_that_no_text_may_hold_is_refused_by_whatever_way_it_came(
    record, engine, registry_file, sign
):
    """The command line looks at what is typed; this is the wall behind it."""
    text = f"red{sign}"
    with pytest.raises(SignUnfit), record("person add") as rec:
        add_person(rec, text)
    with pytest.raises(SignUnfit), record("place add") as rec:
        rec.bulk(Place.__table__, [{"id": 1, "name": text, "key": "red"}])
    assert verify(engine, registry_file).entries == 0
