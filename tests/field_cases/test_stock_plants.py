"""A grower's sheet of stock plants, one column for everything, typed through the commands.

`stock_plants.csv` is an invented sheet that copies habits seen in the trade. Every fact in it has a
place that is not a note: the words as received, where it stands, from whom and when it came, what
was said of leave and of a right, and whether it is alive.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

SHEET = Path(__file__).with_name("stock_plants.csv")
LINES = (
    # Fig: from Aunt's old tree, which she says stood in 1962
    'plant add "Aunt\'s old fig tree" --owner Aunt --stood-since 1962 --since-source "she says"'
    " --number S1-from",
    'plant add "Fig, brown" --how given --source Aunt --on "before 2015" --place "S wall"'
    " --number S1 --new",
    "consent add --from Aunt --plant S1 --may propagate --said yes",
    'right lookup "Fig, brown" --in US --where "what I know" --found unsure',
    # Salvia, three spellings: perhaps one plant, never merged
    'plant add \'Salvia "Hot Coral"\' --how bought --source "plant fair stall" --on "May 2019"'
    ' --place "steps bed" --number S2',
    'right lookup \'Salvia "Hot Coral"\' --in US --where "label, thrown away" --found unsure',
    'plant add "Salvia \'Hotcoral\'" --owner unknown --on 2020 --place "front gate"'
    " --number S3 --new",
    'consent add --from unknown --plant S3 --no-answer --said "ask first"',
    'plant add "salvia hot coral?? (pot)" --owner unknown --on 2021 --number S4 --new',
    "consent add --from unknown --plant S4 --may propagate --said ok",
    "plant end S4 --how died --on 2022-12/2023-02",
    # Rose
    'plant add "Rose old pink" --owner "Town council" --on 10/2018 --place "cemetery fence"'
    " --number S5",
    'consent add --from "Council man" --as keeper --plant S5 --may propagate --by-word spoken'
    ' --limit "5 cuttings a year" --said "yes, fine" --on 10/2018',
    'right lookup "Rose old pink" --in US --where "too old?" --found unsure',
    # Apple: one plant, two tops
    'plant add "Apple \\"Long Keeper\\"" --how bought --rootstock M26 --on 2016 --number S6',
    'plant add "Russet unknown" --part-of S6 --position "top limb NW" --number S6-NW',
    "consent add --from me --plant S6 --may propagate --said yes",
    'right lookup "Apple \\"Long Keeper\\"" --in US --where "my own word" --found none --partly',
    # Hydrangea
    'plant add "Hydrangea, white" --owner "the lender" --how lent --until 2025 --on 2023'
    " --number S7",
    'consent add --from "the lender" --plant S7 --refused --said NO',
    'right add us-plant-patent ? --name "Hydrangea, white"',
    # Lavender: dug up, nobody asked, perhaps dead
    "plant add Lavender --how found --owner unknown --alive unsure --place verge --number S8",
    "consent add --from unknown --plant S8 --unasked",
    'right lookup Lavender --in US --where "the owner\'s word" --found none --partly',
    # Rosemary
    'plant add Rosemary --how bought --source supermarket --on "summer 2020" --number S9',
    "consent add --from supermarket --plant S9 --may propagate --said yes",
)
NUMBERS = ("S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8", "S9")


@pytest.fixture(scope="module")
def sheet(shared_ortet):
    for line in LINES:
        shared_ortet(line)
    return shared_ortet


def plant(ortet, number):
    return ortet.ask(f"plant show {number}")


def test_each_row_is_a_plant_that_is_alive_or_not_as_the_sheet_says(sheet):
    with SHEET.open(encoding="utf-8", newline="") as file:
        said = [row["Alive?"] for row in csv.DictReader(file)]
    status = [plant(sheet, number)["status"] for number in NUMBERS]
    words = {"alive": "y", "unsure": "?", "died": "N - winter 22/23"}
    assert [words[one] for one in status] == said


def test_the_words_on_the_sheet_stay_as_they_were_written(sheet):
    assert plant(sheet, "S2")["received_as"] == 'Salvia "Hot Coral"'
    assert plant(sheet, "S4")["received_as"] == "salvia hot coral?? (pot)"


def test_spellings_alike_are_three_plants_and_never_merged(sheet):
    assert len({plant(sheet, number)["code"] for number in ("S2", "S3", "S4")}) == 3
    again = sheet("plant add 'salvia HOT CORAL'", expect=2)
    assert plant(sheet, "S2")["code"] in again.err, "a like name is pointed out"


def test_where_from_whom_and_when_have_their_places(sheet):
    fig, rose, rosemary = plant(sheet, "S1"), plant(sheet, "S5"), plant(sheet, "S9")
    assert (fig["place"], fig["source"], fig["how"]) == ("S wall", "Aunt", "given")
    assert (rose["place"], rose["owner"]) == ("cemetery fence", "Town council")
    assert (rosemary["source"], rosemary["how"]) == ("supermarket", "bought")
    tree = plant(sheet, "S1-from")
    assert (tree["since"], tree["since_source"], tree["owner"]) == ("1962", "she says", "Aunt")


def test_a_vague_day_keeps_its_bounds_and_no_day_is_invented(sheet):
    days = {number: plant(sheet, number)["got"] for number in NUMBERS}
    assert days == {
        "S1": "../2014",
        "S2": "2019-05",
        "S3": "2020",
        "S4": "2021",
        "S5": "2018-10",
        "S6": "2016",
        "S7": "2023",
        "S8": None,
        "S9": "2020-22",
    }


def test_a_plant_that_died_over_winter_has_a_span_and_not_a_day(sheet):
    assert plant(sheet, "S4")["ended"] == "2022-12/2023-02"


def test_a_lent_plant_says_until_when(sheet):
    assert plant(sheet, "S7")["lent_until"] == "2025"
    assert any(row["what"].startswith("give") for row in sheet.ask("due")["due"])


def test_a_limb_is_part_of_its_tree_and_the_rootstock_keeps_its_name(sheet):
    limb, tree = plant(sheet, "S6-NW"), plant(sheet, "S6")
    assert [(one["role"], one["code"]) for one in limb["parents"]] == [("part of", tree["code"])]
    (rootstock,) = tree["parents"]
    assert (rootstock["role"], rootstock["name"]) == ("rootstock", "M26")
    assert (limb["position"], limb["received_as"]) == ("top limb NW", "Russet unknown")


def test_a_take_from_the_refused_hydrangea_is_stopped(sheet):
    answer = sheet.ask("may propagate S7", expect=1)
    assert answer["verdict"] == "barred"
    rows = {finding["row"]: finding for finding in answer["findings"]}
    assert rows["A6"]["level"] == "barred"
    assert rows["B17"]["level"] == "unknown", "a patent was claimed; its number nobody knows"
    before = sheet.head()
    refused = sheet("take S7 --count 3 --open", expect=1)
    assert (refused.out, sheet.head()) == ("", before)


@pytest.mark.parametrize("number", ["S8", "S2"])
def test_a_take_where_nobody_asked_is_warned_of(sheet, number):
    answer = sheet.ask(f"may propagate {number}", expect=1)
    assert answer["verdict"] == "unknown"
    sheet(f"take {number} --count 3", expect=1)


def test_what_was_said_of_leave_is_kept_with_its_limits_and_its_speaker(sheet):
    said = {one["about"]: one for one in sheet.ask("consent list")["consents"]}
    outcomes = {n: said[plant(sheet, n)["code"]]["outcome"] for n in NUMBERS if n != "S2"}
    assert outcomes == {
        "S1": "given",
        "S3": "no answer",
        "S4": "given",
        "S5": "given",
        "S6": "given",
        "S7": "refused",
        "S8": "unasked",
        "S9": "given",
    }
    rose = said[plant(sheet, "S5")["code"]]
    assert (rose["from"], rose["said"]) == ("Council man", "yes, fine")


def test_five_a_year_are_five_a_year(ortet):
    for line in LINES[11:13]:
        ortet(line)
    ortet("stick S5 --count 5 --on 2025-06-01 --open")
    ortet("stick S5 --count 1 --on 2025-07-01 --open", expect=1)
    ortet("stick S5 --count 5 --on 2026-01-05 --open")
