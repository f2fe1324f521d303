"""Every act can be taken back, and all stands as before it; or it is said what to do instead."""

from __future__ import annotations

import re
from itertools import count
from pathlib import Path
from typing import cast
from uuid import UUID

import pytest
from sqlalchemy import Table, select

from registry.services.history import said_in
from registry.storage.base import Base, Fact
from registry.storage.engine import make_engine, reading
from registry.storage.models import ChainEntry
from tests import homes
from tests.conftest import MOMENT
from tests.faults import hostile
from tests.typed import Ortet

SEASON = """
person add Ann
person add Bob
place add Bench
plant add Rosa --owner me --number F1 --place Bench
plant add Hydrangea --owner Ann --number F2
stick F1 --count 20 --number B1 --open
stick F1 --lot 20,soft --lot 10,firm --number B2 --open --place Bench
pot-up B1 --count 3
pot-up B2 --count A=1 --number P1 --pot "9 cm"
pot-up B2 --count A=1 --number P2
take F1 --count 5 --number T1 --open
plant add Fern --owner me --number F3 --part-of F1
plant orphan Fuchsia
plant orphan "a tag" --tag
consent add --from Ann --plant F2 --may propagate
right add us-plant-patent PP1 --name Ficus
licence add PP1 --from Ann --may propagate
hold add F2 --reason mites
recall start F2 --reason mites
give P2 --to Bob --purpose private --open --anyway asked
label blank 1 --out blank.pdf
plant add Ash --owner me --number F4 --place Bed
plant mark F4 --no-tag
stick F4 --count "about 14" --number E1 --open
look B2 --rooted 3 --tool saw
restriction import old.csv
"""

ACTS = """
person add Cy
place add Nook
place rename Bench Shelf
plant add Oak --owner me
plant add Oak --owner Zed --place Hall --how given --source Yan --rootstock MM106 --number K1
plant add Elm --owner me --alive no
plant add Elm --owner me --alive unsure
plant add --from F1 --from F2
plant name F1 "Rosa alba"
plant sport F1 "Rosa rubra"
plant mixup P1 F1 --contradicted P1 --confirmed F1
plant orphan Lilac --place Bench
plant match 26-0007-001-0 --from F1
plant match "tag 1" --is F1
plant same F1 F2
plant mark F1 --chimera
plant mark F4 --no-tag --off
plant end P1 --how died
plant end B1 --how died --count 1
plant move P1 --to "Cold frame"
plant move B2 --to "Cold frame"
note F1 words
note F1 words --private
attach F1 leaf.txt
consent add --from Cy --plant F2 --may propagate
consent withdraw 1
licence add PP1 --from Bob --may sell
licence end 2 --sell-off 2027-01-01
right add us-plant-patent PP2 --name Quercus
right event PP1 --status lapsed --source letter
right lookup Rosa --in US --where register --found none
restriction add Rosa --in US --acts sell --citation law
restriction import old.csv
restriction import new.csv
restriction asks CA --of plants --said words --source page
came F1 --notice words
hold add F1 --reason mites
hold add B1 --reason mites
hold lift F2
settle F1 --cannot died
take F1 --count 3
stick T1 --hormone talc
stick --again B1 --count 3
stick F1 --count 3 --open
stick "brand new" --owner Zed --count 3 --open
graft --scion F1 --rootstock F2 --count 3 --anyway asked
sow --seed-parent F1 --count 3 --open
divide F4 --count 3 --open
layer F1 --count 3 --open
split B1 --into 2
split E1 --into 4
merge 26-0003-5=1 26-0004A-7=1
look B1 --rooted 2
look B1 --died 2
look B2 --died 2
look E1 --died 2
look B1 --rooted 2 --tool knife
tool clean saw
recount B1 5 --reason counted
recount E1 9
pot-up B1 --count 1
pot-up B2 --count 4
pot-up E1 --count 2
pot-up B1 --count 1 --labels pots.pdf
pot-on P1 --pot 1L
batch close B1 --rest lost
batch close E1 --rest lost
label print P1 --out out.pdf
label blank 1 --out out.pdf
label bind 26-0008-6 P1
sell P1 --anyway asked
give B1 --count 1 --to Bob --purpose private --open
swap P1 --got Fig --purpose private --open
receive Fern --from Ann
receive --back P2 --from Bob
recall start F1 --reason mites --hold
recall tick 1 F2 --found sound
recall more 1 --hold
recall close 1 --finding nothing --lift
""".strip().splitlines()

