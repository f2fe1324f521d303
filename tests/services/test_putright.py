"""Slips are taken back: what was recorded stays beside, and balances are as if it had not been."""

from __future__ import annotations

import pytest

STICK = 'stick "red hydrangea" --owner me --lot 10,soft --lot 6,firm --number B --open'


@pytest.fixture
def bench(ortet):
    ortet(STICK)
    return ortet


def take_back(ortet, what="last"):
    return ortet(f'correct {what} --void "typed twice"')


def left(ortet):
    return [lot["left_text"] for lot in ortet.ask("batch show B")["lots"]]


@pytest.mark.parametrize(
    "line",
    [
        "look B --died A=2",
        "look B --died 3",
        "pot-up B --count A=4,B=1",
        "pot-up B --count 5",
        "split B1 --into 4",
        "stick --again B1 --count 3",
        "recount B1 7",
        "merge B1=2 B2=3",
        "batch close B --rest lost",
        "batch close B2 --rest culled",
    ],
)
def test_a_bench_is_as_it_was_when_the_last_act_is_taken_back(bench, line):
    lots = [lot["code"] for lot in bench.ask("batch show B")["lots"]]
    words = line.replace("B1", lots[0]).replace("B2", lots[1])
    before = bench.ask("batch show B")
    bench(words)
    assert bench.ask("batch show B") != before
    take_back(bench)
    after = bench.ask("batch show B")
    assert after == before
    assert bench.ask("verify")["ok"]
    bench(words)


def test_pots_that_were_taken_back_are_gone_from_every_answer_and_their_codes_are_not_reused(bench):
    first = bench.ask("pot-up B --count A=2")["plants"]
    take_back(bench)
    assert bench.ask("batch show B")["plants"] == []
    codes = {node["code"] for node in bench.ask("trace B --down")["nodes"]}
    assert not codes & {one["code"] for one in first}
    assert bench.ask("plant list --name hydrangea")["plants"][0]["code"] == "26-0001-001-8"
    assert "potted" not in {row["act"] for row in bench.ask("tally")["rows"]}
    again = bench.ask("pot-up B --count A=2")["plants"]
    assert not {one["code"] for one in again} & {one["code"] for one in first}


def test_a_sale_that_was_taken_back_leaves_the_plant_alive(bench):
    bench("pot-up B --count A=1 --number KP")
    bench('sell KP --to "Bram Holt" --anyway "he asked"')
    assert bench.ask("plant show KP")["status"] == "sold"
    take_back(bench)
    assert bench.ask("plant show KP")["status"] == "alive"
    assert "sold" not in {row["act"] for row in bench.ask("tally")["rows"]}


def test_an_entry_that_later_ones_lean_on_is_not_taken_back_before_them(bench):
    bench("pot-up B --count A=2")
    before = bench.head()
    refused = bench('correct 2 --void "wrong"', expect=2)
    assert "3" in refused.err
    assert (refused.out, bench.head()) == ("", before)
    take_back(bench, "3")
    take_back(bench, "2")
    assert bench.ask("batch list --all")["batches"] == []


@pytest.mark.parametrize("what", ["1", "99", "x", "2"])
def test_what_cannot_be_taken_back_is_refused(bench, what):
    take_back(bench, "2")
    before = bench.head()
    refused = bench(f'correct {what} --void "wrong"', expect=2)
    assert (refused.out, bench.head()) == ("", before)


def test_a_slip_is_taken_back_with_a_reason_or_not_at_all(bench):
    before = bench.head()
    assert "--void" in bench("correct last", expect=2).err
    assert bench.head() == before


def test_entries_are_listed_newest_first(bench):
    bench("look B --rooted 3")
    listed = bench.ask("correct --list")["entries"]
    assert [entry["what"] for entry in listed] == ["look", "stick", "init"]


def test_a_larger_pot_and_another_place_are_as_they_were(bench):
    bench('pot-up B --count A=1 --number KP --pot "9 cm" --place "Cold frame"')
    before = bench.ask("plant show KP")
    for line in ('pot-on KP --pot "1 l"', 'plant move KP --to "Bench"'):
        bench(line)
        assert bench.ask("plant show KP") != before
        take_back(bench)
        assert bench.ask("plant show KP") == before
    assert bench.ask("verify")["ok"]


def test_only_the_newest_of_two_pots_can_be_taken_back_at_once(bench):
    bench('pot-up B --count A=1 --number KP --pot "9 cm"')
    bench('pot-on KP --pot "1 l"')
    bench('pot-on KP --pot "3 l"')
    assert "4" not in bench.ask("plant show KP")["pot"]
    refused = bench('correct 4 --void "wrong"', expect=2)
    assert "(5)" in refused.err
    take_back(bench, "5")
    assert bench.ask("plant show KP")["pot"] == "1 l"
    take_back(bench, "4")
    assert bench.ask("plant show KP")["pot"] == "9 cm"


def test_what_was_filled_in_at_sticking_is_open_again(bench):
    bench('take "white lilac" --owner me --count 5 --number L --open')
    before = bench.ask("batch show L")
    bench('stick L --hormone "powder 0.1 %" --medium perlite')
    stuck = bench.ask("batch show L")
    assert stuck["lots"][0]["hormone"] == "powder 0.1 %"
    take_back(bench)
    assert bench.ask("batch show L") == before
    bench('stick L --hormone "talc"')
    assert bench.ask("verify")["ok"]


def test_what_goes_and_what_depends_on_it_is_shown_before(bench):
    bench("pot-up B --count A=2")
    head = bench.head()
    seen = bench.ask("correct 2 --dry-run")
    assert [one["entry"] for one in seen["later"]] == [3]
    assert any("+10 stuck" in words for words in seen["says"])
    assert "would have to be taken back before" in bench("correct 2 --dry-run").out
    assert "Nothing that was recorded later depends on it." in bench("correct last --dry-run").out
    assert bench.head() == head


def test_in_a_terminal_it_is_shown_and_asked(bench):
    bench("look B --died A=2")
    head = bench.head()
    refused = bench('correct last --void "not so"', terminal="n\n", expect=2)
    assert "-2 lost" in refused.err
    assert bench.head() == head
    bench('correct last --void "not so"', terminal="\n")
    assert left(bench) == ["10", "6"]
