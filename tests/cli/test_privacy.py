"""What is held of a person can be shown, handed over, and emptied so that no byte of it is left.

Retention: Reg (EU) 2016/2031 Art. 69(4), three years; Reg (EU) 511/2014 Art. 4(6), twenty years.
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from registry.domain.dates import FuzzyDate
from registry.domain.rules.retention import Dealing, Dealt, must_keep
from registry.storage.engine import make_engine
from tests import homes
from tests.conftest import MOMENT
from tests.typed import Ortet

SECRETS = ("Annabel Lichtenau", "annabel@example.org", "Hill Road", "allergic to bees")


@pytest.fixture
def known(ortet):
    """Somebody who owns a plant, gave leave, bought a pot, and of whom a note is kept."""
    ortet(
        'person add "Annabel Lichtenau" --contact "annabel@example.org, 5 Hill Road"'
        ' --note "allergic to bees"'
    )
    ortet(
        'stick "red hydrangea" --owner "Annabel Lichtenau" --leave yes --count 16 --number B --open'
    )
    ortet("pot-up B --count 3")
    code = ortet.ask("batch show B")["plants"][0]["code"]
    ortet(f'sell {code} --to "Annabel Lichtenau" --anyway "it is hers"')
    ortet(f'note {code} "she pays in May" --private')
    return ortet


def rows(ortet: Ortet, statement: str) -> list[tuple[object, ...]]:
    with make_engine(ortet.path).connect() as connection:
        return [tuple(row) for row in connection.exec_driver_sql(statement)]


def remains(path: Path) -> set[str]:
    """The secrets that still stand in a registry's file or beside it, in whatever form."""
    files = [file for file in path.parent.iterdir() if file.name.startswith(path.name)]
    found = set()
    for file in files:
        content = file.read_bytes().lower()
        found |= {secret for secret in SECRETS if secret.lower().encode() in content}
    return found


def test_what_is_held_is_shown(known):
    shown = known.ask('person show "Annabel Lichtenau"')
    assert {(one["table"], one["count"]) for one in shown["occurs"]} == {
        ("ownership", 1), ("consent", 1), ("release", 1), ("note", 1)
    }  # fmt: skip
    assert shown["notes"] == ["allergic to bees"]
    assert shown["kept"] == []
    assert "allergic to bees" in known('person show "Annabel Lichtenau"').out


def test_everything_is_handed_over(known):
    known('person export "Annabel Lichtenau" --out annabel.json')
    given = json.loads((known.folder / "annabel.json").read_text())
    assert given["person"]["name"] == "Annabel Lichtenau"
    assert given["person"]["contact"] == "annabel@example.org, 5 Hill Road"
    assert given["notes"] == ["allergic to bees"]
    assert {row["table"] for row in given["records"]} == {
        "consent", "note", "ownership", "person", "release"
    }  # fmt: skip
    assert [entry["what"] for entry in given["entries"]] == ["person add", "stick", "sell"]
    assert known.ask('person export "Annabel Lichtenau"') == given


def test_a_private_note_is_shown_to_the_grower_and_stands_outside_the_chain(known):
    code = known.ask("batch show B")["plants"][0]["code"]
    assert "she pays in May" in known(f"plant show {code}").out
    (text, *_), *_ = rows(known, "SELECT text FROM note ORDER BY id DESC")
    assert text is None


@homes.in_a_file
def test_nothing_that_was_emptied_is_left_in_the_file_or_beside_it(known):
    assert remains(known.path) == set(SECRETS)
    known('person blank "Annabel Lichtenau" --reason "she asked"')
    assert remains(known.path) == set()
    assert known.ask("verify")["ok"]
    assert known.ask("person list")["people"][0]["name"] in ("(name blanked)", "Jo Field")
    assert "Nobody on record" in known.refused('person show "Annabel Lichtenau"')


def test_what_was_emptied_stays_empty_and_says_when_and_why(known):
    known('person blank "Annabel Lichtenau" --reason "she asked"')
    details = rows(known, "SELECT name, contact, salt FROM person_detail WHERE person_id = 2")
    sealed = rows(known, "SELECT value, salt FROM sealed ORDER BY id")
    reasons = rows(known, "SELECT reason FROM blanking")
    assert details == [("(name blanked)", None, b"")]
    assert sealed[0] == ("", b"")
    assert reasons == [("she asked",), ("she asked",)]
    # Emptying is not a slip that is taken back.
    said = known.refused('correct last --void "no"')
    assert "person blank" in said
    assert "gone for good" in said


