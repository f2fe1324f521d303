"""A check of the whole registry finds what was changed behind the program's back, and names it."""

from __future__ import annotations

import zlib
from functools import partial
from itertools import count
from uuid import UUID

import pytest

from registry.domain.codes import Code
from registry.domain.soundness import MOST, Fault
from registry.errors import RegistryDamaged
from registry.storage import chain
from registry.storage import verify as verifying
from registry.storage.engine import make_engine, reading
from registry.storage.models import Blanking, Edge, Place, Series
from registry.storage.sealing import BLANKED
from registry.storage.transaction import recording
from registry.storage.verify import verify, verify_chain
from tests import homes
from tests.conftest import MOMENT
from tests.homes import edit
from tests.storage.makers import add_garden, add_plant

LOT = Code(26, 2, "A").text
BATCH = Code(26, 2).text
FOUNDER = Code(26, 1).text
PLANT = Code(26, 1, plant=1).text


@pytest.fixture(scope="session")
def garden_template(registry_template, tmp_path_factory):
    """The garden, made once for all tests: copy it, never open it."""
    path = tmp_path_factory.mktemp("garden") / "registry.ortet"
    location = homes.copied(registry_template, path)
    ids = count(1000)
    add_garden(
        partial(
            recording,
            make_engine(location),
            location,
            now=MOMENT,
            new_id=lambda moment: UUID(int=next(ids)),
        )
    )
    return location


@pytest.fixture
def registry_file(request, registry_template, garden_template, tmp_path):
    """Empty, or the garden where a test asks for it."""
    template = garden_template if "garden" in request.fixturenames else registry_template
    return homes.copied(template, tmp_path / "registry.ortet")


@pytest.fixture
def garden(registry_file):
    return registry_file


def one(engine, question):
    with engine.connect() as connection:
        return connection.exec_driver_sql(question).scalar_one()


def faults(report):
    return {(problem.fault, problem.record, problem.seq) for problem in report.problems}


def test_the_migrations_themselves_make_the_tables_that_are_compared(garden, engine):
    assert verify(engine, garden).ok


def test_an_empty_registry_is_sound(engine, registry_file):
    report = verify(engine, registry_file)
    assert report.ok
    assert (report.entries, report.rows, report.head) == (0, 0, chain.GENESIS)


def test_a_garden_is_sound_and_is_counted(garden, engine):
    told = []
    report = verify(engine, garden, lambda done, all_of: told.append((done, all_of)))
    assert report.problems == ()
    assert report.entries == 3
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert report.head == one(engine, "SELECT hash FROM chain_head")


@homes.in_a_file
def test_a_check_leaves_no_trace(garden, engine):
    before = garden.read_bytes()
    verify(engine, garden)
    assert garden.read_bytes() == before
    assert [file.name for file in garden.parent.iterdir()] == [garden.name]


@homes.in_a_file
def test_a_read_only_registry_is_checked_too(garden):
    assert verify(make_engine(garden, mode="ro", immutable=True), garden).ok


def test_a_count_edited_behind_the_back_names_the_lot_and_the_entry(garden, engine):
    edit(garden, "UPDATE lot SET in_bench = 16")
    report = verify(engine, garden)
    assert not report.ok
    assert faults(report) == {(Fault.CHANGED, LOT, 3), (Fault.COUNT_WRONG, LOT, 3)}
    changed = report.problems[0]
    assert (changed.column, changed.found, changed.expected) == ("in_bench", "16", "13")
    assert changed.where == "state"


