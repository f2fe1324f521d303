"""The demo's story comes out as it is told: replayed here, asked, and checked from end to end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from registry.ids import uuid7
from tests.conftest import MOMENT
from tests.typed import Ortet

DEMO = Path(__file__).parents[2] / "demo"
DOCS = Path(__file__).parents[2] / "docs"

TELLING = {
    # plant: (act, verdict, row that decides it)
    "NAN25-P-2": ("sell", "barred", "A6"),
    "NAN25B-P-1": ("sell", "barred", "A6"),
    "OWN25-P-2": ("sell", "clear", "B34"),
    "GARDEN-P-3": ("sell", "conditional", "A3"),
    "PAT-1": ("propagate", "barred", "B1"),
    "WHO-P-1": ("sell", "unknown", "C12"),
    "WILD-P-2": ("sell", "unknown", "A7"),
    "LAV-P-2": ("sell", "conditional", "B41"),
}


@pytest.fixture(scope="module")
def hollow_lane(tmp_path_factory):
    """The registry after both seasons, asked in May 2026."""
    folder = tmp_path_factory.mktemp("hollow-lane")
    ortet = Ortet(folder / "registry.sqlite", MOMENT, uuid7)
    ortet("init --grower 'June Alder' --country US --region US-OR --began 2024-03-01")
    for season in ("2024-season.txt", "2025-season.txt"):
        ortet("bench", str(DEMO / season))
    return ortet


def test_the_story_is_as_large_as_it_says(hollow_lane):
    plants = hollow_lane.ask("plant list --most 1000")["plants"]
    batches = hollow_lane.ask("batch list --all")["batches"]
    assert len(batches) >= 15
    assert sum(batch["pots"] for batch in batches) >= 120
    assert len(plants) >= 120 + 12


@pytest.mark.parametrize(("plant", "expected"), TELLING.items(), ids=list(TELLING))
def test_a_telling_plant_has_the_verdict_of_its_story(hollow_lane, plant, expected):
    act, verdict, row = expected
    answer = hollow_lane.ask(
        f"may {act} {plant}", expect=0 if verdict in ("clear", "conditional") else 1
    )
    assert answer["verdict"] == verdict
    assert row in {finding["row"] for finding in answer["findings"]}


def test_a_no_two_generations_up_names_the_consent_and_the_ancestor(hollow_lane):
    """Row A6 through two generations is A6, and says whose word it is and on which plant."""
    answer = hollow_lane.ask("may sell NAN25-P-2", expect=1)
    (no,) = [finding for finding in answer["findings"] if finding["row"] == "A6"]
    assert no["level"] == "barred"
    assert no["plant"] == hollow_lane.ask("plant show NAN-1")["code"]
    assert "consent" in no["record"]
    assert "Nan Ashe" in no["text"]


def test_the_trace_ends_at_the_neighbours_plant(hollow_lane):
    trace = hollow_lane.ask("trace NAN25B-P-1 --up")
    children = {edge["to"] for edge in trace["edges"]}
    founders = [node["code"] for node in trace["nodes"] if node["code"] not in children]
    assert founders == [hollow_lane.ask("plant show NAN-1")["code"]]


def test_a_name_put_right_at_the_source_is_right_three_generations_down(hollow_lane):
    assert hollow_lane.ask("plant show NAN25B-P-1")["name"] == (
        "Hydrangea macrophylla ‘Ashe Red’"
    )


def test_the_tally_of_a_year_counts_what_was_sold_and_given(hollow_lane):
    """Counted by hand in the story: 6 + 8 + 5 sold, 1 given, 1 swapped, 1 received."""
    rows = hollow_lane.ask("tally --year 2025")["rows"]
    sums: dict[str, int] = {}
    for row in rows:
        sums[row["act"]] = sums.get(row["act"], 0) + row["count"]
    assert {act: sums[act] for act in ("sold", "given", "swapped", "received")} == {
        "sold": 19,
        "given": 1,
        "swapped": 1,
        "received": 1,
    }


def test_the_whole_record_verifies(hollow_lane):
    assert hollow_lane.ask("verify") == {**hollow_lane.ask("verify"), "ok": True, "problems": []}


def test_the_page_on_the_demo_has_the_same_table():
    """docs/demo.md is read by growers; its table of verdicts is the one tested here."""
    text = (DOCS / "demo.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `(\S+)` \| `(\w+)` \| (\w+) \| (\w+) \|", text, re.MULTILINE)
    assert {plant: (act, verdict, row) for plant, act, verdict, row in rows} == TELLING


