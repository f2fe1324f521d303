"""A grower's sheet of splits, merges and second tries, typed through the commands.

`splits_and_merges.csv` is an invented sheet that copies habits seen in the trade. It says one day
only, so every other day is typed as `?` and none is made up.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

SHEET = Path(__file__).with_name("splits_and_merges.csv")
LINES = (
    "plant add lavender --owner me --number M7",
    "stick M7 --count 60 --number P12 --taken 2024-08-12 --on 2024-08-12 --open",
    'split P12 --into "20,hormone=none" --into "20,hormone=powder 0.1%"'
    ' --into "19,hormone=powder 0.3%" --number P12A --number P12B --number P12C --on 2024-08-12',
    'look P12 --died 1 --reason "one on floor" --on 2024-08-12',
    "look P12A --rooted 11 --on ?",
    "look P12B --rooted 14 --callused 6 --on ?",
    "look P12C --rooted 9 --on ?",
    "pot-up P12B --count 14 --on ?",
    'stick --again P12B --count 6 --number P12Br --hormone "none, cut again" --on ?',
    "look P12Br --rooted 4 --on ?",
    "pot-up P12Br --count 4 --on ?",
    "batch close P12Br --rest lost --on ?",
    "stick M7 --count 24 --number P14 --hormone none --on ?",
    "look P14 --rooted 20 --on ?",
    "split P14 --into 5 --number P14B --on ?",
    "look P14B --rooted 5 --on ?",
    "merge P12A=4 P14B=5 --number PX --on ?",
    "pot-up P12A --count 11 --on ?",
    "stick P12A --count 12 --part tip --number P20 --on ?",
    "look P20 --rooted 10 --on ?",
)
REFUSED = {
    # the row's number: (what is typed, what it is refused for)
    "P30": ("stick P31 --count 8 --number P30", "'P31'"),
    "P31": ("stick P30 --count 8 --number P31", "'P30'"),
    "P40": ("stick P99 --count 10 --number P40", "'P99'"),
    "typed twice": ("split P12 --into 20,hormone=none --number P12A", "none is left"),
}


@pytest.fixture(scope="module")
def sheet(shared_ortet):
    for line in LINES:
        shared_ortet(line)
    return shared_ortet


def rows():
    """The rows that can be recorded as they stand, by their number."""
    with SHEET.open(encoding="utf-8", newline="") as file:
        kept = [row for row in csv.DictReader(file) if row["remark"] != "typed twice"]
    return {row["batch"]: row for row in kept if row["batch"] not in REFUSED}


def lot(ortet, number):
    """The lot that a number on the sheet stands for."""
    batch = ortet.ask(f"batch show {number}")
    lots = [one for one in batch["lots"] if number in one["numbers"]]
    return lots[0] if lots else batch["lots"][0]


def lots_of(ortet, line):
    """The codes of the lots in a trace, apart from the one that was asked about."""
    answer = ortet.ask(line)
    kinds = {node["code"]: node["kind"] for node in answer["nodes"]}
    return {code for code, kind in kinds.items() if kind == "lot"} - set(answer["roots"])


def test_each_row_of_the_sheet_has_its_place(sheet):
    assert len(rows()) == 9
    for number, row in rows().items():
        found = lot(sheet, number)
        assert found["count"] == row["n"]
        assert found["seen"].get("rooted") == (row["rooted"] or None)
    assert lot(sheet, "P12B")["hormone"] == rows()["P12B"]["treatment"]
    assert lot(sheet, "P20")["part"] == rows()["P20"]["treatment"]
    assert lot(sheet, "P12B")["seen"]["callused"] == "6"
    assert sheet.ask("batch show P12")["stuck"] == "2024-08-12"
    assert sheet.ask("batch show P20")["stuck"] == "XXXX", "no day is made up"


def test_sixty_are_twenty_and_twenty_and_nineteen_and_one_lost(sheet):
    parts = [int(lot(sheet, number)["count"]) for number in ("P12A", "P12B", "P12C")]
    whole = lot(sheet, "P12")
    assert parts == [20, 20, 19]
    assert whole["gone"]["lost"] == 1
    assert sum(parts) + whole["gone"]["lost"] + whole["left"] == int(whole["count"]) == 60


def test_what_was_stuck_again_is_counted_with_its_first_attempt(sheet):
    again = lot(sheet, "P12Br")
    assert (again["attempt"], again["took"]) == (2, None)
    assert lot(sheet, "P12B")["took"] == {"potted": 18, "of": 20}
    assert "18 of 20 took" in sheet("batch show P12").out


def test_joined_leftovers_have_two_parents_and_no_rate(sheet):
    joined = lot(sheet, "PX")
    edges = sheet.ask("trace PX --up")["edges"]
    above = [edge for edge in edges if edge["to"] == joined["code"]]
    assert {edge["from"] for edge in above} == {
        lot(sheet, "P12A")["code"],
        lot(sheet, "P14B")["code"],
    }
    assert {edge["role"] for edge in above} == {"merged"}
    assert joined["took"] is None
    assert (lot(sheet, "P12A")["gone"]["moved_out"], lot(sheet, "P14B")["left"]) == (4, 0)


def test_plants_that_were_only_moved_are_not_counted_as_stuck_twice(sheet):
    stuck = [row["count"] for row in sheet.ask("tally")["rows"] if row["act"] == "stuck"]
    assert sum(stuck) == 60 + 24 + 12


def test_all_that_came_of_the_stock_plant_is_traced_forward(sheet):
    numbers = {"P12", "P12A", "P12B", "P12C", "P12Br", "P14", "P14B", "PX", "P20"}
    assert numbers == set(rows())
    assert lots_of(sheet, "trace M7 --down") == {lot(sheet, one)["code"] for one in numbers}


def test_the_joined_leftovers_are_traced_back_to_the_stock_plant(sheet):
    above = lots_of(sheet, "trace PX --up")
    assert above == {lot(sheet, one)["code"] for one in ("P12A", "P14B", "P12", "P14")}
    plants = [node for node in sheet.ask("trace PX --up")["nodes"] if node["kind"] == "plant"]
    assert [node["name"] for node in plants] == ["lavender"]


def test_cuttings_of_last_years_plants_are_of_one_of_them(sheet):
    edges = sheet.ask("trace P20 --up")["edges"]
    sources = [edge for edge in edges if edge["to"] == lot(sheet, "P20")["code"]]
    assert len(sources) == 11
    assert not any(edge["certain"] for edge in sources)


@pytest.mark.parametrize("row", REFUSED)
def test_a_row_that_cannot_be_is_refused_and_leaves_nothing(sheet, row):
    line, words = REFUSED[row]
    before = sheet.head()
    answer = sheet(line, expect=2)
    assert words in answer.err
    assert (answer.out, sheet.head()) == ("", before)


def test_the_whole_sheet_verifies(sheet):
    assert sheet.ask("verify")["ok"]
