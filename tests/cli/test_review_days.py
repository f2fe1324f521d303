"""An act is dated by the day it happened, which is not to come; a question may be about any day."""

from __future__ import annotations

import pytest

LINES = (
    'plant add "blue aster"',
    'stick "blue aster" --owner me --count 3 --open',
    "look B --rooted 3",
    "pot-up B --count 1",
    "recount B 9",
    "note 1:1 later",
    "hold add 1:1 --reason sick",
    'consent add --from "Nan Ashe" --plant 1:1 --may give',
    "give B --open",
    "plant end 2:1 --how died",
    'receive "blue aster" --from "Nan Ashe"',
    'plant name 1:1 "Aster amellus" --grounds seen',
    "batch close B --rest culled",
)


@pytest.fixture
def season(ortet):
    """A plant 1:1 and a batch B of ten of it, one of them in a pot; today is 14 May 2026."""
    ortet('stick "red hydrangea" --owner "Nan Ashe" --leave yes --count 10 --number B --open')
    ortet("pot-up B --count 1")
    return ortet


@pytest.mark.parametrize("line", LINES)
def test_an_act_of_a_day_to_come_is_refused(season, line):
    said = season.refused(line, "--on", "2026-05-15")
    assert "2026-05-15" in said
    assert "after today" in said


@pytest.mark.parametrize("day", ["2030", "summer 2027"])
def test_a_span_wholly_to_come_is_refused(season, day):
    assert day in season.refused("look B --rooted 3", "--on", day)


def test_a_registry_does_not_begin_on_a_day_to_come(nowhere):
    assert "after today" in nowhere.refused('init --grower "Jo" --country US --began 2026-05-15')


@pytest.mark.parametrize("day", ["2026-05", "2026", "2026-05-14", "about 2026"])
def test_a_span_that_today_is_in_is_taken(season, day):
    season("look B --rooted 3", "--on", day)


def test_a_file_of_a_day_to_come_is_stopped(season, tmp_path):
    lines = tmp_path / "season.txt"
    lines.write_text("on 2027-05-15\nlook B --rooted 3\n", encoding="utf-8")
    assert "after today" in season.refused(f"bench {lines}")


def test_a_question_may_be_about_a_day_to_come(season):
    assert "2027" in season("may give 2:1 --on 2027-01-02", expect=1).out


def test_leave_may_end_on_a_day_to_come(season):
    season('consent add --from "Nan Ashe" --plant 1:1 --may give --until 2030-01-01')