def test_a_count_edited_together_with_its_ledger_is_found(garden, engine):
    edit(garden, "UPDATE lot SET in_bench = 15", "UPDATE ledger_entry SET n = -1 WHERE n = -3")
    assert faults(verify(engine, garden)) == {
        (Fault.CHANGED, LOT, 3),
        (Fault.CHANGED, f"ledger entry 2 of {LOT}", 3),
    }


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        pytest.param(
            "UPDATE lot SET in_bench = '13x'",
            {(Fault.CHANGED, LOT, 3), (Fault.COUNT_WRONG, LOT, 3)},
            marks=homes.in_a_file,  # a server keeps every column to its type
        ),
        ("UPDATE node SET born_edtf = '2020' WHERE id = 1", {(Fault.CHANGED, PLANT, 1)}),
        ("UPDATE node SET uuid = x'07' WHERE id = 1", {(Fault.CHANGED, PLANT, 1)}),
        ("UPDATE plant SET seq = 2", {(Fault.CHANGED, PLANT, 1)}),
        (
            "INSERT INTO series VALUES (2025, 9)",
            {(Fault.ADDED, "series 2025", None)},
        ),
        (
            "DELETE FROM ledger_entry WHERE n < 0",
            {(Fault.GONE, f"ledger entry 2 of {LOT}", 3), (Fault.COUNT_WRONG, LOT, 2)},
        ),
        (
            "DELETE FROM plant",
            {
                (Fault.GONE, PLANT, 1),
                (Fault.WRONG_KIND, PLANT, 1),
                (Fault.SEARCH_WRONG, PLANT, None),
                (Fault.LINE_WRONG, PLANT, None),
            },
        ),
        (
            "DELETE FROM edge",
            {
                (Fault.GONE, f"edge 1 of {LOT}", 2),
                (Fault.NO_PARENT, LOT, 2),
                (Fault.LINE_WRONG, LOT, None),
            },
        ),
        (
            "UPDATE edge SET parent_id = 77",
            {
                (Fault.CHANGED, f"edge 1 of {LOT}", 2),
                (Fault.REFERENCE, f"edge 1 of {LOT}", None),
                (Fault.LINE_WRONG, LOT, None),
            },
        ),
        (
            "UPDATE node SET code = '26-0001-001-X' WHERE id = 1",
            {(Fault.CHANGED, "26-0001-001-X", 1), (Fault.CODE_WRONG, "26-0001-001-X", 1)},
        ),
        (
            "UPDATE series SET next = 2",
            {(Fault.CHANGED, "series 2026", 1), (Fault.NUMBER_AHEAD, "2026", None)},
        ),
        (
            "UPDATE accession SET next_plant = 1 WHERE id = 1",
            {(Fault.CHANGED, FOUNDER, 1), (Fault.NUMBER_AHEAD, PLANT, 1)},
        ),
        (
            "UPDATE accession SET next_lot = 1 WHERE id = 2",
            {(Fault.CHANGED, BATCH, 2), (Fault.NUMBER_AHEAD, LOT, 2)},
        ),
        (
            "UPDATE batch SET unsaid = 2",
            {(Fault.CHANGED, BATCH, 2), (Fault.UNSAID_WRONG, BATCH, 2)},
        ),
        (
            "UPDATE person_detail SET name = 'Bob'",
            {(Fault.DETAILS_CHANGED, "person 1", 1)},
        ),
        ("UPDATE person_detail SET share = TRUE", {(Fault.DETAILS_CHANGED, "person 1", 1)}),
        ("DELETE FROM person_detail", {(Fault.DETAILS_GONE, "person 1", 1)}),
        ("UPDATE sealed SET value = 'elsewhere'", {(Fault.SEALED_CHANGED, "note 1", 1)}),
        ("UPDATE sealed SET hash = 'x'", {(Fault.SEALED_CHANGED, "note 1", 1)}),
        ("DELETE FROM sealed", {(Fault.SEALED_GONE, "note 1", 1)}),
        ("UPDATE blob SET bytes = x'00'", {(Fault.FILE_CHANGED, "rose.jpg", 1)}),
        ("UPDATE blob SET bytes = NULL", {(Fault.FILE_GONE, "rose.jpg", 1)}),
        ("DELETE FROM line WHERE node_id = 2", {(Fault.LINE_WRONG, LOT, None)}),
        ("INSERT INTO line VALUES (2, 2)", {(Fault.LINE_WRONG, LOT, None)}),
        (
            "INSERT INTO line VALUES (1, 2)",
            {(Fault.LINE_WRONG, PLANT, None), (Fault.LINE_WRONG, LOT, None)},
        ),
        ("UPDATE chain_head SET seq = 2", {(Fault.HEAD_WRONG, "", 3)}),
        ("UPDATE chain_head SET hash = 'x'", {(Fault.HEAD_WRONG, "", 3)}),
        ("DELETE FROM chain_head", {(Fault.HEAD_WRONG, "", 3)}),
        ("UPDATE chain_entry SET by_id = 1 WHERE seq = 2", {(Fault.WRITER_WRONG, "", 2)}),
        ("UPDATE chain_entry SET request_key = 'x' WHERE seq = 2", {(Fault.REQUEST_WRONG, "", 2)}),
        (
            "UPDATE chain_entry SET hash = 'x' WHERE seq = 2",
            {(Fault.HASH_WRONG, "", 2), (Fault.LINK_BROKEN, "", 3)},
        ),
        (
            """UPDATE chain_entry SET header = replace(header, '"stick"', '"sow"') WHERE seq = 2""",
            {(Fault.HASH_WRONG, "", 2)},
        ),
        (
            "UPDATE chain_entry SET header = '{' WHERE seq = 2",
            {(Fault.HASH_WRONG, "", 2), (Fault.HEADER_UNREADABLE, "", 2)},
        ),
        (
            "INSERT INTO chain_part VALUES (9, 1, x'00')",
            {(Fault.PART_WITHOUT_ENTRY, "", 9)},
        ),
        (
            "INSERT INTO chain_part VALUES (0, 1, x'00')",
            {(Fault.PART_WITHOUT_ENTRY, "", 0)},
        ),
        (
            "INSERT INTO chain_entry VALUES (-1, '{}', 'ab', NULL, NULL)",
            {(Fault.ADDED, "entry -1 of the chain", None)},
        ),
        (
            "INSERT INTO sealed VALUES (9, x'00', 'a word of nobody', 'ab')",
            {(Fault.ADDED, "private text 9", None)},
        ),
    ],
)
def test_a_change_behind_the_back_is_named(garden, engine, statement, expected):
    edit(garden, statement)
    found = faults(verify(engine, garden))
    if "'{'" in statement:  # the rows of an entry that cannot be read were never recorded
        found = {fault for fault in found if fault[0].where == "chain" and fault[2] != 3}
    assert found == expected


