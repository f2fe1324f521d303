"""From which day an act may be, what has changed since one was, and plants that cross a line."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests.services.test_rules import rows, verdict
from tests.typed import Ortet

NAME = "Salvia 'Lane Linen'"


@pytest.fixture
def sage(ortet: Ortet) -> Ortet:
    ortet("plant add --owner me --how bought --number SAGE", NAME)
    ortet("right lookup --in US --where patents --found none", NAME)
    return ortet


# --- when ----------------------------------------------------------------------------------------


def test_a_patent_with_all_its_days_says_when_it_is_over(ortet):
    """35 USC 154(a)(2): twenty years from filing; no days of adjustment recorded as none."""
    ortet("plant add --owner me --how bought --number SAGE", NAME)
    ortet(
        "right add us-plant-patent PP20001 --filed 2007-03-06 --granted 2009-05-12 "
        "--adjust-days 0 --name",
        NAME,
    )
    ortet("right lookup --in US --where patents --found none", NAME)
    told = ortet.ask("may propagate SAGE --when")
    assert (told["verdict"], told["from"]) == ("barred", "2027-03-07")
    assert told["then"]["verdict"] in ("clear", "conditional")
    before = verdict(ortet, "may propagate SAGE --on 2027-03-06")
    assert before["verdict"] == "barred"
    assert "7 March 2027" in ortet("may propagate SAGE --when").out


def test_several_days_are_gone_through_in_turn(ortet):
    """In force to the earliest end, not known to the latest, then over (B20 to B22)."""
    ortet("plant add --owner me --how bought --number SAGE", NAME)
    ortet("right add us-plant-patent PP20001 --filed 2007-03-06 --granted 2009-05-12 --name", NAME)
    ortet("right lookup --in US --where patents --found none", NAME)
    told = ortet.ask("may propagate SAGE --when")
    assert told["steps"][0] == {"on": "2027-03-07", "verdict": "unknown"}
    assert told["from"] == "2029-05-13"


def test_what_may_be_now_is_said_to_be_from_today(sage):
    told = sage.ask("may sell SAGE --when")
    assert (told["verdict"], told["from"], told["steps"]) == ("clear", "2026-05-14", [])


def test_what_has_no_end_on_record_has_no_day(sage):
    sage("hold add SAGE --reason rust")
    told = sage.ask("may sell SAGE --when", expect=1)
    assert (told["verdict"], told["from"]) == ("barred", None)


# --- again ---------------------------------------------------------------------------------------


def test_nothing_new_leaves_a_verdict_as_it_was(sage):
    sage("stick SAGE --count 10 --number ROOM")
    (told,) = sage.ask("may ROOM --again")["again"]
    assert (told["act"], told["verdict"], told["now"]) == ("propagate", "clear", "clear")
    assert (told["added"], told["dropped"]) == ([], [])
    assert told["on"] == "2026-05-14"
    assert "propagate on 14 May 2026: clear then, the same now" in sage("may ROOM --again").out


def test_a_right_found_later_shows_against_the_verdict_that_was_given(sage):
    sage("stick SAGE --count 10 --number ROOM")
    sage("look ROOM --rooted 2")
    sage("pot-up ROOM --count 2 --number POT")
    sage('sell POT-1 --to "A Buyer"')
    sage("right add us-plant-patent PP20001 --granted 2019-05-14 --name", NAME)
    told = sage.ask("may POT-1 --again", expect=1)["again"]
    assert [one["act"] for one in told] == ["propagate", "sell"]
    assert [one["now"] for one in told] == ["barred", "barred"]
    for one in told:
        assert "B1" in {finding["row"] for finding in one["added"]}
    out = sage("may POT-1 --again", expect=1).out
    assert "clear then, barred now" in out


def test_a_number_that_the_act_itself_used_is_not_counted_twice(ortet):
    ortet("plant add --owner 'Nan Ashe' --number NAN", "Rosa canina")
    ortet(
        "consent add --from 'Nan Ashe' --plant NAN --may propagate --limit '10 cuttings' "
        "--on 2024-01-01"
    )
    ortet("stick NAN --count 8 --number ROOM")
    (told,) = ortet.ask("may ROOM --again")["again"]
    assert told["now"] in ("clear", "conditional")


def test_where_nothing_was_done_there_is_nothing_to_ask_again(sage):
    assert sage.ask("may SAGE --again")["again"] == []


# --- crossing a line -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "row", "level"),
    [
        pytest.param("--to-place CA", "E1", "unknown", id="E1"),
        pytest.param("--to-place CA --papers phytosanitary", "E1", "conditional", id="E1-papers"),
        pytest.param("--to-place CA --seed", "E2", "unknown", id="E2"),
        pytest.param("--to-place CA", "E3", "unknown", id="E3"),
        pytest.param("--to-place US-WA", "E6", "conditional", id="E6"),
        pytest.param("", "E7", "clear", id="E7"),
        pytest.param("--in GB --by-post", "E5", "conditional", id="E5-by-post"),
        pytest.param("--in GB --to-trader", "E5", "conditional", id="E5-trader"),
    ],
)
def test_where_plants_go_is_judged(sage, options, row, level):
    assert rows(sage, f"may sell SAGE {options}")[row] == level


def test_cites_as_recorded_decides_at_a_border(sage):
    """E3."""
    sage("came SAGE --cites listed")
    assert rows(sage, "may sell SAGE --to-place CA")["E3"] == "barred"
    assert rows(sage, "may sell SAGE --to-place CA --papers cites")["E3"] == "conditional"
    sage("came SAGE --cites not-listed")
    assert "E3" not in rows(sage, "may sell SAGE --to-place CA")


def test_a_right_where_plants_go_and_a_rule_there(sage):
    """E4, C18."""
    sage("right add ca-pbr 1234 --granted 2020-02-04 --name", NAME)
    sage("restriction add Salvia --in CA --acts sell --citation 'invented'")
    here = rows(sage, "may sell SAGE")
    assert not {"E4", "C17"} & here.keys()
    there = rows(sage, "may sell SAGE --to-place CA")
    assert (there["E4"], there["C17"]) == ("barred", "barred")


def test_a_sale_across_a_border_needs_a_reason_and_keeps_where_it_went(sage):
    refused = sage("sell SAGE --to-place CA", expect=1)
    assert "E1" in refused.err
    sage("sell SAGE --to-place CA --anyway 'certificate is on its way'")
    (told,) = sage.at(datetime(2026, 6, 1, tzinfo=UTC)).ask("may SAGE --again", expect=1)["again"]
    assert (told["verdict"], told["now"]) == ("unknown", "unknown")
    assert told["added"] == []


def test_a_place_or_paper_that_is_none_is_refused(sage):
    assert "ISO 3166" in sage.refused("sell SAGE --to-place ZZ")
    assert "paper" in sage.refused("sell SAGE --to-place CA --papers passeport")
    sage.refused("may sell")
