"""An answer of `may` says what to type next, with its names and numbers; typed, it answers."""

from __future__ import annotations

import re

import pytest

from tests.typed import Ortet

ROSE = "Rosa 'Lane Lantern'"


def no(ortet: Ortet, line: str) -> str:
    """The whole answer of a `may` that is no."""
    return ortet(line, expect=1).out


@pytest.fixture
def rose(ortet: Ortet) -> Ortet:
    """A bought rose."""
    ortet(f'plant add "{ROSE}" --owner me --how bought --number R')
    return ortet


@pytest.fixture
def patented(rose: Ortet) -> Ortet:
    """The same, with a right on its name."""
    rose(
        f'right add us-plant-patent PP30002 --name "{ROSE}" --filed 2015-03-03 --granted 2017-05-09'
    )
    return rose


def test_verdict_c23_a_hold_is_named_with_its_reason_and_number(rose):
    rose("hold add R --reason 'leaf spot' --authority 'plant health office'")
    rose("hold add R --reason 'brown rings' --stops leaving")
    answer = no(rose, "may sell R")
    assert "“leaf spot”" in answer
    assert "“brown rings”" in answer
    for number in (1, 2):
        assert f"ortet hold lift --number {number}" in answer
        rose(f"hold lift --number {number}")
    assert "A hold lies" not in no(rose, "may sell R")


@pytest.mark.parametrize(
    ("held", "words"),
    [
        ("--place Frame", "the place where it stands"),
        ("B", "26-0002A-1, from which it was raised"),
        ("R", "26-0001-001-8 (Rosa ‘Lane Lantern’), from which it was raised"),
    ],
)
def test_verdict_c23_a_hold_says_what_it_lies_on(rose, held, words):
    rose("stick R --count 6 --place Frame --number B --open")
    rose("pot-up B --count 4 --place Frame --number P")
    rose(f"hold add {held} --reason blight")
    assert f"A hold lies on {words}: “blight”." in no(rose, "may move P-1")


def test_verdict_b1_names_the_licence_to_ask_for_and_the_day_to_read_the_register(patented):
    answer = no(patented, "may propagate R")
    assert "ortet licence add PP30002 --from HOLDER --may propagate --in US" in answer
    assert "US plant patent PP30002 may have ended from 4 March 2035 on" in answer


def test_verdict_b36_speaks_of_the_other_kinds_and_its_command_settles_it(patented):
    answer = no(patented, "may propagate R")
    assert "Whether any other right stands on the name" in answer
    lookup = 'ortet right lookup "Rosa ‘Lane Lantern’" --in US --where TEXT --found none'
    assert lookup in answer
    patented(lookup.removeprefix("ortet ").replace("TEXT", "certificates"))
    assert "B36" not in no(patented, "may propagate R")


def test_verdict_b14_names_the_right_of_a_licence_and_what_it_asks(patented):
    patented("licence add PP30002 --from 'Lamp Plants' --may propagate --notice 'PP30002' --in US")
    answer = no(patented, "may propagate R")
    assert "A licence under US plant patent PP30002 covers this." in answer
    assert "B14: carry the notice" in answer
    assert "royalty" not in answer


def test_verdict_b42_what_it_says_to_type_answers_the_label(rose):
    rose("came R --label-forbids")
    typed = re.search(r"ortet (came \S+ --no-right TEXT --on DAY)", no(rose, "may propagate R"))
    assert typed is not None
    rose(typed[1].replace("TEXT", "'the nursery'").replace("DAY", "2026-05-01"))
    found = rose.ask("may propagate R")["findings"]
    assert {f["row"]: f["level"] for f in found}["B42"] == "conditional"


def test_an_act_of_two_places_says_the_same_sentence_once(ortet):
    ortet('plant add "old rose" --owner me --how bought --number R')
    answer = no(ortet, "may sell R --to-place CA")
    assert answer.count("is not known well enough to look it up") == 1
    found = ortet.ask("may sell R --to-place CA", expect=1)["findings"]
    assert [f["row"] for f in found].count("C12") == 2


def test_when_names_only_days_on_which_the_answer_changes(ortet):
    """The look-up grows old on a day, and the owner's no stays what it is."""
    ortet(f'plant add "{ROSE}" --owner "Nan Ashe" --number R')
    ortet("consent add --plant R --not sell --said 'not for money' --on 2026-01-01")
    ortet(f'right lookup "{ROSE}" --in US --where patents --found none')
    assert ortet.ask("may sell R --when", expect=1)["steps"] == []