def test_a_rehearsal_shows_what_goes_and_writes_nothing(known):
    before = known.head()
    said = known('person blank "Annabel Lichtenau" --dry-run').out
    assert "would be emptied for good: name and contact, 1 note" in said
    assert known.head() == before
    assert known.ask('person show "Annabel Lichtenau"')["contact"]


def test_copies_that_still_hold_it_are_named(known):
    copy = known.ask("backup")["copy"]
    answer = known.ask('person blank "Annabel Lichtenau" --reason "she asked"')
    assert answer["copies"] == [copy]


def test_a_name_in_other_words_is_told(known):
    known('note last "Annabel Lichtenau called"')
    said = known('person blank "Annabel Lichtenau" --reason "she asked"').out
    assert "The name still stands in these words" in said
    assert "Annabel Lichtenau called" in said


def test_it_takes_a_reason_and_never_the_grower(known):
    assert "--reason" in known.refused('person blank "Annabel Lichtenau"')
    assert known('person blank "Jo Field" --reason "no"', expect=2).out == ""


# --- what must be kept ---------------------------------------------------------------------------


@pytest.fixture
def in_france(nowhere):
    nowhere('init --grower "Jo Field" --country FR --began 2015-01-01')
    nowhere("settings set trade yes")
    nowhere('person add "Annabel Lichtenau" --trade --contact "5 Hill Road"')
    nowhere('plant add "red rose" --how bought --source "Annabel Lichtenau" --on "1 May 2025"')
    return nowhere


def test_a_supplier_of_a_trader_is_kept_for_three_years(in_france):
    before = in_france.head()
    refused = in_france('person blank "Annabel Lichtenau" --reason "she asked"', expect=2)
    assert "to be kept until 1 May 2028 (Reg (EU) 2016/2031 Art. 69(4))" in refused.err
    assert "\nAsk again after 1 May 2028.\n" in refused.err
    assert in_france.head() == before
    kept = in_france.ask('person blank "Annabel Lichtenau" --dry-run')["kept"]
    assert [one["until"] for one in kept] == ["2028-05-01"]
    later = in_france.at(MOMENT + timedelta(days=2 * 366))
    later('person blank "Annabel Lichtenau" --reason "she asked"')
    assert in_france.ask("verify")["ok"]


def test_agreed_terms_are_kept_as_long_as_a_plant_stands_and_twenty_years_more(in_france):
    code = in_france.ask("plant list")["plants"][0]["code"]
    in_france(f"came {code} --agreed no-copies")
    refused = in_france('person blank "Annabel Lichtenau" --reason "she asked"', expect=2)
    assert "twenty years after the last of it is gone (Reg (EU) 511/2014 Art. 4(6))" in refused.err
    in_france(f"plant end {code} --how died --on '14 May 2026'")
    kept = in_france.ask('person blank "Annabel Lichtenau" --dry-run')["kept"]
    assert {one["until"] for one in kept} == {"2028-05-01", "2046-05-14"}


DAY = date(2026, 5, 14)


@pytest.mark.parametrize(
    ("dealing", "country", "until"),
    [
        (Dealing(Dealt.WENT_TO, "x", FuzzyDate.of(DAY), DAY, trade=True), "FR", date(2029, 5, 14)),
        (Dealing(Dealt.WENT_TO, "x", FuzzyDate.of(DAY), DAY, trade=True), "GB", date(2029, 5, 14)),
        (Dealing(Dealt.WENT_TO, "x", None, DAY, trade=True), "FR", date(2029, 5, 14)),
        (Dealing(Dealt.TERMS, "x", FuzzyDate.of(DAY), DAY), "DE", date(2046, 5, 14)),
    ],
)
def test_terms_run_to_the_same_day_years_on_and_that_day_counts(dealing, country, until):
    kept = must_keep(dealing, country, until)
    assert kept is not None
    assert kept.until == until
    assert must_keep(dealing, country, until + timedelta(days=1)) is None


@pytest.mark.parametrize("country", ["US", "CA", "JP"])
def test_elsewhere_no_term_is_known(country):
    assert must_keep(Dealing(Dealt.WENT_TO, "x", None, DAY, trade=True), country, DAY) is None


def test_a_private_buyer_is_not_kept():
    """Art. 69(2) asks to which operators plants went, not to which final users."""
    assert must_keep(Dealing(Dealt.WENT_TO, "x", None, DAY), "FR", DAY) is None
