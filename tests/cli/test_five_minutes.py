"""The path of the first five minutes, as the README shows it, in any year."""

from __future__ import annotations

from datetime import UTC, datetime

import pypdfium2
import pytest
import zxingcpp

PATH = (
    'init --grower "Jo Field" --country US --region US-OR',
    'stick "red hydrangea, side gate" --owner "Nan Ashe" --leave yes --said "help yourself"'
    " --lot 10,soft --lot 6,firm --medium perlite --open",
    "label print last --out card.pdf",
    "look last --rooted A=8,B=2 --callused B=4 --died A=2",
    "pot-up last --count A=8,B=2 --labels pots.pdf",
    "trace last --up",
)
YEARS = [2026, 2031]


@pytest.fixture(params=YEARS)
def typed(request, nowhere):
    """The answers of the path, typed in the spring of a year."""
    ortet = nowhere.at(datetime(request.param, 5, 14, 10, tzinfo=UTC))
    return ortet, request.param % 100, [ortet(line).out for line in PATH]


def symbols(path):
    """What every symbol of a PDF says, read from its pages at 300 dpi."""
    read = []
    with pypdfium2.PdfDocument(path) as document:
        for page in document:
            picture = page.render(scale=300 / 72).to_pil().convert("L")
            read += [found.text for found in zxingcpp.read_barcodes(picture)]
    return read


def test_every_line_of_the_path_answers_and_both_papers_can_be_read(typed):
    ortet, year, (made, stuck, _, looked, potted, trace) = typed
    assert str(ortet.path) in made
    assert f"{year}-0002" in stuck
    assert "8 rooted, 2 died, 8 left of 10" in looked
    assert "10 pots" in potted
    assert "red hydrangea, side gate" in trace

    (card,) = symbols(ortet.folder / "card.pdf")
    assert f"{year}-0002" in card
    pots = symbols(ortet.folder / "pots.pdf")
    numbers = [f"{year}-0002-{number:03}-" for number in range(1, 11)]
    assert len(pots) == 10
    assert all(any(number in text for text in pots) for number in numbers)
    assert all(f"from {year}-0001-001-" in text for text in pots)
    assert not any("Nan" in text for text in pots), "no person on a label"


def test_giving_the_new_pots_is_not_known_and_says_whom_to_ask(typed):
    ortet, _, _ = typed
    answer = ortet("may give last", expect=1)
    assert answer.out.startswith("UNKNOWN")
    assert "A7" in answer.out
    assert "Nan Ashe" in answer.out


def test_the_pots_know_their_source_their_batch_and_that_leave_was_had(typed):
    ortet, year, _ = typed
    shown = ortet.ask("plant show 2:1")
    assert shown["received_as"] is None
    assert shown["name"] == "red hydrangea, side gate"
    assert [(p["role"], p["certain"]) for p in shown["parents"]] == [("source", True)]
    assert shown["batch"].startswith(f"{year}-0002-")
    again = ortet.ask("may propagate 1:1", expect=1)
    assert again["verdict"] == "unknown", "what it is, nobody has said"
    assert "A3" in [finding["row"] for finding in again["findings"]]
