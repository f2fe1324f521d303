"""Plants are found by any name, number, person or place, however it is typed."""

from __future__ import annotations

import pytest
from sqlalchemy import func, select, text

from registry.domain.names import parse_name, search_keys
from registry.services import identity, making, people, putright, records
from registry.services.finding import list_plants
from registry.services.identity import Opinion
from registry.storage import search
from registry.storage.models import Node
from tests import homes
from tests.services.garden import DAY, Garden, begin, day

CARRIERE = "Rosa 'Madame Alfred Carrière'"


@pytest.fixture
def begun(record):
    with record("init") as rec:
        begin(rec)


@pytest.fixture
def found(engine):
    """Names of the plants that answer to a text, best first."""

    def find(typed: str, **more) -> list[str]:
        from sqlalchemy.orm import Session

        with Session(engine) as session:
            return [line.name for line in list_plants(session, name=typed, **more)]

    return find


@pytest.fixture
def codes(engine):
    def find(typed: str, **more) -> list[str]:
        from sqlalchemy.orm import Session

        with Session(engine) as session:
            return [line.code for line in list_plants(session, name=typed, **more)]

    return find


SHOWN = "Rosa ‘Madame Alfred Carrière’"


@pytest.mark.parametrize(
    "typed",
    [
        "mme carriere",
        "Mme. Carrière",
        "MADAME CARRIERE",
        "carrière madame",
        "rosa mme alfred",
        "'Madame Alfred Carrière'",
        "carr",  # the last word may be unfinished
        "madame car",
    ],
)
def test_a_name_is_found_however_it_is_typed(begun, record, found, typed):
    """The abbreviation, the accents and the order of the words do not matter."""
    with record("plant add") as rec:
        Garden(rec).founder(CARRIERE)
        Garden(rec).founder("Rosa 'Ispahan'")
    assert found(typed) == [SHOWN]


@pytest.mark.parametrize("looked_at", [200, 4, 1])
def test_the_newest_name_goes_before_earlier_ones_and_unfinished_words(
    begun, record, found, monkeypatch, looked_at
):
    """Where few answer they are put in order at once, where many do by one question each."""
    monkeypatch.setattr(search, "_LOOKED_AT", looked_at)
    with record("plant add") as rec:
        garden = Garden(rec)
        garden.founder("Rosa 'Hotspur'")
        once = garden.founder("Rosa 'Hot Chocolate'")
        garden.founder("Rosa 'Very Hot Indeed'")
        garden.founder("Rosa 'Hot'")
        opinion = Opinion("Rosa 'Ispahan'", DAY)
        identity.determine(rec, once, opinion)
    best_first = ["Rosa ‘Hot’", "Rosa ‘Very Hot Indeed’", "Rosa ‘Ispahan’", "Rosa ‘Hotspur’"]
    assert found("rosa hot", most=4) == best_first
    assert found("rosa hot", most=1) == best_first[:1]


def test_one_letter_finds_what_begins_with_it(begun, record, found):
    with record("plant add") as rec:
        Garden(rec).founder("Rosa 'Ispahan'")
        Garden(rec).founder("Salvia 'Low Coral'")
    assert found("i") == ["Rosa ‘Ispahan’"]
    assert found("s") == ["Salvia ‘Low Coral’"]


@pytest.mark.parametrize("typed", ["carrier pigeon", "dahlia", "'", "   ", "%", "mme_carriere*"])
def test_what_nothing_answers_to_finds_nothing(begun, record, found, typed):
    with record("plant add") as rec:
        Garden(rec).founder(CARRIERE)
    assert found(typed) == ([SHOWN] if search_keys(typed) == ("madame", "carriere") else [])


def test_earlier_names_and_the_name_it_came_with_stay_findable(begun, record, found, codes):
    with record("plant add") as rec:
        garden = Garden(rec)
        stock = garden.founder("white climber by the gate")
        garden.raised(stock, 2)
    for name in ("Rosa 'Alister Stella Gray'", CARRIERE):
        with record("plant name") as rec:
            identity.correct_name(rec, Garden(rec).target(stock), Opinion(name, DAY))
    for typed in ("climber gate", "stella", "carriere"):
        assert found(typed) == [SHOWN] * 3
        assert len(set(codes(typed))) == 3


def test_the_newest_name_comes_before_an_earlier_one_and_the_shorter_before_the_longer(
    begun, record, found
):
    with record("plant add") as rec:
        garden = Garden(rec)
        renamed = garden.founder("Salvia 'Royal Bumble'")
        garden.founder("Salvia 'Royal Bumble Blue Night'")
        garden.founder("Salvia 'Royal Crimson Distinction'")
    with record("plant name") as rec:
        identity.correct_name(rec, Garden(rec).target(renamed), Opinion("Salvia 'Royal'", DAY))
    assert found("royal") == [
        "Salvia ‘Royal’",
        "Salvia ‘Royal Crimson Distinction’",
        "Salvia ‘Royal Bumble Blue Night’",
    ]
    assert found("royal night bumble") == ["Salvia ‘Royal Bumble Blue Night’"]


def test_own_numbers_of_plants_lots_and_batches_are_found(begun, record, codes):
    with record("plant add") as rec:
        garden = Garden(rec)
        stock = garden.founder("fig")
        making.alias(rec, "GH-7/3", node_id=stock, issuer="the nursery")
        lot = garden.batch(stock)[0]
        pots = garden.pots(lot, 2)
        making.alias(rec, "tray nine", accession_id=rec.session.get_one(Node, lot).accession_id)
        expected = [garden.code(pot) for pot in pots]
        code = garden.code(stock)
    assert codes("gh 7")[0] == code
    assert codes("TRAY NINE") == expected


