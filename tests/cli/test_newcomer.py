"""What somebody meets who types for the first time: answers that say what to do next."""

from __future__ import annotations

import pytest

from registry.services.setup import SETTINGS


@pytest.fixture
def season(ortet):
    """Nan's hydrangea, ten cuttings of it, four of them in pots."""
    ortet('plant add "red hydrangea" --owner "Nan Ashe" --number NAN-1')
    ortet('consent add --plant NAN-1 --may propagate --said "take some"')
    ortet("stick NAN-1 --count 10 --number N26 --open")
    ortet("pot-up N26 --count 4")
    return ortet


def test_a_list_of_open_questions_says_for_which_act_and_how_to_settle_one(season):
    season("give N26 --count 1 --purpose private --open")
    listed = season("due --questions").out.splitlines()
    asked = next(line for line in listed if "did not say" in line)
    assert asked.split("  ")[2].strip() == "give"
    assert listed[-1] == "What would settle one, and whom to ask: ortet may ACT PLANT"
    acts = {q["row"]: q["act"] for q in season.ask("due --questions")["questions"]}
    assert acts == {"A7": "give", "C12": "propagate"}
    assert "give: whether its owner allows this (A7)" in season("due --questions --by person").out


def test_where_nothing_is_open_no_next_step_is_told(ortet):
    assert ortet("due --questions").out == "Nothing is left open.\n"


def test_a_refused_sale_of_many_names_a_plant_that_can_be_asked_about(season):
    said = season.refused("sell N26 --count 2", expect=1)
    call = said.partition("whom to ask: ortet ")[2].splitlines()[0]
    assert call.startswith("may sell 26-")
    assert season(call, expect=1).out.startswith("UNKNOWN: ")


def test_what_was_potted_is_sent_back_to_its_batch(season):
    batch = season.ask("batch show N26")["batch"]
    for act in ("look last --rooted 3", "pot-up last --count 1"):
        said = season.refused(act)
        assert said.endswith(f"It was potted from batch {batch}: type that number.")


def test_a_plant_that_no_batch_was_potted_into_is_sent_to_the_list(season):
    assert "'ortet batch list' shows them" in season.refused("look NAN-1 --rooted 3")


def test_a_look_without_a_count_is_told_without_one(season):
    season("look N26")
    lot = season.ask("batch show N26")["lots"][0]["code"]
    said = season("correct last --dry-run").out
    assert f"{lot}  looked" in said
    assert "None" not in said


def test_a_code_that_is_wrong_is_said_before_anything_is_asked(season):
    answer = season("give 99-0001-1 --to Mara", expect=2, terminal="y\n")
    assert "Is it private" not in answer.err


def test_a_name_is_told_once_at_a_terminal(season):
    said = season("plant name NAN-1 'Hydrangea macrophylla'", terminal="y\n")
    assert "4 plants raised from it read the same" in said.err
    assert said.out.splitlines()[1:] == ["  Name not verified."]
    told = season("plant name NAN-1 'Hydrangea serrata'").out
    assert "4 plants raised from it read the same" in told


def test_a_second_init_says_how_to_go_on(ortet):
    said = ortet.refused("init --grower 'Jo Field' --country US")
    assert "'ortet settings show'" in said
    assert "--registry PATH" in said


def test_how_a_person_comes_in_is_told_apart(season):
    season("swap N26 --count 1 --got 'white hosta' --to Mara --purpose private --open")
    lines = [" ".join(line.split()) for line in season("person show Mara").out.splitlines()[1:]]
    assert lines == [
        "1 source of a plant", "1 giver of what arrived", "1 receiver of what left",
    ]  # fmt: skip


def test_a_code_without_its_last_sign_is_told_with_the_plants_that_were_picked(season):
    batch = season.ask("batch show N26")["batch"]
    said = season.refused(f"plant end {batch[:-2]}:2-3 --how died")
    assert f"Did you mean {batch}:2-3?" in said


def test_every_setting_that_can_be_set_is_shown(ortet):
    typed = {
        "site": "https://example.org", "trade": "yes", "currency": "CAD", "hemisphere": "south",
        "seller": "Hollow Lane Nursery", "operator-eu": "NL-123456789", "operator-gb": "12345",
    }  # fmt: skip
    assert typed.keys() == SETTINGS.keys()
    for key, value in typed.items():
        ortet("settings set", key, value)
    lines = ortet("settings show").out.splitlines()
    for key, value in typed.items():
        assert [line for line in lines if line.startswith(f"{key} ") and f"  {value}  " in line]
    assert ortet.ask("settings show").items() >= (typed | {"trade": True}).items()


