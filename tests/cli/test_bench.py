"""The bench as it is typed: taking, sticking, grafting, sowing, moving on, looking, potting."""

from __future__ import annotations

import pytest


@pytest.fixture
def garden(ortet):
    """A grower's own lavender and a neighbour's hydrangea."""
    ortet("plant add lavender --owner me --how bought --number L --on 2020")
    ortet('plant add "red hydrangea" --owner "Nan Ashe" --number H --on 2020')
    return ortet


def parents(ortet, code):
    shown = ortet.ask(f"plant show {code}")["parents"]
    return {(one["role"], one["code"], one["certain"]) for one in shown}


def code(ortet, number):
    return ortet.ask(f"plant show {number}")["code"]


# --- sticking ------------------------------------------------------------------------------------


def test_a_name_in_place_of_a_code_makes_the_plant_and_its_owner_at_once(ortet):
    before, _ = ortet.head()
    made = ortet.ask('stick "blue aster" --owner "Bram Holt" --leave yes --count 3 --open')["made"]
    assert ortet.head()[0] == before + 1, "one entry"
    assert [(one["kind"], one["name"]) for one in made] == [
        ("person", "Bram Holt"),
        ("plant", "blue aster"),
    ]
    (consent,) = ortet.ask("consent list")["consents"]
    assert (consent["from"], consent["may"], consent["not"]) == ("Bram Holt", ["propagate"], [])


def test_without_a_word_the_owner_is_not_recorded_and_never_the_grower(ortet):
    ortet('stick "blue aster" --count 3 --number B --open')
    assert ortet.ask("plant show 1:1")["owner"] is None
    rows = [finding["row"] for finding in ortet.ask("may propagate 1:1", expect=1)["findings"]]
    assert "A2" in rows


def test_gaps_without_a_terminal_record_nothing_and_name_the_option(garden):
    before = garden.head()
    answer = garden("stick H --count 3", expect=1)
    assert "--open" in answer.err
    assert (answer.out, garden.head()) == ("", before)


def test_gaps_in_a_terminal_are_one_question_that_enter_answers_with_yes(garden):
    answer = garden("stick H --count 3", terminal="\n")
    assert answer.err.count("[Y/n]") == 1
    assert answer.out.startswith("26-0003-5  stuck")
    before = garden.head()
    garden("stick 'pink aster' --owner unknown --count 3", terminal="n\n", expect=1)
    assert garden.head() == before


def test_a_gap_that_was_noted_once_is_not_asked_again(garden):
    garden("stick H --count 3 --open")
    garden("stick H --count 2")


def test_a_refusal_is_recorded_only_with_a_written_reason(garden):
    garden('consent add --from "Nan Ashe" --plant H --refused --said no')
    garden("stick H --count 3 --open", expect=1)
    answer = garden('stick H --count 3 --anyway "she changed her mind on the phone"')
    assert "against a no" in answer.out
    garden("pot-up last --count 1 --number HP")
    assert "changed her mind" in garden("plant show HP").out


def test_each_lot_may_name_a_source_of_its_own(garden):
    lots = garden.ask(
        "stick L --lot 10,soft --lot from=H,count=8,wood=softwood,part=tip --number B --open"
    )["lots"]
    assert [lot["count"] for lot in lots] == ["10", "8"]
    garden("pot-up B --count A=1,B=1 --number P")
    assert parents(garden, "P-1") == {("source", code(garden, "L"), True)}
    assert parents(garden, "P-2") == {("source", code(garden, "H"), True)}
    shown = garden.ask("batch show B")["lots"]
    assert [(lot["wood"], lot["part"]) for lot in shown] == [("soft", None), ("softwood", "tip")]


def test_a_lot_as_a_source_stands_for_its_plants_one_of_them(garden):
    garden("stick L --count 5 --number B --open")
    refused = garden("stick B --count 3", expect=2)
    assert "pot-up" in refused.err
    assert "--again" in refused.err
    garden("pot-up B --count 2 --number P")
    garden("stick B --count 3 --number C --open")
    garden("pot-up C --count 1 --number Q")
    assert parents(garden, "Q") == {
        ("source", code(garden, "P-1"), False),
        ("source", code(garden, "P-2"), False),
    }
    assert garden.ask("plant show Q")["name"] == "lavender", "whichever it is of, it is lavender"


