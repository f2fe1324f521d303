"""Following a lineage on the command line: up, down, across, narrowed, exported, drawn."""

from __future__ import annotations

import csv
import io
import json
from xml.etree import ElementTree as ET

import networkx as nx
import prov.model
import pypdf
import pytest

from tests import homes

STORY = (
    'plant add "red hydrangea" --owner "Nan Ashe" --number NAN-1 --on 2024-05-01',
    "stick NAN-1 --count 5 --number N24 --place 'mist bench' --on 2024-06-12 --open",
    "pot-up N24 --count 4 --number N24-P --place 'standing ground' --on 2024-08-01",
    "stick N24-P-1 --count 3 --number N25 --place 'mist bench' --on 2025-06-24 --open",
    "pot-up N25 --count 2 --number N25-P --place 'cold frame' --on 2025-08-01",
    "give N24-P-2 --to 'Tom Birch' --purpose private --on 2025-09-14 --open",
    'plant add "brown fig" --owner me --number FIG-1 --on 2024-05-01',
)
"""Nan's hydrangea, a batch with four pots, one given and one struck again."""


@pytest.fixture(scope="module")
def nursery(shared_ortet):
    for line in STORY:
        shared_ortet(line)
    return shared_ortet


def codes(answer, **wanted):
    return {
        node["code"]
        for node in answer["nodes"]
        if all(node[key] == value for key, value in wanted.items())
    }


def code(nursery, number):
    return nursery.ask(f"plant show {number}")["code"]


def test_every_line_has_depth_generation_and_role(nursery):
    found = nursery.ask("trace N25-P-1 --up")
    by_code = {node["code"]: node for node in found["nodes"]}
    mother = by_code[code(nursery, "NAN-1")]
    assert (mother["depth"], mother["generation"]) == (-4, -2)
    assert by_code[code(nursery, "N24-P-1")]["generation"] == -1
    said = nursery("trace N25-P-1 --up --as table").out
    assert said.splitlines()[0].split() == [
        "gen", "depth", "code", "role", "what", "place", "status", "name",
    ]  # fmt: skip
    assert any(line.startswith("-2 ") and "source" in line for line in said.splitlines())
    assert "generation -2" in nursery("trace N25-P-1 --up").out


def test_a_tree_says_where_what_left_went(nursery):
    out = nursery("trace NAN-1 --down").out
    assert "given to Tom Birch 14 September 2025" in out
    lines = out.splitlines()
    for number in ("+1", "+2"):
        said = [line for line in lines if f"generation {number}" in line]
        assert said, out
        assert all("(lot)" in line for line in said), "the pots below are of the same generation"


def test_kin_are_of_the_same_clone_whichever_one_is_asked(nursery):
    from_top = codes(nursery.ask("trace NAN-1 --kin"))
    from_pot = codes(nursery.ask("trace N25-P-2 --kin"))
    assert from_top == from_pot
    assert len(codes(nursery.ask("trace N25-P-2 --kin"), kind="plant")) == 7
    assert code(nursery, "FIG-1") not in from_top


def test_a_trace_is_narrowed(nursery):
    given = nursery.ask("trace NAN-1 --down --released")
    assert codes(given, asked_for=True) == {code(nursery, "N24-P-2")}
    frame = nursery.ask("trace NAN-1 --down --place 'cold frame'")
    assert codes(frame, asked_for=True) == {code(nursery, "N25-P-1"), code(nursery, "N25-P-2")}
    late = nursery.ask("trace NAN-1 --down --from 2025-01-01 --to 2025-12-31")
    # The mother's beginning is not known, so she may have begun then.
    expected = {code(nursery, number) for number in ("NAN-1", "N25-P-1", "N25-P-2")}
    assert codes(late, asked_for=True, kind="plant") == expected
    alive = nursery.ask("trace NAN-1 --down --alive")
    assert code(nursery, "N24-P-2") not in codes(alive, asked_for=True)


def test_a_tree_says_where_each_stands_and_what_only_leads_there(nursery):
    told = nursery("trace NAN-1 --down --place 'cold frame'").out.splitlines()
    pots = [line for line in told if "cold frame" in line and "2 plants" in line]
    assert len(pots) == 1
    assert "on the way" not in pots[0]
    assert told[0].endswith("on the way")
    assert nursery("trace FIG-1 --released").out.strip() == "Nothing on record answers that."