def test_the_beginning_of_a_code_finds_its_plants(begun, record, codes):
    with record("plant add") as rec:
        garden = Garden(rec)
        stock = garden.founder("fig")
        pots = garden.raised(stock, 2)
        expected = [garden.code(pot) for pot in pots]
    assert codes(expected[0][:9]) == expected


def test_people_and_places_find_what_is_theirs_and_stands_there(begun, record, found):
    with record("plant add") as rec:
        garden = Garden(rec)
        garden.founder("fig", owner="Nan Ashe")
        bench = people.place_named(rec, "Mist bench")
        garden.founder("quince", place_id=bench)
        giver = people.owner_named(rec, "Lil Farrow").person_id
        garden.founder("loquat bush", source_id=giver)
    assert found("nan ashe") == ["fig"]
    assert found("mist") == ["quince"]
    assert found("Farrow") == ["loquat bush"]


def test_a_person_whose_details_are_blanked_leaves_no_word_behind(begun, record, engine):
    """People are looked up in their own table and never copied into the index."""
    with record("plant add") as rec:
        Garden(rec).founder("fig", owner="Nan Ashe")
    with engine.connect() as connection:
        words = connection.execute(text("SELECT now || earlier || numbers FROM name_search"))
        assert not [said for said in words.scalars() if "ashe" in said]


def test_a_status_is_looked_for_among_all_that_answer(begun, record, codes):
    with record("plant add") as rec:
        garden = Garden(rec)
        plants = [garden.founder("fig") for _ in range(4)]
        records.end_plants(rec, garden.target(plants[3]), "died", on=DAY)
        dead = garden.code(plants[3])
    assert codes("fig", status="died", most=1) == [dead]


def test_a_plant_taken_back_is_not_found_any_more(begun, record, found):
    with record("plant add") as rec:
        garden = Garden(rec)
        stock = garden.founder("fig")
        rec.last = [garden.code(stock)]
    assert found("fig") == ["fig"]
    with record("correct") as rec:
        putright.take_back(rec, putright.entry_of(rec.session, "last", None), "typed twice")
    assert found("fig") == []


def test_what_may_be_the_same_plant_is_found_with_it(begun, record, codes):
    with record("plant add") as rec:
        garden = Garden(rec)
        fig, quince = garden.founder("fig"), garden.founder("quince")
        identity.note_same(rec, garden.target(quince), garden.target(fig), DAY)
        expected = [garden.code(fig), garden.code(quince)]
    assert codes("fig") == expected
    assert codes("quince") == expected[::-1]


@homes.in_a_file
def test_the_index_says_what_the_records_say_after_any_act(begun, record, engine, registry_file):
    import sqlite3
    from contextlib import closing

    with record("plant add") as rec:
        garden = Garden(rec)
        stock = garden.founder(CARRIERE)
        making.alias(rec, "R 1", node_id=stock)
    with record("plant name") as rec:
        identity.determine(rec, stock, Opinion("Rosa 'Ispahan'", day(2026, 5, 1)))
    with record("plant name") as rec:  # an opinion of an earlier day does not win
        identity.determine(rec, stock, Opinion("Rosa 'Alba'", day(2024, 5, 1)))
    with closing(sqlite3.connect(registry_file)) as connection:
        assert list(search.differences(connection)) == []
        row = connection.execute("SELECT now, earlier, numbers, shown FROM name_search").fetchone()
        assert row == ("rosa ispahan", "madame alfred carriere alba", "r 1", "Rosa ‘Ispahan’")
        connection.execute("UPDATE name_search SET now = 'rosa'")
        assert [key for key, _, _ in search.differences(connection)] == [stock * 2]
        connection.execute("DELETE FROM name_search")
        assert [found for _, found, _ in search.differences(connection)] == [""]
        connection.execute("INSERT INTO name_search (rowid, now) VALUES (9999, 'rosa')")
        assert len(list(search.differences(connection))) == 2


def test_a_rebuilt_index_is_the_same(begun, record, registry_file, engine):
    with record("plant add") as rec:
        Garden(rec).founder(CARRIERE)
    with record("rebuild", keep=False) as rec:
        from registry.storage.engine import door

        before = rec.session.execute(text("SELECT * FROM name_search")).all()
        with door(rec.session.connection()) as connection:
            search.rebuild(connection)
        assert rec.session.execute(text("SELECT * FROM name_search")).all() == before


def test_rows_added_in_bulk_are_found(begun, record, found):
    from registry.storage.models import Accession, Plant

    with record("import") as rec:
        first = (rec.session.scalar(select(func.max(Node.id))) or 0) + 1
        rec.add(Accession(id=50, year=2026, number=50, kind="founder"))
        rec.flush()
        node = {"id": first, "kind": "plant", "uuid": rec.new_id(), "code": "x", "accession_id": 50}
        rec.bulk(Node.__table__, [node])
        rec.bulk(
            Plant.__table__,
            [{"node_id": first, "received_as": "Ficus carica", "received_key": "ficus carica"}],
        )
        making.rebuild_lines(rec, [first])
    assert found("ficus") == ["Ficus carica"]


@pytest.mark.parametrize("typed", ["Ficus carica", CARRIERE, "blue pot"])
def test_what_a_list_shows_is_what_the_plant_is_called(begun, record, found, typed):
    with record("plant add") as rec:
        Garden(rec).founder(typed)
    reading = parse_name(typed)
    assert found(typed) == [SHOWN if reading.name and reading.name.cultivar else typed]