INSTEAD = {
    "settings set currency EUR": "settings set",
    "label stocks --add mine --page 210x297 --label 60x30": "measures",
    "person blank Ann --reason asked": "for good",
}

ARCHITECTURE = Path(__file__).parents[2] / "docs" / "architecture.md"

GROUPS = 6
"""Acts are tried one after the other in so many registries, each of which is checked once."""


@pytest.fixture(scope="module")
def season(begun, tmp_path_factory):
    """A registry in which every act of `ACTS` can be done: copy it."""
    folder = tmp_path_factory.mktemp("season")
    given = count(2)
    ortet = Ortet(
        homes.copied(begun, folder / "season.sqlite"), MOMENT, lambda _: UUID(int=next(given))
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        files(folder)
        for line in SEASON.strip().splitlines():
            ortet(line)
    return ortet.path


def files(folder):
    """What the acts read."""
    (folder / "leaf.txt").write_text("a leaf")
    for name, acts in (("old", "sell"), ("new", "give")):
        (folder / f"{name}.csv").write_text(
            f"taxon,territory,acts,citation\nFagus,US,{acts},a law\n"
        )


@pytest.fixture
def ortet(season, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    files(tmp_path)
    given = count(10_000)
    return Ortet(
        homes.copied(season, tmp_path / "registry.sqlite"), MOMENT, lambda _: UUID(int=next(given))
    )


def standing(ortet):
    """Everything that stands, by table."""
    found = {}
    with make_engine(ortet.path, mode="ro").connect() as connection:
        for mapper in Base.registry.mappers:
            if not issubclass(mapper.class_, Fact):
                continue
            table = cast("Table", mapper.local_table)
            rows = connection.execute(select(table).where(table.c.void_seq.is_(None)))
            found[table.name] = {str(row) for row in rows if "taken back: slip" not in row}
    return found


def differences(before, after):
    return {name: (before[name] ^ after[name]) for name in before if before[name] != after[name]}


def changed_in_place(ortet):
    """(table, column) of all that an entry changed in a row that stood; a day is one column."""
    found = set()
    with reading(make_engine(ortet.path, mode="ro"), ortet.path) as session:
        for seq in session.scalars(select(ChainEntry.seq)).all():
            for mark, table, _, said in said_in(session, seq):
                if mark == "~":
                    found |= {(table, re.sub("_(edtf|first|last|said)$", "", one)) for one in said}
    return found


def told_as_changed():
    """The same, as the page on architecture has it; `any fact` is every table."""
    page = ARCHITECTURE.read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`[^|]+`|any fact) \| ([^|]+) \|$", page, re.MULTILINE)
    return {
        (table, column)
        for tables, columns in rows
        for table in (re.findall(r"`(\w+)`", tables) or [None])
        for column in re.findall(r"`(\w+)`", columns)
    }


@pytest.mark.parametrize("some", range(GROUPS))
def test_acts_that_are_taken_back_leave_all_as_it_was(ortet, some):
    before = standing(ortet)
    for act in ACTS[some::GROUPS]:
        first = ortet.head()[0] + 1
        ortet(act)
        assert differences(before, standing(ortet)), f"{act} says nothing"
        said = ortet("correct last --void slip").out
        assert f"entry {first} (" in said, act
        assert not differences(before, standing(ortet)), act
        again = ortet(f"correct {first} --void slip", expect=2).err
        assert "taken back already" in again, act
    ortet("verify")
    told = told_as_changed()
    assert {one for one in changed_in_place(ortet) if (None, one[1]) not in told} <= told


def test_every_command_that_writes_is_tried():
    """A command that takes `--by` records something."""
    writing = {
        name
        for name, command in hostile.commands()
        if any("--by" in option.opts and option.type.name == "text" for option in command.params)
    }
    acts = (*ACTS, *INSTEAD, "correct last")
    assert {name for name in writing if not any(act.startswith(name) for act in acts)} == set()


@pytest.mark.parametrize("act", INSTEAD)
def test_what_is_not_taken_back_says_what_to_do_instead(ortet, act):
    ortet(act)
    told = told_as_changed()
    assert {one for one in changed_in_place(ortet) if (None, one[1]) not in told} <= told
    before = standing(ortet)
    said = ortet.refused("correct last --void slip")
    assert f"Entry {ortet.head()[0]}" in said
    assert INSTEAD[act] in said
    assert standing(ortet) == before


LEANING = {
    # an act, and one that builds on it: only after it is taken back can the first one be
    "recount B1 25 --reason counted": "look B1 --died 24",
    "take F1 --count 3 --number T9 --open": "stick T9",
    "split B1 --into 2": "look 26-0003B-2 --died 1",
    "plant add Oak --owner Zed --number K1": 'plant name K1 "Quercus"',
    "plant add Oak --owner Zed --number K2": "note K2 words",
    "plant add Oak --owner Zed --number K3": "plant end K3 --how died",
    "pot-up B2 --count A=1 --number K4": "sell K4 --anyway asked",
    "plant move F4 --to Nook": "plant move F4 --to Hall",
    "hold add F1 --reason mites": "hold lift F1",
    "look B1 --died 2": "batch close B1 --rest lost",
    "look B2 --died 5": "recount B2 A=10,B=9",
    "look B1 --died 3": "recount B1 12",
    "pot-up B2 --count A=1 --number K5": "pot-on K5 --pot 2L",
    "recount E1 9": "look E1 --died 2",
    "look E1 --died 1": "batch close E1 --rest lost",
    "person add Yan": "plant add Oak --owner Yan",
    "place add Hut": "plant move F4 --to Hut",
    "right add us-plant-patent PP7 --name Quercus": "right event PP7 --status lapsed --source us",
    "restriction import new.csv": "restriction import new.csv --on 2026-05-14",
    "stick F2 --count 3 --number T8 --anyway asked": "recall more 1",
    "recall start F1 --reason blight": "recall close 2 --finding nothing",
}


@pytest.mark.parametrize("some", range(GROUPS))
def test_what_builds_on_an_act_is_named_and_taken_back_first(ortet, some):
    before = standing(ortet)
    for act, later in list(LEANING.items())[some::GROUPS]:
        first = ortet.head()[0] + 1
        ortet(act)
        then = ortet.head()[0] + 1
        ortet(later)
        said = ortet.refused(f"correct {first} --void slip")
        assert str(then) in said, (act, later, said)
        assert then in [one["entry"] for one in ortet.ask(f"correct {first} --dry-run")["later"]]
        ortet(f"correct {then} --void slip")
        ortet(f"correct {first} --void slip")
        assert not differences(before, standing(ortet)), (act, later)
    ortet("verify")


def test_somebody_whom_later_acts_name_stays_on_record(ortet):
    ortet("plant add Oak --owner Zed --place Hall --number K1")
    ortet("plant add Elm --owner Zed --place Hall --number K2")
    ortet(f"correct {ortet.head()[0] - 1} --void slip")
    assert ortet.ask("plant show K2")["owner"] == "Zed"
    assert ortet.ask("plant show K2")["place"] == "Hall"
    ortet("verify")


def test_a_leave_that_was_used_is_taken_back_and_the_act_stands(ortet):
    ortet("consent add --from Bob --plant F2 --may propagate", "--limit", "5 cuttings")
    given = ortet.head()[0]
    ortet("stick F2 --count 3 --anyway asked")
    stuck = ortet.head()[0]
    seen = ortet.ask(f"correct {given} --dry-run")
    assert [one["entry"] for one in seen["beside"]] == [stuck]
    assert "stand without it" in ortet(f"correct {given} --void slip").out
    ortet("verify")


@pytest.mark.parametrize("empty", ["", " ", "\t"])
def test_an_empty_reason_is_none(ortet, empty):
    assert "The reason is empty" in ortet.refused("correct last --void", empty)
