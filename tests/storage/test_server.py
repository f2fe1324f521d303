"""What holds for a registry on a server alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import make_url

from registry.errors import (
    FileInTheWay,
    RegistryExists,
    RegistryFromNewerProgram,
    RegistryLocked,
    RegistryMissing,
    RegistryReadOnly,
    RegistryUnsupported,
    ServerSilent,
)
from registry.ids import uuid7
from registry.location import Server
from registry.storage import crossing, lineage_queries, postgres
from registry.storage.backup import back_up, restore
from registry.storage.engine import WRITING, door, make_engine, open_registry
from registry.storage.migrate import in_the_making
from registry.storage.transaction import recording
from registry.storage.verify import verify
from tests import homes
from tests.conftest import MOMENT

pytestmark = homes.on_a_server

DOCS = Path(__file__).parents[2] / "docs" / "server.md"


def write(location, statement: str) -> None:
    """Run a statement past the program, as its owner could at the server."""
    with (
        make_engine(location).execution_options(**{WRITING: True}).begin() as connection,
        door(connection),
    ):
        connection.exec_driver_sql(statement)


def as_role(server: Server, role: str) -> Server:
    return Server(make_url(server.url).set(username=role).render_as_string(hide_password=False))


def test_an_empty_database_holds_no_registry(tmp_path):
    with pytest.raises(RegistryMissing):
        open_registry(homes.empty(tmp_path / "empty"))


def test_a_database_that_is_not_there(tmp_path):
    with pytest.raises(RegistryMissing):
        open_registry(homes.called(tmp_path / "nowhere"))


def test_a_server_that_does_not_answer(tmp_path):
    with pytest.raises(ServerSilent) as caught:
        open_registry(Server(f"postgresql://jo:secret@/ortet?host={tmp_path}"))
    assert "secret" not in str(caught.value.server)


def test_a_url_that_cannot_be_read():
    with pytest.raises(RegistryUnsupported):
        open_registry(Server("postgresql://jo@here:port/ortet"))


def test_a_database_that_holds_something_is_left_alone(tmp_path):
    server = homes.empty(tmp_path / "theirs")
    write(server, "CREATE TABLE bookmarks (id int)")
    with pytest.raises(RegistryExists), in_the_making(server):
        pass


def test_what_was_not_finished_leaves_nothing(tmp_path):
    server = homes.empty(tmp_path / "half")
    with pytest.raises(ZeroDivisionError), in_the_making(server):
        raise ZeroDivisionError
    with pytest.raises(RegistryMissing):
        open_registry(server)


def test_another_revision(registry_file):
    write(registry_file, "UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(RegistryFromNewerProgram):
        open_registry(registry_file)


def test_a_writer_waits_and_is_told(registry_file, monkeypatch):
    monkeypatch.setattr(postgres, "_BEGIN", "SET LOCAL lock_timeout = 50")
    engine = make_engine(registry_file)
    first = recording(engine, registry_file, "first", now=MOMENT, new_id=uuid7)
    second = recording(engine, registry_file, "second", now=MOMENT, new_id=uuid7)
    with first, pytest.raises(RegistryLocked), second:
        pass


def test_a_reader_of_one_moment_sees_nothing_newer(registry_file):
    reader = make_engine(registry_file).connect()
    with reader:
        assert reader.exec_driver_sql("SELECT seq FROM chain_head").scalar() == 0
        write(registry_file, "UPDATE chain_head SET seq = 7")
        assert reader.exec_driver_sql("SELECT seq FROM chain_head").scalar() == 0


def test_an_answer_cannot_write(registry_file):
    with (
        make_engine(registry_file).connect() as connection,
        door(connection),
        pytest.raises(Exception, match="read-only transaction"),
    ):
        connection.exec_driver_sql("UPDATE chain_head SET seq = 7")


@pytest.mark.parametrize("statement", [lineage_queries.ANCESTRY, lineage_queries.DESCENT])
def test_edges_are_joined_to_a_recursion_one_by_one(statement):
    """Of 110,000 edges all were read to join 200: 14 ms, and half of one as it is now."""
    assert postgres.in_its_words(statement.text).count("OFFSET 0) AS edge") == 1


def test_small_answers_are_what_the_server_is_told_to_expect(registry_file):
    """Compiling a statement of a millisecond took a tenth of a second, as measured."""
    with make_engine(registry_file).connect() as connection:
        assert connection.exec_driver_sql("SHOW jit").scalar() == "off"
        workers = connection.exec_driver_sql("SHOW max_parallel_workers_per_gather").scalar()
        assert workers == "0"
        assert connection.exec_driver_sql("SHOW random_page_cost").scalar() == "1.1"


def test_text_is_in_the_order_of_its_code_points_whatever_the_locale(registry_file):
    with make_engine(registry_file).connect() as connection:
        other = connection.exec_driver_sql(
            "SELECT table_name, column_name FROM information_schema.columns"
            " WHERE table_schema = 'public' AND data_type = 'character varying'"
            " AND collation_name IS DISTINCT FROM 'C'"
        ).all()
    assert other == []


def test_every_foreign_key_is_looked_at_when_a_transaction_ends(registry_file):
    with make_engine(registry_file).connect() as connection:
        at_once = connection.exec_driver_sql(
            "SELECT conname FROM pg_constraint WHERE contype = 'f' AND NOT condeferred"
        ).all()
    assert at_once == []


@pytest.mark.parametrize("there_and_back", [False, True])
def test_a_season_is_the_same_on_either_engine(ortet, tmp_path, there_and_back):
    ortet('plant add "Rosa ‘Mme Carrière’" --owner me --number NAN-1 --on 2020-05-01')
    ortet("stick NAN-1 --count 12 --number N26 --open")
    ortet("look N26 --rooted 7 --died 2")
    ortet("pot-up N26 --count 5 --place bench")
    head = ortet.head()
    copy = tmp_path / "copy.sqlite"
    assert back_up(open_registry(ortet.path), copy).report.ok
    there = replace(ortet, path=copy)
    assert there.head() == head
    questions = ["tally", "plant list", "trace NAN-1 --down", "due"]
    if there_and_back:
        server = homes.empty(tmp_path / "back")
        restore(copy, server, now=MOMENT, replace=False, anyway=False)
        there = replace(ortet, path=server)
        there("pot-up N26 --count 1")  # the keys go on where they were
        ortet("pot-up N26 --count 1")
        assert verify(make_engine(server), server).ok
    for question in questions:
        assert there.ask(question) == ortet.ask(question), question


def test_a_registry_that_stands_is_not_written_over_unasked(ortet, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ortet('person add "Nan Ashe"')
    copy = back_up(open_registry(ortet.path), tmp_path / "copy.sqlite").path
    ortet('person add "Bo Fern"')
    with pytest.raises(FileInTheWay):
        restore(copy, ortet.path, now=MOMENT, replace=False, anyway=False)
    done = restore(copy, ortet.path, now=MOMENT, replace=True, anyway=False)
    assert [p["name"] for p in ortet.ask("person list")["people"]] == ["Jo Field", "Nan Ashe"]
    assert done.kept is not None
    kept = replace(ortet, path=done.kept.absolute())
    assert len(kept.ask("person list")["people"]) == 3


def test_a_count_that_was_edited_at_the_server_is_found(ortet):
    ortet('stick "Rosa rugosa" --owner "Nan Ashe" --count 12 --open')
    write(ortet.path, "UPDATE lot SET in_bench = 13")
    found = ortet.ask("verify", expect=1)["problems"]
    assert {problem["column"] for problem in found} == {"in_bench"}
    assert any(p["record"] == "26-0002A-1" or p["record"].startswith("26-0002A") for p in found)


def test_a_count_below_nothing_is_found_though_its_rule_was_taken_off(ortet):
    ortet('stick "Rosa rugosa" --owner "Nan Ashe" --count 12 --open')
    write(ortet.path, "ALTER TABLE lot DROP CONSTRAINT ck_lot_never_negative")
    write(ortet.path, "UPDATE lot SET in_bench = -1")
    problems = ortet.ask("verify", expect=1)["problems"]
    assert any("CHECK constraint failed in lot" in problem["found"] for problem in problems)
    assert "-1" in {problem["found"] for problem in problems if problem["column"] == "in_bench"}


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("ALTER TABLE lot ALTER method DROP NOT NULL; UPDATE lot SET method = NULL", "lot.method"),
        (
            "ALTER TABLE series DROP CONSTRAINT pk_series; INSERT INTO series SELECT * FROM series",
            "series.year",
        ),
        ("ALTER TABLE series ALTER next TYPE numeric USING 1e30", "too large"),
        ("ALTER TABLE series ALTER next TYPE int[] USING ARRAY[1]", "not supported"),
        ("DROP TABLE loss", '"loss" does not exist'),
        ("ALTER TABLE lot DROP COLUMN letter", '"letter" does not exist'),
    ],
)
def test_tables_that_lost_a_rule_are_told_to_be_damaged(ortet, statement, said):
    ortet('stick "Rosa rugosa" --owner "Nan Ashe" --count 12 --open')
    write(ortet.path, statement)
    for command in ("verify", "backup copy.sqlite"):
        told = ortet.refused(command)
        assert "is damaged" in told
        assert said in told
        assert "into an empty one" in told


@pytest.fixture
def roles(ortet):
    """The roles of docs/server.md, given as it says; they go with the test."""
    granted = DOCS.read_text().split("<!-- roles", 1)[1].split("```")[1].removeprefix("sql\n")
    # Roles are the whole server's, and tests run side by side.
    recorder, reader = (f"{word}_{ortet.path.name}" for word in ("recorder", "reader"))
    granted = granted.replace("nursery_recorder", recorder).replace("nursery_reader", reader)
    write(ortet.path, f"CREATE ROLE {recorder} LOGIN; CREATE ROLE {reader} LOGIN; {granted}")
    yield as_role(ortet.path, recorder), as_role(ortet.path, reader)
    write(
        ortet.path,
        f"DROP OWNED BY {recorder}, {reader}; DROP ROLE {recorder}; DROP ROLE {reader}",
    )


def test_a_recorder_can_do_a_season_and_cannot_rewrite_it(ortet, roles):
    recorder, _ = roles
    recording_ = replace(ortet, path=recorder)
    recording_('plant add "Rosa rugosa" --owner me --number NAN-1 --on 2020-05-01')
    recording_("stick NAN-1 --count 12 --number N26 --open")
    recording_("look N26 --rooted 7 --died 2")
    recording_("pot-up N26 --count 5")
    recording_('plant name NAN-1 "Rosa gallica" --grounds flower')
    recording_("correct last --void slip")
    assert recording_.ask("verify")["ok"]
    for statement in (
        "UPDATE chain_entry SET header = ''",
        "DELETE FROM chain_part",
        "DELETE FROM edge",
        "DROP TABLE edge",
    ):
        with pytest.raises(Exception, match=r"permission denied|must be owner"):
            write(recorder, statement)


def test_a_reader_asks_everything_and_records_nothing(ortet, roles):
    ortet('plant add "Rosa rugosa" --owner "Nan Ashe" --number NAN-1')
    _, reader = roles
    asking = replace(ortet, path=reader)
    assert "Rosa rugosa" in asking("plant show NAN-1").out
    assert "can be read but not written" in asking.refused("stick NAN-1 --count 12")
    assert not open_registry(reader).writable
    with (
        pytest.raises(RegistryReadOnly),
        recording(make_engine(reader), reader, "stick", now=MOMENT, new_id=uuid7),
    ):
        pass


def test_a_server_is_laid_into_a_file_as_it_stands_at_one_moment(ortet, tmp_path, monkeypatch):
    """Between one table and the next somebody records; a copy holds all of it or nothing."""
    ortet('stick "Rosa rugosa" --owner "Nan Ashe" --count 12 --number N26 --open')
    rows, heads = crossing._rows, [ortet.head()]

    def slowly(connection, table, where=""):
        if table.name == "chain_head" and len(heads) == 1:
            ortet("look N26 --died 2")
            heads.append(ortet.head())
        return rows(connection, table, where)

    monkeypatch.setattr(crossing, "_rows", slowly)
    copy = tmp_path / "copy.sqlite"
    assert back_up(open_registry(ortet.path), copy).report.ok
    assert heads[0] != heads[1]
    assert replace(ortet, path=copy).head() == heads[0]
    heads.pop()
    assert verify(make_engine(ortet.path), ortet.path).ok
    assert len(heads) == 2


def test_whoever_may_not_even_read_is_told_so(ortet, roles):
    """As after a restore, which makes the tables anew: what was granted on them went with them."""
    _, reader = roles
    write(ortet.path, f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM reader_{ortet.path.name}")
    told = replace(ortet, path=reader)("tally", expect=2).err
    assert "did not take the call (permission denied for table alembic_version)" in told
