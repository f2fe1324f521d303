"""What somebody meets who types for the first time: answers that say what to do next."""

from __future__ import annotations

import pytest


@pytest.fixture
def season(ortet):
    """Nan's hydrangea, ten cuttings of it, four of them in pots."""
    ortet('plant add "red hydrangea" --owner "Nan Ashe" --number NAN-1')
    ortet('consent add --plant NAN-1 --may propagate --said "take some"')
    ortet("stick NAN-1 --count 10 --number N26 --open")
    ortet("pot-up N26 --count 4")
    return ortet


def test_a_list_of_open_questions_says_for_which_act_and_how_to_settle_one(season):
    season("give N26 --count 1 --purpose private --open")
    listed = season("due --questions").out.splitlines()
    asked = next(line for line in listed if "did not say" in line)
    assert asked.split("  ")[2].strip() == "give"
    assert listed[-1] == "What would settle one, and whom to ask: ortet may ACT PLANT"
    acts = {q["row"]: q["act"] for q in season.ask("due --questions")["questions"]}
    assert acts == {"A7": "give", "C12": "propagate"}
    assert "give: whether its owner allows this (A7)" in season("due --questions --by person").out


def test_where_nothing_is_open_no_next_step_is_told(ortet):
    assert ortet("due --questions").out == "Nothing is left open.\n"