def test_material_is_taken_on_one_day_and_stuck_on_another(garden):
    garden("take L --count 6 --wood hardwood --number K --on 2025-12-01 --open")
    assert "not stuck" in garden("batch list").out
    stuck = garden("stick K --medium sand --on 2026-02-01")
    assert "lavender" in stuck.out
    shown = garden.ask("batch show K")
    assert (shown["stuck"], shown["lots"][0]["wood"]) == ("2026-02-01", "hardwood")
    again = garden("stick K", expect=2)
    assert again.out == ""


# --- other methods -------------------------------------------------------------------------------


def test_a_graft_is_its_scion_and_keeps_its_rootstocks_name_beside(garden):
    garden("plant add M26 --owner me --how bought --number R")
    garden("graft --scion L --rootstock R --count 4 --number G --open")
    garden("pot-up G --count 1 --number GP")
    assert garden.ask("plant show GP")["name"] == "lavender"
    assert parents(garden, "GP") == {
        ("scion", code(garden, "L"), True),
        ("rootstock", code(garden, "R"), True),
    }


def test_a_top_on_a_standing_tree_is_part_of_it(garden):
    garden("graft --scion L --onto H --count 2 --number G --open")
    garden("pot-up G --count 1 --number GP")
    assert ("part of", code(garden, "H"), True) in parents(garden, "GP")
    assert garden.ask("plant show H")["status"] == "alive"


def test_seedlings_have_two_parents_and_not_the_name(garden):
    garden("sow --seed-parent L --pollen-parent H --count ? --number S --open")
    garden("pot-up S --count 2 --number SP")
    assert garden.ask("plant show SP-1")["name"] == "seedling of lavender"
    assert {(role, certain) for role, _, certain in parents(garden, "SP-1")} == {
        ("seed parent", True),
        ("pollen parent", True),
    }


def test_one_piece_of_a_division_may_give_several_plants(garden):
    garden("divide L --count 1 --number D --open")
    assert len(garden.ask("pot-up D --count 4 --pieces 1")["plants"]) == 4
    garden("layer L --count 2 --number Y --open")
    assert garden.ask("batch show Y")["lots"][0]["count"] == "2"


# --- moving on -----------------------------------------------------------------------------------


def test_a_third_attempt_is_still_of_the_first_number(garden):
    garden("stick L --count 20 --number A1 --open")
    garden("pot-up A1 --count 10")
    garden("stick --again A1 --number A2")
    garden("pot-up A2 --count 4")
    garden("stick --again A2 --count 6 --number A3")
    garden("pot-up A3 --count 1")
    assert garden.ask("batch show A1")["lots"][0]["took"] is None, "five are still in the bench"
    garden("batch close A3 --rest lost")
    assert garden.ask("batch show A1")["lots"][0]["took"] == {"potted": 15, "of": 20}
    assert "over 3 attempts" in garden("batch show A1").out
    assert garden.ask("batch show A3")["lots"][0]["attempt"] == 3


def test_a_split_that_comes_to_more_than_is_left_leaves_nothing(garden):
    garden("stick L --count 10 --number B --open")
    before = garden.head()
    refused = garden("split B --into 6 --into 5", expect=2)
    assert "only 4 are left" in refused.err
    assert (refused.out, garden.head()) == ("", before)


def test_joined_lots_of_two_plants_have_both_names(garden):
    garden("stick L --count 4 --number B --taken 2026-05-01 --open")
    garden("stick H --count 4 --number C --taken 2026-05-02 --open")
    garden("merge B=2 C=3 --number X")
    garden("pot-up X --count 1 --number XP")
    assert garden.ask("plant show XP")["name"] == "lavender or red hydrangea"
    assert {certain for _, _, certain in parents(garden, "XP")} == {False}
    days = {node["code"]: node["date"] for node in garden.ask("trace X --up")["nodes"]}
    (joined,) = garden.ask("trace X --up")["roots"]
    assert days[joined] is None, "taken on two days"


# --- looking and potting -------------------------------------------------------------------------