def test_a_line_that_a_plant_without_a_name_begins_is_found(ortet):
    ortet("plant add \"Rosa 'Lane Lantern'\" --owner me --how bought --number ROSE")
    ortet("divide ROSE --from-rootstock --count 1 --number SUCK --on 2025-06-01 --open")
    assert ortet.ask("verify")["ok"]
    homes.edit(
        ortet.path,
        "INSERT INTO line SELECT node_id, node_id FROM plant WHERE received_as IS NULL",
    )
    wrong = ortet.ask("verify", expect=1)["problems"]
    assert [one["record"] for one in wrong] == ["26-0003A-4", "26-0002-001-3"]


@homes.in_a_file
def test_a_number_that_became_a_text_which_is_none_stops_no_check(garden, engine):
    edit(garden, "UPDATE chain_part SET seq = CAST(x'726fff' AS TEXT) WHERE seq = 3")
    assert Fault.PARTS_WRONG in {fault for fault, _, _ in faults(verify(engine, garden))}


def test_an_entry_taken_out_is_missed(garden, engine):
    edit(garden, "DELETE FROM chain_entry WHERE seq = 2", "DELETE FROM chain_part WHERE seq = 2")
    found = faults(verify(engine, garden))
    assert (Fault.ENTRY_MISSING, "", 2) in found
    assert (Fault.LINK_BROKEN, "", 3) in found
    assert (Fault.ADDED, LOT, 3) in found
    assert (Fault.ROW_IMPOSSIBLE, "", 3) in found


def test_a_part_rewritten_does_not_fit_its_entry(garden, engine):
    body = one(engine, "SELECT body FROM chain_part WHERE seq = 3")
    lines = zlib.decompress(body).replace(b'"in_bench":13', b'"in_bench":14')
    edit(
        garden,
        ("UPDATE chain_part SET body = ? WHERE seq = 3", (zlib.compress(lines),)),
        "UPDATE lot SET in_bench = 14",
    )
    assert faults(verify(engine, garden)) == {
        (Fault.PARTS_WRONG, "", 3),
        (Fault.COUNT_WRONG, LOT, 3),
    }


@pytest.mark.parametrize(
    "body",
    [
        b"not compressed",
        zlib.compress(b"not json"),
        zlib.compress(b"[1,2]"),
        zlib.compress(b"5"),
        zlib.compress(b'["=","lot",["node_id"],["node_id"]]\n["+","lot",[1,2,3]]'),
        zlib.compress(b'["=","nowhere",["id"],["id"]]\n["+","nowhere",[1]]'),
        zlib.compress(b'["=","lot",["id"],["no such column"]]\n["+","lot",[1]]'),
        zlib.compress(b'["+","lot",[1]]'),
        zlib.compress(b'["=","node",["id"],["uuid"]]\n["+","node",["no hexadecimal"]]'),
    ],
)
def test_a_part_that_cannot_be_read_is_told_and_the_check_goes_on(garden, engine, body):
    edit(garden, ("UPDATE chain_part SET body = ? WHERE seq = 3", (body,)))
    found = faults(verify(engine, garden))
    assert (Fault.PARTS_WRONG, "", 3) in found
    assert {(Fault.PART_UNREADABLE, "", 3), (Fault.ROW_IMPOSSIBLE, "", 3)} & found
    assert (Fault.CHANGED, LOT, 2) in found


