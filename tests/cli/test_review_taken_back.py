"""What an entry had closed is open again when the entry is taken back."""

from __future__ import annotations

import pytest

BACK = 'correct last --void "typed by mistake"'


@pytest.fixture
def season(ortet):
    """A plant 1:1 of Nan Ashe's, with an open question, and a batch B with one pot."""
    ortet('stick "red hydrangea" --owner "Nan Ashe" --leave yes --count 10 --number B --open')
    ortet("pot-up B --count 1")
    return ortet


def test_a_hold_whose_lifting_is_taken_back_stands(season):
    season("hold add 1:1 --reason blight")
    season("hold lift 1:1")
    season(BACK)
    season("may give 2:1", expect=1)
    assert "blight" in season("hold list").out
    season("verify")


def test_a_consent_whose_withdrawal_is_taken_back_stands(season):
    before = season("consent list").out
    season("consent withdraw 1")
    assert season("consent list").out != before
    season(BACK)
    assert season("consent list").out == before
    season("verify")


def test_a_question_that_was_settled_by_mistake_is_open_again(season):
    before = season("due --questions").out
    season('settle 1:1 --cannot "owner died"')
    assert season("due --questions").out != before
    season(BACK)
    assert season("due --questions").out == before
    season("verify")


def test_a_plant_whose_end_is_taken_back_stands(season):
    season("plant end 2:1 --how died")
    season(BACK)
    assert season.ask("plant show 2:1")["status"] == "alive"
    season("verify")


def test_a_plant_whose_larger_pot_is_taken_back_is_in_the_one_before(season):
    before = season.ask("plant show 2:1")["pot"]
    season("pot-on 2:1 --pot 2L")
    assert season.ask("plant show 2:1")["pot"] == "2L"
    season(BACK)
    assert season.ask("plant show 2:1")["pot"] == before
    season("verify")