def test_a_look_says_what_stands_and_what_went(garden):
    garden("stick L --count 16 --number B --open")
    said = garden("look B --rooted about 9 --died 2".replace("about 9", "'about 9'")).out
    assert "about 9 rooted, 2 died, 14 left of 16" in said
    lot = garden.ask("batch show B")["lots"][0]
    assert (lot["seen"], lot["left"]) == ({"rooted": "about 9"}, 14)


def test_a_look_that_only_says_it_was_looked_at_puts_off_the_next(garden):
    garden("stick L --count 16 --number B --on 2026-03-01 --open")
    assert garden.ask("batch show B")["next_look"] == "2026-03-29"
    garden("look B")
    assert garden.ask("batch show B")["next_look"] == "2026-05-28"


def test_pots_may_hold_several_plants_or_several_cuttings(garden):
    garden("stick L --count 16 --number B --open")
    assert len(garden.ask("pot-up B --count 7 --per-pot 3 --number P")["plants"]) == 3
    assert [garden.ask(f"plant show P-{n}")["plants"] for n in (1, 2, 3)] == [3, 3, 1]
    garden("pot-up B --count 1 --pieces 3")
    assert garden.ask("batch show B")["left"] == 16 - 7 - 3


def test_lots_that_were_counted_to_the_end_are_compared(garden):
    """Fisher's exact test; what p says is worked out in tests/domain/test_rates.py."""
    garden("stick L --lot 20,soft --lot 19,firm --lot 10,heel --number B --open")
    garden("pot-up B --count A=19,B=4")
    garden("look B --died A=1")
    assert garden.ask("batch show B")["compared"] == [], "something is left in B and in C"
    garden("look B --died B=15")
    (pair,) = garden.ask("batch show B")["compared"]
    assert pair["lots"] == ["A", "B"]
    assert pair["p"] == pytest.approx(2.20979e-06, rel=1e-4)
    assert (
        "the difference between A and B is hard to put down to chance" in garden("batch show B").out
    )
    garden("look B --died C=10")
    said = garden("batch show B").out
    assert "the difference between B and C could easily be chance" in said
    assert "3 pairs: about one pair in twenty looks different by chance alone" in said


def test_a_list_of_batches_says_what_and_when(garden):
    garden("stick L --count 4 --number B --on 2026-03-01 --open")
    (batch,) = garden.ask("batch list")["batches"]
    assert (batch["numbers"], batch["stuck"], batch["name"]) == (["B"], "2026-03-01", "lavender")
    assert (batch["left"], batch["pots"]) == (4, 0)


def test_a_place_and_a_pot_are_kept_and_changed(garden):
    garden("stick L --count 4 --number B --place bench --open")
    garden('pot-up B --count 1 --pot "9 cm" --place frame --number P')
    assert garden.ask("plant show P")["place"] == "frame"
    garden('pot-on P --pot "2 litres" --place yard')
    shown = garden.ask("plant show P")
    assert (shown["pot"], shown["place"]) == ("2 litres", "yard")
    assert garden.ask("batch show B")["place"] == "bench"


def test_what_is_due_is_listed_until_it_is_done(garden):
    garden("stick L --count 4 --number B --on 2026-03-01 --open")
    (due,) = garden.ask("due")["due"]
    assert (due["what"], due["late"], due["name"]) == ("look", True, "lavender")
    assert "29 March 2026  look (late)" in garden("due").out
    garden("batch close B --rest lost")
    assert garden.ask("due")["due"] == []


def test_each_lot_may_name_its_source_and_then_none_stands_in_front(ortet):
    """Design: a lot without `from=` has its source named in front; one with it needs none."""
    ortet("plant add 'Ribes nigrum' --how bought --number R1")
    ortet("plant add 'Ribes rubrum' --how bought --number R2")
    made = ortet.ask("stick --lot from=R1,count=8 --lot from=R2,count=6,wood=hardwood --open")
    assert [lot["count"] for lot in made["lots"]] == ["8", "6"]
    assert len(ortet.ask(f"trace {made['batch']} --up")["edges"]) == 2
    assert "which plant" in ortet.refused("stick --lot 8,soft")