def test_a_circle_is_found_from_each_edge_that_leads_back(garden, engine):
    edit(
        garden,
        "INSERT INTO edge (parent_id, child_id, role, clonal, seq)"
        " VALUES (2, 1, 'raised', FALSE, 3)",
    )
    found = faults(verify(engine, garden))
    assert (Fault.CIRCLE, PLANT, 3) in found
    assert len([fault for fault in found if fault[0] is Fault.CIRCLE]) == 1


def test_an_older_child_of_a_newer_parent_is_no_circle(garden, record, engine):
    with record("plant match") as rec:
        newer = add_plant(rec, 3)
        rec.session.get_one(Series, 2026).next = 4
        rec.add(Edge(parent_id=newer.node_id, child_id=1, role="source", clonal=False))
    assert verify(engine, garden).ok


EMPTY = (
    ("UPDATE person_detail SET salt = ?, name = '', contact = NULL", (BLANKED,)),
    ("UPDATE sealed SET salt = ?, value = ''", (BLANKED,)),
)


def test_values_blanked_with_their_salt_are_no_fault(garden, engine, record):
    with record("person blank") as rec:
        rec.add(Blanking(person_id=1, reason="she asked"))
        rec.add(Blanking(note_id=1, reason="she asked"))
    edit(garden, *EMPTY)
    assert verify(engine, garden).ok


def test_values_emptied_behind_the_record_are_a_fault(garden, engine):
    edit(garden, *EMPTY)
    assert faults(verify(engine, garden)) == {
        (Fault.EMPTIED, "person 1", 1),
        (Fault.EMPTIED, "note 1", 1),
    }


def test_a_record_taken_back_and_put_again_in_one_entry_is_played_back(garden, record, engine):
    with record("place add") as rec:
        rec.add(Place(name="Frame", key="frame"))
    with record("correct") as rec:
        rec.session.query(Place).one().void_seq = rec.seq
        rec.add(Place(name="frame", key="frame"))
    assert verify(engine, garden).ok


def test_the_problems_of_a_part_are_told_up_to_a_number_and_counted(garden, record, engine):
    with record("import") as rec:
        rec.bulk(Series.__table__, [{"year": n, "next": 1} for n in range(MOST + 50)])
    edit(garden, "UPDATE series SET next = 2 WHERE year < 1000")
    report = verify(engine, garden)
    assert len(report.problems) == MOST
    assert report.more == 50
    assert {problem.seq for problem in report.problems} == {4}


def test_a_large_entry_is_played_back_part_by_part(garden, record, engine):
    with record("import") as rec:
        rec.bulk(Series.__table__, [{"year": n, "next": 1} for n in range(1, 1500)])
        rec.session.get_one(Series, 1200).next = 7
    report = verify(engine, garden)
    assert report.ok
    assert report.rows == 17 + 1500


def test_an_entry_of_a_revision_that_is_not_known_is_told(garden, engine, monkeypatch):
    monkeypatch.setattr(verifying, "KNOWN", ())
    assert {problem.fault for problem in verify(engine, garden).problems} == {
        Fault.REVISION_UNKNOWN
    }


@homes.in_a_file
@pytest.mark.parametrize("taken", ["DROP TABLE look", "ALTER TABLE lot DROP COLUMN medium"])
def test_a_table_or_column_that_was_dropped_from_a_file_is_damage(garden, engine, taken):
    edit(garden, taken)
    with pytest.raises(RegistryDamaged, match="no such"):
        verify(engine, garden)
    with pytest.raises(RegistryDamaged, match="no such"), reading(engine, garden) as session:
        session.connection().exec_driver_sql("SELECT medium FROM lot, look").all()


@homes.in_a_file
def test_a_damaged_page_is_found(garden, engine):
    content = bytearray(garden.read_bytes())
    size = len(content) // 2 // 4096 * 4096
    content[size : size + 4096] = b"\xff" * 4096
    garden.write_bytes(content)
    try:
        report = verify(engine, garden)
    except RegistryDamaged:
        return
    assert Fault.DAMAGED in {problem.fault for problem in report.problems}


@homes.in_a_file
def test_a_quick_check_looks_at_the_file_and_the_chain(garden, engine):
    assert verify_chain(engine, garden).ok
    edit(garden, "UPDATE chain_head SET seq = 2", "UPDATE lot SET in_bench = 1")
    assert {problem.fault for problem in verify_chain(engine, garden).problems} == {
        Fault.HEAD_WRONG
    }


def test_every_fault_has_its_part_of_the_check():
    assert all(fault.where for fault in Fault)