def test_a_right_says_how_its_end_is_counted(ortet):
    """35 USC 154: twenty years from filing; days of adjustment lengthen it to grant plus twenty."""
    said = ortet(
        "right add us-plant-patent PP30001 --name \"Salvia 'Hot Coral'\""
        " --filed 2015-03-03 --granted 2017-05-09"
    ).out.splitlines()
    assert said[1] == "  20 years from filing: 3 March 2035 (35 USC 154(a)(2))."
    assert "at most 20 years from grant: 3 March 2035 to 9 May 2037" in said[2]


def test_a_right_without_a_day_says_that_it_counts_as_in_force(ortet):
    said = ortet("right add us-plant-patent PP30001 --name \"Salvia 'Hot Coral'\"").out
    assert "No day is recorded to count from: it counts as in force" in said


def test_a_place_that_an_act_makes_is_told_once_among_its_facts(season):
    season("place add hut")
    assert "new on record" not in season("plant move NAN-1 --to hut").out
    moved = season("plant move NAN-1 --to hutt").out.splitlines()
    assert moved[1:] == ["  new on record: place hutt"]
    stuck = season("stick 'brown fig' --owner me --count 3 --place shed --open").out.splitlines()
    assert stuck[3] == "  new on record: place shed"
    assert stuck[4].startswith("Not known yet")
    assert "new on record: place" not in season("look N26 --rooted 3").out


def test_a_gift_that_was_judged_as_trade_says_how_to_ask_for_a_private_one(season):
    hint = "By hand to somebody you know, unpaid: ortet may give … --purpose private"
    assert hint in season("may give NAN-1", expect=1, terminal="").out
    assert hint not in season("may give NAN-1 --purpose private", expect=1, terminal="").out
    assert hint not in season("may give NAN-1", expect=1).out


def test_of_a_batch_with_several_lots_one_is_asked_for_with_how_to_name_it(season):
    season("stick NAN-1 --lot 5,soft --lot 5,firm --number M26 --open")
    assert "such as 14B" in season.refused("stick --again M26 --count 3")
    assert "such as 14B" in season.refused("split M26 --into 2")


def test_what_was_seen_has_its_day(season):
    season("stick NAN-1 --count 10 --number T26 --open --on 2026-05-04")
    season("look T26 --callused 6 --on 2026-05-12")
    season("look T26 --rooted 5 --alive 1 --on 2026-05-14")
    said = season("batch show T26").out
    assert "seen: 6 callused (12 May 2026), 5 rooted, 1 alive (14 May 2026)" in said


def test_a_person_that_a_receipt_makes_is_told(ortet):
    assert "new on record: person Bo Reed" in ortet("receive fern --from 'Bo Reed'").out
    assert "new on record" not in ortet("receive hosta --from 'Bo Reed'").out


def test_a_second_person_of_one_name_is_told_with_the_way_back(ortet):
    assert ortet("person add 'Bo Reed'").out == "Bo Reed is on record.\n"
    first, then = ortet("person add 'bo reed'").out.splitlines()
    assert first == "bo reed #2 is on record."
    assert then.startswith("  Bo Reed #1 goes by that name too.")
    ortet("correct last --void 'on record already'")
    assert [one["name"] for one in ortet.ask("person list")["people"]] == ["Bo Reed", "Jo Field"]


def test_a_question_that_two_consents_leave_is_listed_once(season):
    season("consent add --plant NAN-1 --may give --said fine")
    said = season("sell N26 --count 1 --anyway market").out
    assert said.count("whether its owner allows this") == 1


@pytest.mark.parametrize(
    "line",
    [
        "plant end T26-P-1 --how died --on 2026-05-05",
        "sell T26-P-1 --anyway market --on 2026-05-05",
        "give T26-P-1 T26-P-2 --purpose private --open --on 'April 2026'",
    ],
)
def test_nothing_happens_to_a_plant_before_it_is_there(season, line):
    season("stick NAN-1 --count 4 --number T26 --open --on 2026-05-04")
    season("pot-up T26 --count 2 --number T26-P --on 2026-05-06")
    said = season.refused(line)
    assert "was there: it began" in said
    assert "One of the two days is wrong" in said


def test_a_day_that_may_be_before_or_after_is_taken(season):
    season("stick NAN-1 --count 4 --number T26 --open --on 2026-05-04")
    season("pot-up T26 --count 2 --number T26-P --on 2026-05-06")
    season("look T26 --rooted 1 --on 'May 2026'")
    season("plant end T26-P-1 --how died --on 'May 2026'")
    season("plant end T26-P-2 --how died --on 2026-05-06")
