"""Leave and law on the command line: what is typed, answered, refused, and how it exits."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from registry.cli.app import App, main_command
from registry.cli.leave import acts
from registry.clock import fixed_clock
from registry.domain.verdict.facts import Act
from registry.errors import UnknownWord
from registry.location import Location
from tests import homes
from tests.conftest import MOMENT

Ortet = Callable[..., Result]

NAME = "Fuchsia 'Lane Ember'"
LOOKUP = ("right", "lookup", NAME, "--in", "US", "--where", "w", "--found", "none")
CONSENT = ("consent", "add", "--from", "Nan Ashe", "--plant", "NAN-1")


def runner(path: Location) -> Ortet:
    """Runs commands on the registry at `path`; `tty` answers the questions of a terminal."""

    def run(*args: str, tty: str | None = None) -> Result:
        app = App(path, clock=fixed_clock(MOMENT), interactive=tty is not None)
        return CliRunner().invoke(main_command, args, obj=app, input=tty, catch_exceptions=False)

    return run


def ok(result: Result) -> Result:
    assert result.exit_code == 0, result.stderr
    return result


def answer(result: Result) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> Location:
    """A registry told once, to be copied.

    A neighbour's hydrangea that may be propagated and given but not sold, a rose that only leave
    to take is recorded for, and an own fuchsia; each with pots, the hydrangea in two generations.
    """
    path = homes.empty(tmp_path_factory.mktemp("told") / "registry.ortet")
    run = runner(path)
    for line in (
        'init --grower "Jo Field" --country US --region US-OR --began 2024-01-01',
        'plant add "red hydrangea" --owner "Nan Ashe" --number NAN-1',
        'consent add --from "Nan Ashe" --plant NAN-1 --may propagate,give --not sell'
        ' --said "help yourself" --on 2024-03-02',
        "stick NAN-1 --count 4 --number N24 --on 2024-06-12 --open",
        "pot-up N24 --count 4 --number N24-P --on 2024-08-01",
        "stick N24-P-1 --count 4 --number N25 --on 2025-06-24 --open",
        "pot-up N25 --count 4 --number N25-P --on 2025-08-01",
        'stick "old pink rose" --owner "Tom Birch" --leave yes --count 4 --number T24'
        " --on 2024-06-12 --open",
        "pot-up T24 --count 4 --number T24-P --on 2024-08-01",
        "plant add \"Fuchsia 'Lane Ember'\" --how bought --number OWN-1 --on 2024-01-01",
        "stick OWN-1 --count 4 --number O24 --on 2024-06-12 --open",
        "pot-up O24 --count 4 --number O24-P --on 2024-08-01",
    ):
        ok(run(*shlex.split(line)))
    return path


@pytest.fixture
def ortet(told: Path, tmp_path: Path) -> Ortet:
    """Runs commands on a copy of the registry that was told."""
    return runner(homes.copied(told, tmp_path / "registry.ortet"))


# --- may -----------------------------------------------------------------------------------------


def test_may_says_the_verdict_first_then_why_and_whom_to_ask(ortet):
    result = ortet("may", "sell", "N25-P-1")
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert lines[0].startswith("BARRED: no")
    assert "Nan Ashe said no" in result.stdout
    assert "row A6, consent 1" in result.stdout
    assert "NAN-1" not in lines[0]
    assert lines.index("Why:") < lines.index("Ask: Nan Ashe, somebody who knows the genus")
    assert lines[-1].startswith("A memory aid, not legal advice")


def test_may_in_json_names_row_record_and_ancestor(ortet):
    code = answer(ortet("plant", "show", "NAN-1", "--json"))["code"]
    found = answer(ortet("may", "sell", "N25-P-1", "--json"))
    assert found["verdict"] == "barred"
    no = found["findings"][0]
    assert list(no) == [
        "level", "unknown", "row", "plant", "record", "citation", "changes_on", "text",
        "certain", "changes", "settle", "ask",
    ]  # fmt: skip
    assert no["ask"] == "Nan Ashe"
    assert no["settle"].endswith(f'ortet consent add --from "Nan Ashe" --plant {code} --may sell')
    assert (found["act"], found["purpose"], found["unknown"]) == ("sell", "trade", None)
    assert found["caution"].startswith("A memory aid")
    assert (no["row"], no["plant"], no["record"]) == ("A6", code, "consent 1")
    assert [one["verdict"] for one in found["plants"]] == ["barred"]


def test_an_own_line_that_was_looked_up_may_be_sold(ortet):
    assert ortet("may", "sell", "O24-P-1").exit_code == 1
    looked = ok(ortet(*LOOKUP, "Rosa 'Lost'"))
    assert "No plant here goes by Rosa 'Lost'." in looked.stdout
    result = ok(ortet("may", "sell", "O24-P-1"))
    assert result.stdout.startswith("CLEAR: yes, as far as is recorded.")


@homes.in_a_file
def test_may_stores_nothing(ortet, tmp_path):
    before = (tmp_path / "registry.ortet").read_bytes()
    ortet("may", "sell", "O24")
    assert (tmp_path / "registry.ortet").read_bytes() == before


def test_may_offers_the_call_without_the_refused_ones(ortet):
    ortet(
        "right", "lookup", "Fuchsia 'Lane Ember'", "--in", "US", "--where", "w", "--found", "none"
    )
    result = ortet("may", "sell", "NAN-1", "OWN-1")
    assert result.exit_code == 1
    code = answer(ortet("plant", "show", "OWN-1", "--json"))["code"]
    assert f"Without the others: ortet sell {code}" in result.stdout


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("may", "lend", "OWN-1"), "'lend' is no act. Use propagate, keep"),
        (("may", "sell", "OWN-1", "--in", "Oregon"), "'Oregon' is not a country"),
        (("may", "sell", "26-0099-9"), "26-0099-9"),
        (("may", "sell", "OWN-1", "--on", "31 June 2025"), "no such day"),
        (("consent", "add", "--from", "Nan", "--plant", "OWN-1", "--may", "give", "--limit", "12"),
         "of what?"),
        (("consent", "add", "--from", "Nan", "--may", "give"), "--plant CODE"),
        (("consent", "withdraw", "7"), "no consent '7'"),
        (("right", "add", "patent", "PP1", "--name", "Rosa 'A'"), "'patent' is no kind of right"),
        (("right", "add", "us-plant-patent", "PP99001", "--name", "Rosa 'A'", "--filed",
          "2019-03-06", "--granted", "2018-08-14"), "granted before it was filed"),
        (("licence", "add", "PP99001", "--from", "Fenn", "--may", "sell"), "no right 'PP99001'"),
        (("hold", "lift", "OWN-1"), "no hold"),
        (("hold", "add", "--reason", "rust"), "what to hold"),
        (("settle", "O24-P-1", "--cannot", "owner died"), "No question is open"),
        (("right", "lookup", "Rosa 'A'", "--in", "XX", "--where", "w", "--found", "none"),
         "'XX' is not a country"),
    ],
)  # fmt: skip
def test_a_wrong_call_is_one_clear_sentence(ortet, args, words):
    result = ortet(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in result.stderr


def test_an_act_word_is_read_in_any_case():
    assert acts("Propagate, give") == (Act.PROPAGATE, Act.GIVE)
    assert acts(None) == ()
    with pytest.raises(UnknownWord):
        acts("giveaway")


# --- records -------------------------------------------------------------------------------------


def test_a_consent_is_listed_and_withdrawn(ortet):
    shown = ok(ortet("consent", "list"))
    assert "give, propagate" in shown.stdout
    assert answer(ortet("consent", "list", "NAN-1", "--json"))["consents"][0]["not"] == ["sell"]
    ok(ortet("consent", "withdraw", "1", "--on", "14 May 2026"))
    assert answer(ortet("consent", "list", "--json"))["consents"][0]["withdrawn"] == "14 May 2026"


def test_a_bare_limit_is_asked_about_in_a_terminal(ortet):
    args = (*CONSENT, "--may", "propagate", "--limit", "12")
    shown = ok(ortet(*args, tty="cuttings\n"))
    assert "12 of what?" in shown.stderr
    assert "propagate (12 cuttings)" in shown.stdout


def test_evidence_is_kept_or_nothing_is_recorded(ortet, tmp_path):
    letter = tmp_path / "letter.txt"
    args = (*CONSENT, "--may", "swap", "--evidence", str(letter))
    assert ortet(*args).exit_code == 2
    assert len(answer(ortet("consent", "list", "NAN-1", "--json"))["consents"]) == 1
    letter.write_text("Dear Jo, swap them.")
    ok(ortet(*args))


def test_a_right_says_what_it_reaches_and_what_looks_wrong(ortet):
    right = ("right", "add", "us-plant-patent", "PP99001", "--name", NAME)
    result = ok(ortet(*right, "--filed", "2018-03-06", "--granted", "2019-08-14"))
    assert result.stdout.startswith("US plant patent PP99001 in US")
    assert "issued on Tuesdays" in result.stdout
    licence = ("licence", "add", "PP99001", "--from", "Fenn Plants", "--may", "propagate,sell")
    ok(ortet(*licence, "--in", "US", "--royalty", "0.35 USD a plant sold"))
    assert "0.35 USD each" in ok(ortet("licence", "list")).stdout
    rights = answer(ortet("right", "list", "--json"))["rights"]
    assert [one["number"] for one in rights] == ["PP99001"]


def test_an_unknown_number_and_open_dates_are_a_sign(ortet):
    ok(ortet("right", "add", "us-plant-patent", "?", "--name", NAME))
    found = answer(ortet("may", "sell", "O24-P-1", "--json"))
    assert (found["findings"][0]["row"], found["findings"][0]["unknown"]) == ("B17", "sign")


def test_a_hold_bars_until_it_is_lifted(ortet):
    ok(ortet("hold", "add", "O24", "--reason", "rust"))
    assert "C23" in ortet("may", "give", "O24-P-1", "--purpose", "private").stdout
    assert "rust" in ok(ortet("hold", "list")).stdout
    ok(ortet("hold", "lift", "O24"))
    assert ok(ortet("hold", "list")).stdout == "Nothing is on hold.\n"


def test_a_question_that_cannot_be_known_leaves_the_list(ortet):
    settled = ok(ortet("settle", "NAN-1", "--cannot", "the label is lost", "--row", "c12"))
    assert "Closed as never to be known" in settled.stdout
    assert ortet("settle", "NAN-1", "--cannot", "again").exit_code == 2
