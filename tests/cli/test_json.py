"""The keys of `--json` that programs may count on, as docs/commands.md lists them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

DOCUMENT = Path(__file__).parents[2] / "docs" / "commands.md"
KEYS = {
    "stick": {"batch", "lots", "made", "verdict", "questions"},
    "pot-up": {"plants"},
    "batch show": {
        *("batch", "numbers", "stuck", "place", "stood", "left", "seen", "gone", "lots"),
        *("compared", "plants", "next_look", "closed"),
    },
    "batch list": {"batches"},
    "due": {"due", "questions"},
    "plant show": {"code", "name", "received_as", "status", "parents", "batch", "place"},
    "trace": {"roots", "nodes", "edges"},
    "may": {
        "verdict",
        "unknown",
        "act",
        "day",
        "in",
        "purpose",
        "findings",
        "plants",
        "gone",
        "caution",
    },
    "tally": {"rows"},
    "verify": {"ok", "problems"},
}
PARTS = {
    "lots": {"code", "letter", "count"},
    "made": {"kind", "code", "name"},
    "compared": {"lots", "p"},
    "batches": {"batch", "numbers", "stuck", "left", "pots", "name"},
    "due": {"on", "what", "code", "name", "late"},
    "parents": {"code", "role", "certain"},
    "nodes": {"code", "kind", "name", "date", "status"},
    "edges": {"from", "to", "role", "certain"},
    "findings": {
        *("level", "unknown", "row", "plant", "record", "citation", "changes_on", "text"),
        *("certain", "changes", "settle", "ask"),
    },
    "rows": {"act", "name", "count", "count_text"},
}
STICK = (
    'stick "Hydrangea \'Lane Red\'" --owner "Nan Ashe" --leave yes --lot 10,soft --lot 6,firm'
    " --number B --open"
)


@pytest.fixture(scope="module")
def answers(shared_ortet):
    """One answer of each command, from a plant to pots of pots."""
    said = {"stick": shared_ortet.ask(STICK)}
    said["pot-up"] = shared_ortet.ask("pot-up B --count A=8,B=2 --place bench --number B-P")
    said["take"] = shared_ortet.ask("take B-P-1 --count 3 --open --number T")
    said["plant show"] = shared_ortet.ask("plant show B-P-1")
    said["trace"] = shared_ortet.ask("trace B-P-1")
    shared_ortet("look B --died B=4")
    said["batch show"] = shared_ortet.ask("batch show B")
    said["batch list"] = shared_ortet.ask("batch list")
    said["due"] = shared_ortet.ask("due")
    said["may"] = shared_ortet.ask("may sell B", expect=1)
    said["tally"] = shared_ortet.ask("tally")
    said["verify"] = shared_ortet.ask("verify")
    return said


def test_the_document_lists_the_keys_that_are_pinned_here():
    text = DOCUMENT.read_text(encoding="utf-8")
    rows = dict(
        re.findall(r"^\| `(stick|[a-z-]+(?: show| list)?)`[^|]*\| (.+) \|$", text, re.MULTILINE)
    )
    for command, keys in KEYS.items():
        words = set(re.findall(r"\w+", rows[command]))
        assert keys <= words, command
        for key in keys & PARTS.keys():
            if f"{key}[]" in rows[command] or command == "plant show":
                assert PARTS[key] <= words, (command, key)


@pytest.mark.parametrize("command", KEYS)
def test_a_command_answers_with_its_keys(answers, command):
    answer = answers[command]
    assert answer.keys() >= KEYS[command]
    for key, part in PARTS.items():
        for one in answer.get(key, ()) if key in KEYS[command] else ():
            assert one.keys() >= part


def test_taking_answers_as_sticking_does(answers):
    assert answers["take"].keys() == answers["stick"].keys()
    assert answers["take"]["made"] == []


def test_sticking_says_what_it_made_with_a_code_or_none(answers):
    made = [(one["kind"], one["code"], one["name"]) for one in answers["stick"]["made"]]
    assert made == [
        ("person", None, "Nan Ashe"),
        ("plant", "26-0001-001-8", "Hydrangea 'Lane Red'"),
    ]
    lots = [(one["letter"], one["count"]) for one in answers["stick"]["lots"]]
    assert lots == [("A", "10"), ("B", "6")]
    assert answers["stick"]["verdict"] == "unknown"
    assert [q["row"] for q in answers["stick"]["questions"]]


def test_a_plants_parents_are_plants_through_its_lot(answers):
    shown = answers["plant show"]
    assert shown["code"] == answers["pot-up"]["plants"][0]["code"]
    assert shown["parents"][0]["code"] == "26-0001-001-8"
    assert (shown["parents"][0]["role"], shown["parents"][0]["certain"]) == ("source", True)
    assert (shown["batch"], shown["place"]) == (answers["stick"]["batch"], "bench")
    assert (shown["status"], shown["received_as"]) == ("alive", None)
    assert shown["name"] == "Hydrangea ‘Lane Red’", "inherited, though it was received above"


def test_the_received_name_stands_on_what_was_received_only(shared_ortet, answers):
    assert shared_ortet.ask("plant show 1:1")["received_as"] == "Hydrangea 'Lane Red'"


def test_edges_run_from_parent_to_child_whichever_way_is_asked(shared_ortet, answers):
    potted = answers["pot-up"]["plants"][0]["code"]
    lot = answers["stick"]["lots"][0]["code"]
    taken = answers["take"]["lots"][0]["code"]
    expected = {
        ("26-0001-001-8", lot, "source"),
        (lot, potted, "raised"),
        (potted, taken, "source"),
    }
    ties = {(e["from"], e["to"], e["role"]) for e in answers["trace"]["edges"]}
    assert answers["trace"]["roots"] == [potted]
    assert ties == expected
    above = shared_ortet.ask("trace B-P-1 --up")["edges"]
    assert {(e["from"], e["to"], e["role"]) for e in above} == {
        ("26-0001-001-8", lot, "source"),
        (lot, potted, "raised"),
    }


def test_days_are_edtf(answers):
    days = {node["date"] for node in answers["trace"]["nodes"]}
    assert days <= {None, "2026-05-14"}


def test_a_trace_of_a_set_has_as_many_roots(shared_ortet, answers):
    potted = [one["code"] for one in answers["pot-up"]["plants"]]
    batch = answers["stick"]["batch"]
    assert shared_ortet.ask(f"trace {batch}:1,2,3 --up")["roots"] == potted[:3]


def test_a_finding_names_the_row_and_the_plant_where_the_record_sits(answers):
    rows = {finding["row"]: finding for finding in answers["may"]["findings"]}
    assert rows["A7"]["plant"] == "26-0001-001-8", "the neighbour's plant, not the pot"
    assert rows["A7"]["level"] == "unknown"
    assert {one["code"] for one in answers["may"]["plants"]} == {
        one["code"] for one in answers["pot-up"]["plants"]
    }


def test_a_tally_counts_in_numbers_and_says_them_in_text(answers):
    acts = {row["act"]: (row["count"], row["count_text"]) for row in answers["tally"]["rows"]}
    assert acts["stuck"] == (16, "16")
    assert acts["potted"] == (10, "10")


def test_a_sound_registry_has_no_problems(answers):
    assert (answers["verify"]["ok"], answers["verify"]["problems"]) == (True, [])


def test_a_code_that_one_command_prints_is_taken_by_every_other(shared_ortet, answers):
    lot, batch = answers["stick"]["lots"][0]["code"], answers["stick"]["batch"]
    for code in (lot, batch, answers["take"]["batch"], answers["take"]["lots"][0]["code"]):
        shared_ortet.ask(f"batch show {code}")
        shared_ortet.ask(f"trace {code} --up")
        shared_ortet(f"label text {code}")
    shared_ortet.ask(f"may give {lot}", expect=1)
    shared_ortet.ask(f"may give {batch}", expect=1)
