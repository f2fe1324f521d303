"""Stock that had left and came back: linked to what left, exposed with it, counted once."""

from __future__ import annotations

import pytest


@pytest.fixture
def away(ortet):
    """Six pots of a fuchsia: one given to Tom by code, two to Ann by count."""
    for line in (
        "plant add \"Fuchsia 'Lane Ember'\" --how seed --number A --on 2025-01-01",
        "plant add 'tall sage' --how seed --number S --on 2025-01-01",
        "stick A --count 6 --number AL --on 2025-06-12 --open",
        "pot-up AL --count 6 --number AP --on 2025-07-20",
        "give AP-1 --to Tom --purpose private --on 2025-08-01 --open",
        "give AL --count 2 --to Ann --purpose private --on 2025-08-02 --open",
    ):
        ortet(line)
    return ortet


def test_what_came_back_is_linked_keeps_its_name_and_is_exposed(away):
    away("receive --back AP-1 --from Tom --number HOME --on 2025-10-01")
    shown = away.ask("plant show HOME")
    old = away.ask("plant show AP-1")
    assert shown["name"] == "Fuchsia ‘Lane Ember’"
    assert old["back_as"] == [shown["code"]]
    above = {node["code"]: node for node in away.ask("trace HOME --up")["nodes"]}
    assert above[old["code"]]["generation"] == 0  # the same plant
    assert above[away.ask("plant show A")["code"]]["generation"] == -1
    lines = {one["code"]: one for one in away.ask("recall start A --reason rust")["lines"]}
    back = lines[shown["code"]]
    assert (back["why"], back["via"], back["widened"], back["step"]) == (
        "returned", old["code"], [], 0,
    )  # fmt: skip
    assert lines[old["code"]]["back_as"] == shown["code"]
    assert not lines[old["code"]]["open"]  # nobody has to be told of it any more
    assert away.ask("verify")["ok"]


def test_each_plant_is_counted_once(away):
    """One mother and six pots are seven plants, wherever they are.

    By their codes stand the mother, five pots and what came back from Tom: 7. Two of the five are
    gone by count, one of those came back: 7 - 2 + 1 = 6 must be here, and one is with Ann.
    """
    away("receive --back AP-1 --from Tom --on 2025-10-01")
    away("receive --back AL --count 1 --from Ann --number ONE --on 2025-10-02")
    found = away.ask("recall start A --reason rust")
    sums = found["sums"]
    assert (sums["plants"], sums["standing"], sums["left_named"]) == (7, 7, 0)
    assert (sums["back"], sums["back_by_count"], sums["by_count_named"]) == (1, 1, 2)
    assert sums["here"] == 6
    said = away("recall show 1").out
    assert "Left and came back: 2, counted where they stand now" in said
    assert "and 1 came back. So 6 plants must be here." in said


def test_what_may_have_come_back_is_in_and_the_missing_record_is_named(away):
    """Ann had two of them; in October she gives a fuchsia of that name, and another plant."""
    away("receive \"fuchsia 'lane ember'\" --from Ann --number MAYBE --on 2025-10-03")
    away("receive 'tall sage' --from Ann --number SAGE --on 2025-10-03")
    away("receive \"Fuchsia 'Lane Ember'\" --from Ann --number EARLIER --on 2025-07-30")
    away("receive \"Fuchsia 'Lane Ember'\" --from Bo --number OTHER --on 2025-10-03")
    lines = {one["code"]: one for one in away.ask("recall start A --reason rust")["lines"]}
    maybe = lines[away.ask("plant show MAYBE")["code"]]
    assert (maybe["why"], maybe["widened"], maybe["step"]) == ("returned", ["same"], 1)
    for number in ("SAGE", "EARLIER", "OTHER"):
        assert away.ask(f"plant show {number}")["code"] not in lines
    narrow = away.ask("recall start A --reason rust --steps 0")["lines"]
    assert maybe["code"] not in {one["code"] for one in narrow}


def test_the_owners_word_binds_what_came_back(ortet):
    ortet("stick 'red hydrangea' --owner 'Nan Ashe' --leave yes --count 3 --number H --open"
          " --on 2025-06-12")  # fmt: skip
    ortet("pot-up H --count 3 --number HP --on 2025-07-20")
    ortet("give HP-1 --to Tom --purpose private --open --on 2025-08-01")
    ortet("receive --back HP-1 --from Tom --number HOME --on 2025-10-01")
    stayed = ortet.ask("may sell HP-2", expect=1)
    back = ortet.ask("may sell HOME", expect=1)
    assert back["verdict"] == stayed["verdict"]
    assert {one["row"] for one in stayed["findings"]} <= {one["row"] for one in back["findings"]}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("receive --back AP-2 --from Tom", "had not left"),
        ("receive --back S --from Tom", "had not left"),
        ("receive --back AL --count 4 --from Ann", "3 had left"),
        ("receive --back AL --from Ann", "how many of AL came back"),
        ("receive --from Ann", "--back CODE"),
        ("receive --back 25-0999-001-0 --from Ann", "25-0999"),
    ],
    ids=["standing", "own plant", "too many", "no count", "nothing", "unknown"],
)
def test_what_cannot_have_come_back_is_refused(away, line, words):
    assert words in away.refused(line)


def test_nothing_comes_back_twice(away):
    away("receive --back AP-1 --from Tom")
    assert "is back already" in away.refused("receive --back AP-1 --from Tom")
    away("correct last --void 'it was another'")
    away("receive --back AP-1 --from Tom")
