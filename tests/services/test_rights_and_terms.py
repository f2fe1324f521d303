"""What becomes of rights, and what came with a plant: recorded on the command line, and judged."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.services.test_rules import rows, verdict
from tests.typed import Ortet

ROSE = "Rosa 'Lane Lantern'"
PATENT = (
    f'right add us-plant-patent PP20001 --name "{ROSE}" --filed 2007-03-06 --granted 2009-05-12'
)


@pytest.fixture
def rose(ortet: Ortet) -> Ortet:
    ortet("plant add --owner me --how bought --number ROSE-1", ROSE)
    return ortet


def event(ortet: Ortet, status: str, on: str, *more: str) -> None:
    ortet(f"right event PP20001 --status {status} --on {on} --source register", *more)


@pytest.mark.parametrize(
    ("status", "on", "more", "row", "level"),
    [
        pytest.param("annulled", "2020-01-07", (), "B28", "clear", id="B28-annulled"),
        pytest.param(
            "annulled", "2020-01-07", ("--not-final",), "B1", "barred", id="B28-not-yet-final"
        ),
        pytest.param("surrendered", "2020-01-07", (), "B27", "clear", id="B27-surrendered"),
        pytest.param("cancelled", "2026-05-14", (), "B1", "barred", id="B27-on-its-last-day"),
        pytest.param("lapsed", "2020-01-07", ("--not-final",), "B26", "unknown", id="B26-lapsed"),
        pytest.param("stated-ended", "2020-01-07", (), "B25", "clear", id="B25-stated-after"),
    ],
)
def test_what_became_of_a_right_decides(rose, status, on, more, row, level):
    rose(PATENT)
    assert rows(rose, "may propagate ROSE-1")["B1"] == "barred"
    event(rose, status, on, *more)
    assert rows(rose, "may propagate ROSE-1")[row] == level


def test_a_refused_application_is_no_right(rose):
    """B17, then B18."""
    rose(f'right add us-plant-patent PP20001 --name "{ROSE}" --filed 2024-03-05')
    event(rose, "applied", "2024-03-05")
    assert rows(rose, "may propagate ROSE-1")["B17"] == "unknown"
    event(rose, "refused", "2025-03-04")
    found = rows(rose, "may propagate ROSE-1")
    assert found["B18"] == "clear"
    assert "B17" not in found


def test_an_event_that_cannot_be_is_refused(rose):
    rose(PATENT)
    line = "right event PP20001 --source x --status "
    assert "granted" in rose.refused(line + "surrendered --on 2001-01-01")
    assert "status of a right" in rose.refused(line + "forgotten --on 2020-01-07")
    rose.refused("right event PP999 --source x --status lapsed --on 2020-01-07")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("right add us-plant-patent PP1 --name X --filed 2009-05-12 --granted 2007-03-06", "filed"),
        ("right add us-plant-patent ABC --name X --granted 2009-05-12", "shape"),
        ("right add us-plant-patent PP1 --name X --granted 2009-05-12 --ends 2001-01-01", "ends"),
        ("right add us-plant-patent PP20001 --name X --granted 2009-05-12", "already"),
        ("right add uk-pbr 1 --name X --territory FR", "territory"),
        ("right add us-plant-patent PP2 --name X --territory ZZ", "ISO 3166"),
        ("right add moon-patent PP2 --name X", "kind of right"),
        ("licence add PP20001 --from Holder --may end", "licence can cover"),
        ("licence add PP20001 --from Holder --may fly", "act"),
        ("licence add PP20001 --from Holder --may sell --in ZZ", "ISO 3166"),
        ("licence add PP20001 --from Holder --may sell --limit '0 plants'", "none"),
        ("licence add PP20001 --from Holder --may sell --limit '9 cuttings'", "not allow"),
        ("licence add PP20001 --from Holder --may sell --royalty 0.35", "currency"),
        ("restriction add '%%%' --in US --acts sell --citation x", "taxon"),
        ("restriction add Rosa --in ZZ --acts sell --citation x", "territory"),
        ("came ROSE-1 --bought-in ZZ", "ISO 3166"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason_and_nothing_stored(rose, line, says):
    rose(PATENT)
    assert says in rose.refused(line)


def test_a_grant_on_another_day_than_tuesday_is_warned_of_and_stored(ortet):
    """US patents are issued on Tuesdays (common practice, no source)."""
    said = ortet("right add us-plant-patent PP20001 --name X --granted 2009-05-13").out
    assert "Tuesday" in said


def test_the_page_of_kinds_is_current(ortet):
    page = Path(__file__).parents[2] / "docs" / "rights.md"
    assert ortet("right kinds").out == page.read_text(encoding="utf-8")


def test_the_kinds_name_their_citations(ortet):
    kinds = ortet.ask("right kinds")["kinds"]
    assert len(kinds) == 10
    assert all(citation for kind in kinds for citation in kind["citations"])


# --- what came with a plant ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("came", "ask", "row", "level"),
    [
        pytest.param("--label-forbids", "propagate", "B42", "unknown", id="B42"),
        pytest.param("--pending US", "propagate", "B17", "unknown", id="B17"),
        pytest.param("--notice 'US PVP 1234'", "sell", "B43", "conditional", id="B43"),
        pytest.param("--agreed 'no cuttings'", "propagate", "C1", "barred", id="C1"),
        pytest.param("--agreed-before 'no cuttings'", "propagate", "C2", "unknown", id="C2"),
    ],
)
def test_what_came_with_a_plant_is_judged(rose, came, ask, row, level):
    assert row not in rows(rose, f"may {ask} ROSE-1")
    rose(f"came ROSE-1 {came}")
    assert rows(rose, f"may {ask} ROSE-1")[row] == level


@pytest.mark.parametrize(
    ("came", "row", "level"),
    [
        pytest.param("--supplier licensed --bought-in US", "B7", "clear", id="B7"),
        pytest.param("--supplier unlicensed", "B8", "unknown", id="B8"),
        pytest.param("--bought-in NL", "B9", "barred", id="B9"),
        pytest.param("--giver-made", "B6", "barred", id="B6"),
    ],
)
def test_how_a_plant_was_got_decides_whether_it_may_go_on(rose, came, row, level):
    rose(PATENT)
    rose(f"came ROSE-1 {came}")
    assert rows(rose, "may sell ROSE-1")[row] == level


@pytest.mark.parametrize(
    ("ground", "row", "level"),
    [
        pytest.param("public", "A20", "unknown", id="A20-public"),
        pytest.param("us-national-park", "A20", "barred", id="A20-park"),
        pytest.param("group", "A21", "unknown", id="A21"),
    ],
)
def test_whose_ground_it_stands_on_says_who_is_asked(ortet, ground, row, level):
    ortet('plant add "Rosa canina" --number P-1')
    ortet(f"came P-1 --ground {ground}")
    assert rows(ortet, "may propagate P-1")[row] == level


def test_the_newest_word_counts_and_all_are_shown(rose):
    rose("came ROSE-1 --supplier unlicensed")
    rose("came ROSE-1 --supplier licensed --bought-in US")
    rose(PATENT)
    assert rows(rose, "may sell ROSE-1")["B7"] == "clear"
    assert [one["value"] for one in rose.ask("came ROSE-1")["facts"]] == [
        "unlicensed", "licensed", "US",
    ]  # fmt: skip


def test_terms_on_copies_need_the_terms(rose):
    rose.refused("came ROSE-1 --no-copies")


def test_a_word_of_breeder_or_holder_that_it_is_free(rose):
    """B39 answers what a search would (B36)."""
    rose("right lookup --in US --where 'letter of the breeder' --found free", ROSE)
    found = rows(rose, "may sell ROSE-1")
    assert found["B39"] == "clear"
    assert "B36" not in found


def test_leave_of_somebody_where_no_owner_is_on_record_is_a_gap(ortet):
    """A16: no harsher than having said nothing."""
    ortet('plant add "Rosa canina" --number P-1')
    ortet("consent add --from 'Nan Ashe' --plant P-1 --may propagate --on 2024-01-01")
    found = verdict(ortet, "may propagate P-1")["findings"]
    assert ("A16", "gap") in {(f["row"], f["unknown"]) for f in found}


@pytest.mark.parametrize(("said", "row"), [("--seedlings", "A3"), ("--not-seedlings", "A18")])
def test_a_leave_may_say_whether_it_reaches_seedlings(ortet, said, row):
    """A18."""
    ortet('plant add "Rosa canina" --owner "Nan Ashe" --number P-1')
    ortet(f"consent add --from 'Nan Ashe' --plant P-1 --may sell,propagate {said} --on 2024-01-01")
    ortet("sow --seed-parent P-1 --count 5 --number SOWN --open")
    assert rows(ortet, "may sell SOWN")[row] == "clear"


def test_one_leave_for_many_lots(ortet):
    for n in (1, 2):
        ortet(f'stick "Rosa canina" --new --owner "Nan Ashe" --count 3 --number L{n} --open')
    told = ortet.ask("consent add --from 'Nan Ashe' --for L1 --for L2 --may propagate,sell")
    assert len(told["consents"]) == 2
    assert len(ortet.ask("consent list")["consents"]) == 2
