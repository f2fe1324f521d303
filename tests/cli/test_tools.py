"""Knives and trays at the bench, and recalls that begin with one, as a grower types them."""

from __future__ import annotations

import pytest


@pytest.fixture
def bench(ortet):
    """Three plants cut with one pair of secateurs, disinfected before the third was cut."""
    for line in (
        "plant add 'sick fuchsia' --how seed --number A --on 2025-01-01",
        "plant add 'tall sage' --how seed --number B --on 2025-01-01",
        "plant add 'black currant' --how seed --number C --on 2025-01-01",
        "stick A --count 6 --number AL --on 2025-06-12 --open --tool 'red secateurs'"
        " --tray 'tray 4'",
        "stick B --count 6 --number BL --on 2025-06-12 --open --tool 'Red Secateurs'",
        "tool clean 'red secateurs' --on 2025-06-12",
        "stick C --count 6 --number CL --on 2025-06-12 --open --tool 'red secateurs'",
        "stick C --count 6 --number DL --on 2025-06-20 --open --tool 'red secateurs'"
        " --tray 'tray 4'",
    ):
        ortet(line)
    return ortet


def codes(ortet, *numbers):
    return {ortet.ask(f"batch show {n}")["lots"][0]["code"] if n[-1] == "L" else
            ortet.ask(f"plant show {n}")["code"] for n in numbers}  # fmt: skip


def circle(ortet, line):
    found = ortet.ask(f"recall start {line} --reason rust")
    return {one["code"]: (one["why"], one["via"], one["widened"]) for one in found["lines"]
            if one["why"] != "source"}  # fmt: skip


def test_a_recall_of_a_tool_on_a_day_goes_on_until_it_was_disinfected(bench):
    found = circle(bench, "--tool 'red secateurs' --on 2025-06-12 --steps 0")
    assert set(found) == codes(bench, "A", "B", "C", "AL", "BL", "CL", "DL")
    (later,) = codes(bench, "DL")
    assert found[later] == ("start", None, ["cleaned"])
    bench("tool clean 'red secateurs' --on 2025-06-15")
    found = circle(bench, "--tool 'red secateurs' --on 2025-06-12 --steps 0")
    # The currant was cut on the day, so its later cuttings came of an exposed plant after all.
    assert found[later][0] == "descent"
    said = bench("recall show 1").out
    assert "no disinfecting in between is recorded" in said
    assert said.startswith("Recall 1: tool red secateurs on 12 June 2025. rust")


def test_a_recall_of_a_plant_follows_the_tool_and_stops_at_the_disinfecting(bench):
    found = circle(bench, "A --steps 1")
    a, al, b, bl, dl = ("A", "AL", "B", "BL", "DL")
    (mother,), (tray_lot,) = codes(bench, a), codes(bench, al)
    for code in codes(bench, b, bl):
        assert found[code] == ("tool", mother, [])
    (mate,) = codes(bench, dl)
    assert found[mate] == ("tray", tray_lot, [])
    assert not set(found) & codes(bench, "C", "CL")


def test_a_recall_of_a_tray_on_a_day(bench):
    found = circle(bench, "--tray 'tray 4' --on 2025-06-15 --steps 0")
    assert set(found) == codes(bench, "AL", "DL")
    bench("tool clean 'tray 4' --tray --on 2025-06-18")
    assert set(circle(bench, "--tray 'tray 4' --on 2025-06-15 --steps 0")) == codes(bench, "AL")


def test_pots_and_looks_name_tools_and_trays_too(bench):
    bench("look AL --rooted 6 --tool tweezers --on 2025-07-10")
    bench("look BL --rooted 6 --tool tweezers --cleaned --on 2025-07-10")
    bench("pot-up AL --count 2 --number AP --tray 'tray 9' --on 2025-07-20")
    said = bench("pot-on AP-1 --pot '1 litre' --tool trowel --on 2025-07-21").out
    assert "new on record: tool trowel" in said
    listed = bench.ask("tool list")["tools"]
    assert {(one["name"], one["kind"], one["uses"]) for one in listed} == {
        ("red secateurs", "tool", 4), ("tweezers", "tool", 2), ("trowel", "tool", 1),
        ("tray 4", "tray", 2), ("tray 9", "tray", 1),
    }  # fmt: skip
    assert {one["name"]: one["cleaned"] for one in listed}["tweezers"] == "10 July 2025"
    shown = bench.ask("tool show tweezers")["uses"]
    assert [(one["on"], one["cleaned"]) for one in shown] == [
        ("2025-07-10", True), ("2025-07-10", False),
    ]  # fmt: skip


def test_what_was_taken_is_cut_on_that_day_and_set_in_the_tray_later(bench):
    bench("take A --count 3 --number BAG --tool 'blue knife' --on 2025-08-01 --open")
    bench("stick BAG --tray 'tray 7' --on 2025-08-03")
    assert [one["on"] for one in bench.ask("tool show 'blue knife'")["uses"]] == ["2025-08-01"]
    assert [one["on"] for one in bench.ask("tool show 'tray 7'")["uses"]] == ["2025-08-03"]
    bench("stick B --count 2 --taken 2025-08-01 --tool 'blue knife' --on 2025-08-04 --open")
    used = bench.ask("tool show 'blue knife'")["uses"]
    assert [one["on"] for one in used] == ["2025-08-01", "2025-08-01"]


def test_what_was_taken_back_counts_no_longer(bench):
    bench("tool clean 'red secateurs' --on 2025-06-30")
    bench("correct last --void 'it was not cleaned'")
    assert bench.ask("tool list")["tools"][0]["cleaned"] == "12 June 2025"
    bench("stick C --count 2 --number EL --on 2025-07-01 --open --tool 'old knife'")
    bench("stick A --count 2 --on 2025-07-01 --open --tool 'old knife'")
    (lot,) = codes(bench, "EL")
    assert lot in circle(bench, "A --steps 1")
    bench("correct last --void 'started by a slip'")
    bench("correct last --void 'another knife'")
    assert lot not in circle(bench, "A --steps 1")
    assert bench.ask("verify")["ok"]


def test_a_tool_that_met_something_on_a_day_without_an_act_still_carries_on(bench):
    """The knife was lent out that day; nothing was cut here, and nothing was disinfected."""
    found = circle(bench, "--tool 'red secateurs' --on 2025-06-01 --steps 0")
    assert {why for why, _, _ in found.values()} == {"start"}
    assert all(widened == ["cleaned"] for _, _, widened in found.values())


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("recall start --tool 'green knife' --on 2025-06-12 --reason rust", "red secateurs"),
        ("recall start --tool 'red secateurs' --reason rust", "--on"),
        ("recall start --tray 'red secateurs' --on 2025-06-12 --reason rust", "No tray called"),
        ("recall start A --tool 'red secateurs' --on 2025-06-12 --reason rust", "Say what"),
        ("recall start --tool 'red secateurs' --on 2025-06-21 --reason rust", "Nothing on record"),
        ("tool clean nothing", "No tool called 'nothing'"),
        ("tool clean ''", "empty"),
        ("tool show '  '", "empty"),
        ("stick A --count 3 --tool ' ' --open", "empty"),
        ("stick A --count 3 --cleaned --open", "--cleaned needs"),
    ],
    ids=["unknown", "no day", "kind", "two starts", "after", "clean", "blank", "show", "use",
         "cleaned alone"],
)  # fmt: skip
def test_what_is_wrong_is_refused_and_nothing_is_written(bench, line, words):
    assert words in bench.refused(line)
