"""The past of a record is all of it: every entry of the chain that touched it, and no other."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from registry.domain.history import Change
from registry.services.history import (
    Subject,
    _rows_of,
    of_batch,
    of_person,
    of_plant,
    past_of,
    said_in,
)
from registry.storage.base import Base
from registry.storage.engine import open_registry, reading
from registry.storage.models import ChainEntry, Node, Person
from registry.wording.history import DAYS, change

SEASON = (
    'stick "red hydrangea" --owner "Ann Lee" --leave yes --lot 10,soft --lot 6,firm --number B'
    ' --open --note "by the gate"',
    "look B --rooted A=8 --died A=1",
    'split {A} --into "4,hormone=powder 0.1 %"',
    'pot-up {A} --count 3 --pot "9 cm" --place "Cold frame"',
    'pot-on {B}:1-2 --pot "1 l"',
    'sell {B}:1 --to "Bram Holt" --anyway "he asked"',
    'correct last --void "the wrong pot"',
    'sell {B}:2 --to "Bram Holt" --anyway "he asked"',
    "plant end {B}:3 --how died --reason frost",
    'correct last --void "it sprouted"',
    "plant name {P} \"Hydrangea macrophylla 'Alpenglut'\" --grounds label",
    'consent withdraw {P} --by "Ann Lee"',
    'note {B}:3 "a late shoot" --by "Bram Holt"',
    "recount {A} 2",
    "batch close B --rest lost",
)


@pytest.fixture
def season(ortet):
    for line in SEASON:
        codes = {}
        if "{" in line:
            shown = ortet.ask("batch show B")
            codes = {
                "A": shown["lots"][0]["code"],
                "P": shown["lots"][0]["source"],
                "B": shown["batch"],
            }
        ortet(line.format(**codes)) if "consent" not in line else withdraw(ortet, codes["P"])
    return ortet


def withdraw(ortet, code):
    number = ortet.ask("consent list")["consents"][0]["id"]
    ortet(f"consent withdraw {number}")


def everything(session, subject: Subject) -> list[int]:
    """The entries that touched a record, found by reading the chain from end to end."""
    rows = _rows_of(session, subject)
    return [
        seq
        for seq in session.scalars(select(ChainEntry.seq).order_by(ChainEntry.seq))
        if any((table, key) in rows for _, table, key, _ in said_in(session, seq))
    ]


def test_no_entry_that_touched_a_record_is_left_out(season):
    opened = open_registry(season.path)
    with reading(opened.engine, season.path) as session:
        nodes = session.scalars(select(Node)).all()
        subjects = [of_plant(session, node.id) for node in nodes]
        subjects += [of_batch(session, node.accession_id) for node in nodes if node.kind == "lot"]
        subjects += [of_person(person) for person in session.scalars(select(Person.id))]
        assert len(subjects) > 10
        for subject in subjects:
            assert [one.seq for one in past_of(session, subject)] == everything(session, subject)


def history(ortet, line):
    return {one["entry"]: one for one in ortet.ask(f"{line} --history")["history"]}


def says(entry):
    return [change["says"] for change in entry["changes"]]


def test_a_pot_tells_its_life_with_what_was_taken_back(season):
    code = season.ask("batch show B")["plants"][0]["code"]
    past = history(season, f"plant show {code}")
    assert [one["what"] for one in past.values()] == ["pot-up", "pot-on", "sell", "correct"]
    potted, moved, sold, corrected = past.values()
    assert "stands in Cold frame from 14 May 2026" in says(potted)
    assert says(moved) == ["plant: pot 9 cm → 1 l"]
    assert any("status alive → sold" in words for words in says(sold))
    assert any(f"(taken back by entry {corrected['entry']})" in words for words in says(sold))
    assert corrected["why"] == "the wrong pot"
    assert any("status sold → alive" in words for words in says(corrected))
    assert any(f"takes back (entry {sold['entry']})" in words for words in says(corrected))


def test_it_is_told_who_recorded_what(season):
    code = season.ask("batch show B")["plants"][2]["code"]
    past = history(season, f"plant show {code}")
    noted = next(one for one in past.values() if one["what"] == "note")
    assert noted["by"] == "Bram Holt"
    assert says(noted) == ["note: a late shoot"]
    assert (
        "recorded 14 May 2026, 10:00 UTC by Bram Holt" in season(f"plant show {code} --history").out
    )


def test_a_batch_tells_its_counts(season):
    past = history(season, "batch show B")
    (look,) = [one for one in past.values() if one["what"] == "look"]
    assert any("in the bench 10 → 9" in words for words in says(look))
    assert any(words.endswith("-1 lost") for words in says(look))


def test_a_lot_is_asked_for_by_itself(season):
    first, second = (lot["code"] for lot in season.ask("batch show B")["lots"][:2])
    assert len(history(season, f"batch show {first}")) > len(
        history(season, f"batch show {second}")
    )


def test_a_person_tells_where_they_come_in(season):
    past = history(season, 'person show "Ann Lee"')
    assert [one["what"] for one in past.values()][:2] == ["stick", "consent"]
    assert "leave: withdrawn 14 May 2026" in says(list(past.values())[1])


def test_a_recall_tells_who_found_what_and_who_closed_it(season):
    season('recall start last --reason "blight in the frame"')
    season("recall tick 1 last --found sound --note clean")
    season('correct last --void "the wrong one"')
    season('recall close 1 --finding "nothing spread"')
    told = season.ask("recall show 1 --history")["history"]
    assert [one["what"] for one in told] == [
        "recall start", "recall tick", "correct", "recall close",
    ]  # fmt: skip
    said = season("recall show 1 --history").out
    assert "recall: closed 14 May 2026; finding nothing spread" in said
    assert "in a recall: recall 1, line 1, plant " in said
    assert re.search(r"found in a recall: line \d+, what sound", said)
    assert "recall recall" not in said
    assert "widened" not in said, "nothing widened the circle to a plant that is named itself"


def test_every_day_of_a_past_is_read_as_a_day():
    columns = {column.name for table in Base.metadata.sorted_tables for column in table.columns}
    assert {name.removesuffix("_edtf") for name in columns if name.endswith("_edtf")} == DAYS
    assert not DAYS & columns, "a plain column of such a name need not hold a day"


def test_what_is_taken_out_again_is_said():
    assert change(Change("plant", {}, (("ended", "2026-05", ""),))) == (
        "plant: ended on May 2026 → taken out"
    )


def test_a_knife_tells_what_it_was_used_on(season):
    season('stick "white lilac" --owner me --count 3 --open --tool "red knife"')
    season('tool clean "red knife"')
    told = season.ask('tool show "red knife" --history')["history"]
    assert [one["what"] for one in told] == ["stick", "tool clean"]


def test_the_settings_tell_what_they_were(season):
    season("settings set trade yes")
    season("settings set currency EUR")
    told = season("settings show --history").out
    assert "USD → EUR" in told
    assert "trade yes" in told


def test_whatever_is_shown_tells_its_past():
    """A record that has `show` has `--history`; a key stands in no registry."""
    from tests.faults.hostile import commands

    shown = {name: command for name, command in commands() if name.endswith(" show")}
    without = [
        name
        for name, command in shown.items()
        if not any("--history" in option.opts for option in command.params)
    ]
    assert without == ["key show"]
