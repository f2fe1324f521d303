"""Hostile text that was recorded goes out as text, in every kind of file that is made."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from xml.etree import ElementTree

import networkx as nx
import prov.model
import pypdf
import pytest

from registry.domain.signs import unfit
from registry.exchange.graphs import FORMULA_SIGNS
from tests.faults import hostile
from tests.faults.places import Place, fresh

DRAWN = {"svg", "title", "rect", "text", "line", "path", "g", "polyline", "circle", "polygon"}
"""Elements of the pictures we draw (SVG 2); none runs or fetches anything."""


TEXTS = [
    hostile.FIT[name]
    for name in (
        "formula =", "formula +", "formula @", "svg", "xml", "pdf", "dot", "json",
        "printer", "lines",
    )
]  # fmt: skip


@pytest.fixture(scope="module")
def taken(tmp_path_factory):
    """A registry whose plants, places, people and reasons bear hostile words, where they may."""
    place = fresh(tmp_path_factory.mktemp("taken"))
    place.run("plant", "add", "Rosa", "--owner", "me", "--number", "F1")
    place.run("stick", "F1", "--count", "60", "--number", "B1", "--open")
    place.run("pot-up", "B1", "--count", "2", "--number", "P")
    taken = 0
    for at, text in enumerate(TEXTS):
        for call in (
            ("plant", "add", text, "--owner", "me", "--number", f"N{at}"),
            ("plant", "add", f"Hydrangea{at}", "--owner", text, "--number", f"H{at}"),
            ("stick", f"H{at}", "--count", "9", "--number", text, "--place", text, "--open"),
            ("pot-up", "B1", "--count", "1", "--pot", text, "--place", text),
            ("give", "B1", "--count", "1", "--to", text, "--purpose", "private", "--open"),
            ("recall", "start", "B1", "--reason", text),
            ("recall", "tick", "1", "B1", "--found", "sound", "--note", text),
        ):
            taken += place.run(*call).exit == 0
    assert taken > 4 * len(TEXTS)
    place.check()
    return place


@pytest.fixture
def place(taken, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return Place(shutil.copy(taken.path, tmp_path / "registry.sqlite"))


def made(place, *words):
    said = place.run(*words)
    assert said.exit == 0, said
    return said.out


@pytest.mark.parametrize("seed", ["F1", "B1"])
def test_a_family_as_csv_runs_no_formula(place, seed):
    rows = list(csv.reader(io.StringIO(made(place, "trace", seed, "--as", "csv")), strict=True))
    assert len({len(row) for row in rows}) == 1
    for row in rows[1:]:
        for cell in row:
            # A generation above is a number below zero, which no spreadsheet takes for a formula.
            assert not cell.startswith(FORMULA_SIGNS) or re.fullmatch(r"-\d+", cell), row


def test_a_recall_as_csv_runs_no_formula(place):
    made(place, "recall", "export", "1", "list.csv")
    text = place.path.with_name("list.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.reader(io.StringIO(text), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert not [cell for row in rows for cell in row if cell.startswith(FORMULA_SIGNS)]


def test_a_family_as_a_graph_is_one_for_networkx(place):
    graph = nx.parse_graphml(made(place, "trace", "B1", "--as", "graphml"))
    assert len(graph) >= 2
    assert all(re.fullmatch(r"[\d-]+[A-Z]*-[\dX]", code) for code in graph)


def test_a_family_in_dot_has_no_statement_but_ours(place):
    """What is not within quotes is ours alone (the language's grammar: ID, double-quoted)."""
    bare = re.sub(r'"(?:[^"\\]|\\.)*"', "Q", made(place, "trace", "B1", "--as", "dot"), flags=re.S)
    for line in bare.splitlines():
        assert re.fullmatch(
            r"digraph lineage \{|  rankdir=LR;|  node \[fontname=Q\];|\}"
            r"|  Q \[label=Q, shape=(box|note)\];|  Q -> Q \[label=Q(, style=dashed)?\];",
            line,
        ), line


def test_a_family_as_provenance_is_read_by_prov(place):
    text = made(place, "trace", "B1", "--as", "prov")
    assert prov.model.ProvDocument.deserialize(content=text, format="json").get_records()


@pytest.mark.parametrize(
    "call",
    [
        ("trace", "B1", "--chart"),
        ("trace", "--clones", "--chart"),
        ("label", "print", "26-0002-001-3", "--out"),
    ],
)
def test_a_picture_has_no_element_that_runs_or_fetches(place, call):
    made(place, *call, "a.svg")
    for element in ElementTree.parse(place.path.with_name("a.svg")).iter():  # noqa: S314 - ours
        assert element.tag.partition("}")[2] in DRAWN
        assert not [name for name in element.attrib if name.startswith("on") or "href" in name]


@pytest.mark.parametrize(
    "call",
    [("recall", "export", "1"), ("trace", "B1", "--chart"), ("label", "print", "B1", "--out")],
)
def test_a_pdf_has_no_action(place, call):
    made(place, *call, "a.pdf")
    reader = pypdf.PdfReader(place.path.with_name("a.pdf"), strict=True)
    content = place.path.with_name("a.pdf").read_bytes()
    assert all(page.extract_text() is not None for page in reader.pages)
    assert not re.search(rb"/(JavaScript|JS|Launch|URI|OpenAction|AA|EmbeddedFile)\b", content)


def test_a_printer_is_told_nothing_but_our_formats(place):
    numbers = [f"N{at}" for at in range(len(TEXTS))]
    printed = 0
    for number in numbers:
        said = place.run("label", "print", number, "--out", "a.zpl", "--stock", "stake-16x150")
        if said.exit == 0:
            text = place.path.with_name("a.zpl").read_text()
            printed += 1
            assert (text.count("^XA"), text.count("^XZ")) == (1, 1)
            ours = "^XA ^XZ ^CI ^PW ^LL ^FO ^A0 ^FH ^FD ^FS ^GB ^BQ"
            assert set(re.findall(r"[\^~][A-Z0-9]{2}", text)) <= set(ours.split()), text
    assert printed


@pytest.mark.parametrize(
    "call",
    [
        ("plant", "list", "--most", "999"), ("plant", "show", "F1"), ("person", "list"),
        ("place", "list"), ("batch", "list", "--all"), ("trace", "B1"), ("due", "--questions"),
        ("tally", "--by", "recipient"), ("recall", "show", "1"), ("recall", "list"),
    ],
)  # fmt: skip
def test_an_answer_steers_no_terminal_and_is_json(place, call):
    assert unfit(made(place, *call)) is None
    json.loads(made(place, *call, "--json"))