def test_pots_of_which_no_place_was_said_stand_where_their_batch_does(ortet):
    ortet('plant add "white sage" --owner me --number A --on 2024-05-01')
    ortet("stick A --count 3 --number L --place tunnel --on 2024-06-01 --open")
    ortet("pot-up L --count 2 --number P --on 2024-07-01")
    ortet("plant move P-2 --to 'cold frame' --on 2024-08-01")
    here = ortet.ask("trace A --down --place tunnel --alive")
    assert codes(here, asked_for=True, kind="plant") == {code(ortet, "P-1")}
    places = {node["code"]: node["place"] for node in ortet.ask("trace A")["nodes"]}
    worklist = ortet.ask("recall start A --reason rust --steps 0")["lines"]
    for number, place in (("P-1", "tunnel"), ("P-2", "cold frame")):
        listed = next(line for line in worklist if line["code"] == code(ortet, number))
        assert places[code(ortet, number)] == listed["place"] == place


def test_where_two_lines_meet(nursery):
    found = nursery.ask("trace N24-P-2 --with N25-P-1")
    assert found["one_clone"] == "yes"
    assert len(found["nearest"]) == 1
    assert "They are one clone." in nursery("trace N24-P-2 --with N25-P-1").out
    apart = nursery("trace NAN-1 --with FIG-1").out
    assert "no ancestor in common" in apart
    assert "not one clone" in apart


def test_the_forms_are_read_by_others(nursery):
    rows = list(csv.DictReader(io.StringIO(nursery("trace NAN-1 --down --as csv").out)))
    assert len(rows) == len(nursery.ask("trace NAN-1 --down")["nodes"])
    graph = nx.parse_graphml(nursery("trace NAN-1 --down --as graphml").out)
    assert nx.is_directed_acyclic_graph(graph)
    assert len(graph) == len(rows)
    assert nursery("trace NAN-1 --down --as dot").out.startswith("digraph lineage {")
    document = prov.model.ProvDocument.deserialize(
        content=nursery("trace NAN-1 --down --as prov").out, format="json"
    )
    assert len(list(document.get_records(prov.model.ProvEntity))) == len(rows)


def test_a_chart_is_drawn_whole_or_not_at_all(nursery, tmp_path):
    svg = tmp_path / "family.svg"
    said = nursery(f"trace NAN-1 --down --chart {svg} --may sell").out
    assert said.startswith(f"{svg}: ")
    texts = [element.text for element in ET.fromstring(svg.read_text()).iter() if element.text]  # noqa: S314 - ours
    assert any("be sold" in text for text in texts)
    assert any("red hydrangea" in text for text in texts)
    pdf = tmp_path / "family.pdf"
    nursery(f"trace N25-P-1 --up --chart {pdf}")
    assert "Where" in pypdf.PdfReader(pdf).pages[0].extract_text()
    assert {file.name for file in tmp_path.iterdir()} == {"family.svg", "family.pdf"}
    assert "ends in .svg or .pdf" in nursery.refused(f"trace NAN-1 --chart {tmp_path}/family.png")
    nowhere = tmp_path / "nowhere" / "family.svg"
    nursery.refused(f"trace NAN-1 --chart {nowhere}")


def test_pots_that_went_by_count_are_said_wherever_their_lot_is(ortet):
    """Six of the hydrangea's plants stand by their codes; of them two were sold by count."""
    for line in STORY:
        ortet(line)
    ortet("sell N24 --count 2 --price '8 USD' --anyway 'before her leave was read'")
    lot = next(one for one in ortet.ask("trace NAN-1 --down")["nodes"] if one["kind"] == "lot")
    assert lot["gone_not_said"] == 2
    said = ortet("trace NAN-1 --down --released").out
    assert "2 of its pots gone, not said which" in said
    clone = next(
        one for one in ortet.ask("trace --clones")["clones"] if one["name"] == "red hydrangea"
    )
    assert (clone["plants"]["alive"], clone["gone_not_said"]) == (6, 2)
    line = next(row for row in ortet("trace --clones").out.splitlines() if "red hydrangea" in row)
    assert line.split()[1:3] == ["7", "4"]  # plants, alive


def test_the_whole_registry_by_clone(nursery, tmp_path):
    found = nursery.ask("trace --clones")
    by_name = {one["name"]: one for one in found["clones"]}
    assert by_name["red hydrangea"]["plants"] == {"alive": 6, "given": 1}
    assert "red hydrangea" in nursery("trace --clones").out
    nursery(f"trace --clones --chart {tmp_path}/all.pdf")
    assert (tmp_path / "all.pdf").stat().st_size


