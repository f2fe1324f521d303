"""The traceability questions of Regulation (EU) 2016/2031, each answered by a named command.

Articles 69 and 70 as consolidated to 6 July 2026. A trade unit is here a lot or a pot.
"""

from __future__ import annotations

import pytest


@pytest.fixture(scope="module")
def operator(shared_ortet):
    """Plants bought from a trader, multiplied, moved within the premises, and sold to a trader."""
    for line in (
        "person add 'Green Barn' --trade",
        "person add 'Weir Nursery' --trade --contact 'weir@example.org'",
        "receive \"Lavandula angustifolia 'Munstead'\" --from 'Green Barn' --how bought"
        " --number GB-77 --place 'receiving bench' --on 2024-03-01",
        "stick GB-77 --count 6 --number L24 --place 'mist bench' --on 2024-06-12 --open",
        "plant move GB-77 --to 'stock bed' --on 2024-06-20",
        "plant move L24 --to tunnel --on 2024-07-10",
        "pot-up L24 --count 6 --number L24-P --place 'standing ground' --on 2024-08-01",
        "sell L24-P-1 L24-P-2 --to 'Weir Nursery' --price '4 USD' --on 2025-04-01"
        " --anyway 'looked up by telephone'",
        "plant move L24-P-3 --to 'shade house' --on 2025-04-02",
        "sell L24 --count 1 --to 'Weir Nursery' --price '4 USD' --on 2025-04-03"
        " --anyway 'looked up by telephone'",
    ):
        shared_ortet(line)
    return shared_ortet


def test_69_1_who_supplied_a_unit(operator):
    """Art. 69(1): for each trade unit received, the professional operator who supplied it."""
    assert operator.ask("plant show GB-77")["source"] == "Green Barn"
    start = operator.ask("trace L24-P-3 --up")
    top = max(start["nodes"], key=lambda node: -node["depth"])
    assert operator.ask(f"plant show {top['code']}")["source"] == "Green Barn"


def test_69_1_every_unit_that_a_supplier_supplied(operator):
    """The same asked the other way round, with all that was raised from it."""
    found = operator.ask("recall start --supplier 'Green Barn' --reason enquiry --steps 0")
    assert sum(line["kind"] == "plant" for line in found["lines"]) == 7


def test_69_2_who_was_supplied_with_a_unit(operator):
    """Art. 69(2): for each trade unit supplied, the professional operator who received it."""
    found = operator.ask("trace GB-77 --down --released")
    asked = [node for node in found["nodes"] if node["asked_for"]]
    assert {node["went_to"] for node in asked if node["kind"] == "plant"} == {"Weir Nursery"}
    # A third went by count: its lot is told, and the recall's line says to whom.
    assert [node["gone_not_said"] for node in asked if node["kind"] == "lot"] == [1]
    tally = operator.ask("tally --year 2025 --by recipient")
    assert [(row["act"], row["name"], row["count"]) for row in tally["rows"]] == [
        ("sold", "Weir Nursery", 3)
    ]


def test_69_2_how_the_receivers_are_reached(operator, tmp_path):
    """What an authority asks for first in an outbreak: receivers, dates, numbers."""
    found = operator.ask("recall start GB-77 --reason enquiry --steps 0")
    away = [line for line in found["lines"] if line["to"]]
    assert [(line["to"], line["contact"], line["left_on"], line["count"]) for line in away] == [
        ("Weir Nursery", "weir@example.org", "2025-04-01", 1),
        ("Weir Nursery", "weir@example.org", "2025-04-01", 1),
        ("Weir Nursery", "weir@example.org", "2025-04-03", 1),
    ]
    operator(f"recall export {found['recall']} {tmp_path}/receivers.csv")
    assert "weir@example.org" in (tmp_path / "receivers.csv").read_text(encoding="utf-8-sig")


def test_69_4_records_are_kept(operator):
    """Art. 69(4): kept for at least three years. Nothing is ever deleted, and it can be checked."""
    assert operator.ask("verify")["ok"]


def test_70_where_plants_stand_now(operator):
    """Art. 70(1): where everything of one supply stands within the premises."""
    places = {node["code"]: node["place"] for node in operator.ask("trace GB-77 --down")["nodes"]}
    assert set(places.values()) >= {"stock bed", "standing ground", "shade house"}


@pytest.mark.parametrize(
    ("asked", "stood", "place"),
    [
        ("plant show GB-77", [("receiving bench", "2024-03-01", "2024-06-20")], "stock bed"),
        ("batch show L24", [("mist bench", "2024-06-12", "2024-07-10")], "tunnel"),
        ("plant show L24-P-3", [("standing ground", "2024-08-01", "2025-04-02")], "shade house"),
    ],
)
def test_70_every_move_of_a_unit_with_its_day(operator, asked, stood, place):
    """Art. 70(1): movements of plants within and between an operator's own premises."""
    found = operator.ask(asked)
    assert [(one["place"], one["from"], one["until"]) for one in found["stood"]] == stood
    assert found["place"] == place
    assert stood[0][0] in operator(asked).out
    assert stood[0][0] in operator(f"{asked} --history").out


@pytest.mark.parametrize(
    ("place", "kinds"), [("mist bench", ["lot"]), ("tunnel", []), ("standing ground", [])]
)
def test_70_what_stood_in_a_place_on_a_day(operator, place, kinds):
    """The same asked of a place: the cuttings stood there then; the pots came later, elsewhere."""
    line = f"recall start --place '{place}' --on 2024-07-01 --reason enquiry --steps 0"
    if not kinds:
        assert "Nothing on record is exposed" in operator.refused(line)
        return
    on_a_day = operator.ask(line)
    assert [line["kind"] for line in on_a_day["lines"] if line["why"] == "start"] == kinds
