"""Holds stop that plants are thrown away; entries that others lean on are not taken back."""

from __future__ import annotations

import pytest


@pytest.fixture
def season(ortet):
    """A plant 1:1 and a batch B of two lots, of which three plants in pots could be of either."""
    ortet(
        'stick "red hydrangea" --owner "Nan Ashe" --leave yes --lot 6,soft --lot 6,firm'
        " --medium perlite --open"
    )
    ortet("pot-up 2 --count 3")
    return ortet


@pytest.mark.parametrize("how", ["culled", "destroyed"])
def test_a_hold_stops_that_a_plant_is_thrown_away(season, how):
    season("hold add 1:1 --reason blight")
    answer = season(f"plant end 2:1 --how {how}", expect=1)
    assert "C23" in answer.err
    assert season.ask("plant show 2:1")["status"] == "alive"
    season(f'plant end 2:1 --how {how} --anyway "the inspector said so"')
    assert how in season.ask("plant show 2:1")["status"]


def test_a_plant_under_a_hold_may_die_by_itself(season):
    season("hold add 1:1 --reason blight")
    season("plant end 2:1 --how died")


def test_a_pot_raised_here_is_not_shown_as_nobodys(season):
    assert "raised here" in season("plant show 2:1").out


def test_without_a_hold_nothing_is_asked(season):
    season("plant end 2:1 --how culled")


def test_a_batch_that_was_looked_at_as_a_whole_is_not_taken_back(season):
    season("correct last --void wrong")
    season("look 2 --rooted 9")
    said = season.refused("correct 2 --void wrong")
    assert "later entries build on it" in said


@pytest.mark.parametrize(
    "line",
    [
        'settle 1:1 --cannot " "',
        'right lookup "" --in US --where PVP --found none',
        "tally --from 2027 --to 2026",
        "settle 2:1 --cannot gone",
        "stick 1:1 --count 0 --open",
        "take 1:1 --lot 0,soft --open",
    ],
)
def test_words_that_say_nothing_are_refused(season, line):
    assert "\n" not in season.refused(line)