def test_the_overview_has_seedlings_and_what_may_be_of_either(ortet):
    """Twelve seedlings, two cuttings of the first, a fig, a rose, and one that is either's."""
    ortet("plant add \"Rosa 'Lane Lantern'\" --owner me --number ROSE")
    ortet("plant add fig --owner me --number FIG")
    ortet("sow --seed-parent ROSE --count 20 --number SEED --on 2025-03-01 --open")
    ortet("pot-up SEED --count 12 --number S --on 2025-06-01")
    ortet("stick S-1 --count 5 --number CUT --on 2026-03-01 --open")
    ortet("pot-up CUT --count 2 --on 2026-05-01")
    ortet("plant orphan STRAY --from ROSE --from FIG")
    found = {one["name"]: one for one in ortet.ask("trace --clones")["clones"]}
    seedlings = found["seedling of Rosa ‘Lane Lantern’"]
    assert (seedlings["plants"], seedlings["lots"], seedlings["in_bench"]) == ({"alive": 14}, 2, 11)
    assert found["Rosa ‘Lane Lantern’"]["plants"] == {"alive": 1}
    assert found["fig"]["plants"] == {"alive": 1}
    either = found["Rosa ‘Lane Lantern’ or fig"]
    assert either["plants"] == {"alive": 1}
    assert either["code"] == "26-0001-001-8 or 26-0002-001-3"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("trace", "--clones for the whole registry"),
        ("trace NAN-1 --kin --up", "one of --up and --down"),
        ("trace NAN-1 --place nowhere", "nowhere"),
        ("trace NAN-1 --with nothing-7", "nothing-7"),
        ("trace --clones NAN-1", "no code"),
        ("trace --clones --as csv", "--clones and --as do not go together"),
        ("trace --clones --alive", "--clones and --alive do not go together"),
        ("trace NAN-1 --with FIG-1 --alive", "--with and --alive do not go together"),
        ("trace NAN-1 --with NAN-1", "another plant or lot"),
        ("trace NAN-1 --may sell", "--chart FILE beside it"),
    ],
)
def test_what_cannot_be_asked_is_refused(nursery, line, said):
    assert said in nursery.refused(line)


def test_a_plant_without_any_record_up_is_its_own_answer(nursery):
    found = nursery.ask("trace FIG-1 --up")
    assert [node["code"] for node in found["nodes"]] == found["roots"]
    assert found["edges"] == []


def test_a_circle_written_behind_the_back_is_named_and_not_looped_on(ortet):
    ortet('plant add "red hydrangea" --owner me --number A --on 2024-05-01')
    ortet("stick A --count 1 --number L --on 2024-06-01 --open")
    ortet("pot-up L --count 1 --number P --on 2024-07-01")
    homes.edit(
        ortet.path,
        "INSERT INTO edge (parent_id, child_id, role, clonal, seq)"
        " SELECT max(id), min(id), 'source', true, 1 FROM node",
    )
    for line in ("trace A", "trace P --kin", "trace A --with P", "trace A --as table"):
        answer = ortet(line)
        assert "This cannot be" in answer.err
        assert "ortet verify" in answer.err
    assert len(ortet("trace A", "--json").json["circles"][0]) == 3


def test_prov_names_those_who_agreed_and_numbers_the_others(ortet):
    for line in (
        "person add 'Nan Ashe' --share",
        "person add 'Tom Birch'",
        "plant add 'red hydrangea' --how given --source 'Nan Ashe' --number H --on 2024-05-01",
        "stick H --count 3 --number HL --open --on 2024-06-12",
        "pot-up HL --count 2 --number HP --on 2024-07-20",
        "give HP-1 --to 'Tom Birch' --purpose private --open --on 2025-05-01",
    ):
        ortet(line)
    content = json.loads(ortet("trace H --down --as prov").out)
    assert {agent.get("prov:label") for agent in content["agent"].values()} == {"Nan Ashe", None}
    parts = [one["ortet:role"] for one in content["wasAssociatedWith"].values()]
    assert {"did", "giver", "sender", "receiver"} <= set(parts)
    assert "Tom Birch" not in json.dumps(content)
    assert "Jo Field" not in json.dumps(content)
