"""Rows of the sheet that are about whole answers, and about sums: asked as a grower asks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from registry.domain.rights import RightFacts, ends
from registry.domain.rules.kinds import Kind
from registry.domain.spans import Span
from registry.wording.leave import CAUTION
from tests.services.test_rules import verdict
from tests.typed import Ortet


def told(ortet: Ortet) -> None:
    """A plant of Nan's that she forbids to sell, and an own one that was looked up."""
    ortet("plant add 'Rosa canina' --owner 'Nan Ashe' --number NAN")
    ortet("consent add --from 'Nan Ashe' --plant NAN --may propagate --not sell --on 2024-01-01")
    ortet("plant add \"Fuchsia 'Lane Ember'\" --owner me --how bought --number OWN")
    ortet("right lookup \"Fuchsia 'Lane Ember'\" --in US --where patents --found none")


def each_plant_and_the_request(ortet: Ortet) -> None:
    """D1: the worst counts, each plant has its own, and the call without the worst is offered."""
    told(ortet)
    answer = verdict(ortet, "may sell NAN OWN")
    assert [plant["verdict"] for plant in answer["plants"]] == ["barred", "clear"]
    assert answer["verdict"] == "barred"
    own = answer["plants"][1]["code"]
    assert f"Without the others: ortet sell {own}" in ortet("may sell NAN OWN", expect=1).out


def the_day_it_would_change(ortet: Ortet) -> None:
    """D4."""
    told(ortet)
    ortet("restriction add Fuchsia --in US --acts sell --until 2027-01-31 --citation invented")
    found = {f["row"]: f["changes_on"] for f in verdict(ortet, "may sell OWN")["findings"]}
    assert found["C17"] == "2027-02-01"


def an_override_keeps_the_verdict(ortet: Ortet) -> None:
    """D5: what was done against a no stays a no, with who, when and why beside it."""
    told(ortet)
    assert ortet("sell NAN", expect=1).out == ""
    ortet("sell NAN --anyway 'she changed her mind, letter to come'")
    (kept,) = verdict(ortet, "may NAN --again")["again"]
    assert (kept["verdict"], kept["now"]) == ("barred", "barred")
    assert kept["anyway"] == "she changed her mind, letter to come"


def the_caution_stands_on_every_answer(ortet: Ortet) -> None:
    """D6."""
    told(ortet)
    for line, exit_code in (("may sell NAN", 1), ("may sell OWN", 0), ("may sell OWN --when", 0)):
        assert ortet(line, expect=exit_code).out.rstrip().endswith(CAUTION)


def one_of_several_parents(ortet: Ortet) -> None:
    """C24: the worst of the candidates, each shown and marked as one of several."""
    told(ortet)
    ortet("stick OWN --lot count=4 --lot from=NAN,count=4 --number MIXED --open")
    ortet("pot-up MIXED --count 2")
    answer = verdict(ortet, "may sell last")
    assert answer["verdict"] == "barred"
    assert any("one of several" in finding["text"] for finding in answer["findings"])


def what_has_ended(ortet: Ortet) -> None:
    """C25: left out and counted in a group; alone the call is wrong."""
    told(ortet)
    ortet("plant end NAN --how died")
    assert "1 of 2 is gone" in ortet("may sell NAN OWN").out
    assert "died" in ortet("may sell NAN", expect=2).err


def a_us_patent_whose_adjustment_is_not_recorded(ortet: Ortet) -> None:
    """B23: E by filing, L twenty years after grant (35 USC 154(a)(2), (b)(2)(A))."""
    found = ends(
        RightFacts(
            Kind.US_PLANT_PATENT,
            filed=Span.on(date(2007, 3, 6)),
            granted=Span.on(date(2009, 5, 12)),
        )
    )
    assert (found.earliest, found.latest) == (date(2027, 3, 6), date(2029, 5, 12))


def an_eu_right_whose_group_is_not_recorded(ortet: Ortet) -> None:
    """B24: 25 to 35 years, to 31 December (Reg (EC) 2100/94 Art. 19(1); (EU) 2021/1873)."""
    found = ends(RightFacts(Kind.EU_CPVR, granted=Span.on(date(2010, 5, 12))))
    assert (found.earliest, found.latest) == (date(2035, 12, 31), date(2045, 12, 31))


ANSWERS = [
    pytest.param(each_plant_and_the_request, id="verdict-D1"),
    pytest.param(the_day_it_would_change, id="verdict-D4"),
    pytest.param(an_override_keeps_the_verdict, id="verdict-D5"),
    pytest.param(the_caution_stands_on_every_answer, id="verdict-D6"),
    pytest.param(one_of_several_parents, id="verdict-C24"),
    pytest.param(what_has_ended, id="verdict-C25"),
    pytest.param(a_us_patent_whose_adjustment_is_not_recorded, id="verdict-B23"),
    pytest.param(an_eu_right_whose_group_is_not_recorded, id="verdict-B24"),
]


@pytest.mark.parametrize("holds", ANSWERS)
def test_rows_about_whole_answers(ortet: Ortet, holds: Callable[[Ortet], None]) -> None:
    holds(ortet)


def test_pots_that_are_judged_alike_are_counted_each(ortet):
    """A bought fuchsia and ten pots raised from it: a sentence for one, the others counted."""
    ortet("plant add \"Fuchsia 'Lane Ember'\" --how bought --owner me --number MOTHER")
    ortet("stick MOTHER --count 10 --number ROOM --open")
    ortet("pot-up ROOM --count 10 --number POT")
    own = [line for line in ortet("may give ROOM", expect=1).out.splitlines() if "(A1)" in line]
    assert len(own) == 1
    assert "was raised here; no other owner is recorded. Clear for 10 more as well." in own[0]
    assert "was the grower's own. (A1)" in ortet("may give MOTHER", expect=1).out
