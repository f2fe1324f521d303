"""What a grower types to say, correct, sort out and find names, and what is answered."""

from __future__ import annotations

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.storage.engine import make_engine
from registry.storage.models import ReleaseItem
from tests import homes

HOT, NIGHT = "Salvia ‘Hot Coral’", "Salvia ‘Moth Night’"


@pytest.fixture
def stock(ortet):
    """A stock plant, S1, with a batch, B1, of three pots."""
    ortet("plant add \"Salvia 'Hot Coral'\" --owner me --number S1")
    ortet("stick S1 --count 3 --number B1 --open")
    pots = [pot["code"] for pot in ortet.ask("pot-up B1 --count 3")["plants"]]
    return ortet, pots


# --- naming --------------------------------------------------------------------------------------


def test_one_correction_every_pot_the_stale_labels_and_the_old_name_tell_one_story(stock):
    ortet, pots = stock
    ortet("label print last --out pots.pdf")
    ortet(f'give {pots[0]} --to "Nan Ashe" --purpose private --open')
    would = ortet.ask('plant name S1 "Salvia Moth Night" --dry-run')
    assert would["recorded"] is False
    answer = ortet.ask("plant name S1 \"Salvia 'Moth Night'\" --grounds flower")
    assert (answer["before"], answer["after"]) == (HOT, NIGHT)
    assert answer["descendants"] == 3
    assert [label["code"] for label in answer["labels"]] == pots[1:]
    assert [(one["code"], one["act"], one["to"]) for one in answer["left"]] == [
        (pots[0], "give", "Nan Ashe")
    ]
    for pot in pots:
        shown = ortet.ask(f"plant show {pot}")
        assert (shown["name"], shown["verified"]) == (NIGHT, "seen in flower or fruit")
    stale = ortet("label stale").out
    assert all(pot in stale for pot in pots[1:])
    found = ortet.ask('plant list --name "hot coral"')["plants"]
    assert {(plant["code"], plant["name"]) for plant in found} >= {(pot, NIGHT) for pot in pots}


def test_a_dry_run_records_nothing_and_says_what_would_change(stock):
    ortet, _ = stock
    before = ortet.head()
    answer = ortet("plant name S1 \"Salvia 'Moth Night'\" --dry-run").out
    assert f"would be {NIGHT} (is: {HOT}). Nothing is recorded." in answer
    assert "3 plants raised from it read the same." in answer
    assert ortet.head() == before


@pytest.mark.parametrize(("reply", "recorded"), [("y", True), ("n", False)])
def test_in_a_terminal_a_correction_is_shown_before_it_is_done(stock, reply, recorded):
    ortet, _ = stock
    before = ortet.head()
    answer = ortet("plant name S1 \"Salvia 'Moth Night'\"", terminal=f"{reply}\n")
    assert "3 plants raised from it read the same." in answer.err
    assert (ortet.head() != before) is recorded


def test_a_name_that_leaves_a_question_is_kept_as_typed_and_the_offers_are_told(ortet):
    answer = ortet('plant add "Hydrangea paniculata Limelight" --owner me').out
    assert "Kept as typed" in answer
    assert "Hydrangea paniculata ‘Limelight’ or Hydrangea paniculata LIMELIGHT" in answer
    assert ortet.ask("plant show last")["name"] == "Hydrangea paniculata Limelight"


@pytest.mark.parametrize(
    ("picked", "name"),
    [
        ("1", "Hydrangea paniculata ‘Limelight’"),
        ("2", "Hydrangea paniculata LIMELIGHT"),
        ("0", "Hydrangea paniculata Limelight"),
        ("", "Hydrangea paniculata Limelight"),
    ],
)
def test_in_a_terminal_one_of_the_offers_can_be_picked(ortet, picked, name):
    ortet('plant add "Hydrangea paniculata Limelight" --owner me', terminal=f"{picked}\n")
    assert ortet.ask("plant show last")["name"] == name


# The outcomes of section 1.6 of the published rules, as a command meets them.
REFUSED = (
    "Quercus robur x",
    "× 'Donation'",
    "Hydrangea paniculata 'Limelight",
    "Quercus robur var.",
    "Brassica oleracea Group",
    "P. vulgaris",
    "Аcer palmatum",  # the first letter is Cyrillic (U+0410)
    "Rosa\t=1+1",
    "<b>Rosa</b>",
)
ASKED = (
    "Salix aurita x caprea",
    "Linaria linaria",
    "Adiantum capillus veneris",
    "Rosa 'Oxbril' 'Oxbow Light'",
    "Rosa 'Oxbow Light®'",
    "Acer palmatum var. 'Bloodgood'",
    "Malva sylvestris mauritanica",
    "Pleione Fujiyama 'Teal'",
    "+Laburnocytisus adamii",
    "Heuchera 'Unknown'",
    "apple 'Cripps Pink' ROSE FEN",
    "Rosa 'R'",
    "Rosa '1234'",
    "Quercus robur 'Fastigiata' var. alba",
)
FLAGGED = (
    "Dahlia 'Red Hybrid'",
    "Rosa 'Souvenir du Docteur Albert Jamain Rouge'",
    "Pinus 'Best of All'",
    "Hosta 'Hosta Queen'",
)


@pytest.mark.parametrize("typed", REFUSED)
def test_what_no_name_can_be_is_refused_and_nothing_is_written(ortet, typed):
    assert ortet.refused("plant add --owner me", typed)
    ortet("plant add fig --owner me --number F1")
    assert ortet.refused("plant name F1", typed)


@pytest.mark.parametrize("typed", ASKED)
def test_what_leaves_a_question_is_kept_as_received_and_told(ortet, typed):
    answer = ortet("plant add --owner me --new", typed).out
    assert ortet.ask("plant show last")["received_as"] == typed
    assert len(answer.splitlines()) > 1, "the question or the offer is told"


@pytest.mark.parametrize("typed", FLAGGED)
def test_what_is_odd_is_stored_and_flagged(ortet, typed):
    answer = ortet("plant add --owner me", typed).out
    assert ortet.ask("plant show last")["name"] == typed.replace(" '", " ‘").replace("'", "’")
    assert len(answer.splitlines()) > 1


def test_a_name_is_said_in_one_way(ortet):
    ortet("plant add fig --owner me --number F1")
    for line in ("plant name F1", "plant name F1 fig --comes-true"):
        assert "in one way" in ortet.refused(line)


# --- sports, seedlings, marks --------------------------------------------------------------------


def test_a_sport_starts_a_line_of_its_own(stock):
    ortet, pots = stock
    ortet(f"plant sport {pots[0]} \"Salvia 'Cherry Lips'\"")
    ortet("plant name S1 \"Salvia 'Moth Night'\"")
    names = [ortet.ask(f"plant show {pot}")["name"] for pot in pots]
    assert names == ["Salvia ‘Cherry Lips’", NIGHT, NIGHT]
    assert ortet.ask(f"plant show {pots[0]}")["parents"], "with its ancestry"


def test_seedlings_get_their_cultivar_only_if_they_come_true(ortet):
    ortet("plant add \"Salvia 'Hot Coral'\" --owner me --number S1")
    ortet("sow --seed-parent S1 --count 5 --number W1 --open")
    pot = ortet.ask("pot-up W1 --count 1")["plants"][0]["code"]
    assert ortet.ask(f"plant show {pot}")["name"] == f"seedling of {HOT}"
    ortet(f"plant name {pot} --comes-true")
    assert ortet.ask(f"plant show {pot}")["name"] == HOT
    assert "no one name" in ortet.refused("plant name S1 --comes-true")


def test_a_lot_of_seed_that_comes_true_names_its_seedlings_now_and_later(ortet):
    ortet("plant add \"Acer palmatum 'Bloodgood'\" --owner me --number A1")
    ortet("sow --seed-parent A1 --count 20 --number AS --open")
    ortet("pot-up AS --count 3 --number P")
    ortet("plant name P-3 \"Acer palmatum\" --grounds 'green leaf'")
    assert ortet.ask("plant name AS --comes-true")["descendants"] == 2
    ortet("pot-up AS --count 1 --number Q")
    names = {number: ortet.ask(f"plant show {number}")["name"] for number in ("P-1", "P-3", "Q")}
    assert names == {
        "P-1": "Acer palmatum ‘Bloodgood’",
        "P-3": "Acer palmatum",
        "Q": "Acer palmatum ‘Bloodgood’",
    }
    assert ortet.ask("verify")["ok"]


def test_what_is_shown_of_a_pot_says_where_its_name_was_given_and_by_whom(stock):
    ortet, pots = stock
    ortet("plant name S1 \"Salvia 'Low Coral'\" --grounds flower --said-by Ida --sure nearly")
    (given,) = ortet.ask(f"plant show {pots[0]}")["names"]
    assert (given["by"], given["sure"], given["grounds"]) == ("Ida", "nearly", "flower")
    assert given["of"] == ortet.ask("plant show S1")["code"]
    assert "(flower, nearly, says Ida, 14 May 2026)" in ortet(f"plant show {pots[0]}").out


def test_what_leaves_says_how_far_its_name_was_verified(stock):
    ortet, pots = stock
    ortet("plant name S1 \"Salvia 'Low Coral'\" --grounds flower")
    line = f"sell {pots[0]} {pots[1]} --to 'Ann Low' --anyway 'looked up by hand'"
    assert "2 Salvia ‘Low Coral’: name seen in flower or fruit" in ortet(line).out


def test_what_a_receiver_was_told_stays_on_record(stock):
    """Later corrections change neither the name nor how far it was verified."""
    ortet, pots = stock
    ortet(f"plant name {pots[0]} \"Salvia 'Low Coral'\" --grounds flower")
    ortet(f"give {pots[0]} {pots[1]} --to 'Ann Low' --purpose private --anyway known")
    ortet("plant name S1 \"Salvia 'Royal Bumble'\" --verified tested")
    with Session(make_engine(ortet.path, mode="ro")) as session:
        items = session.scalars(select(ReleaseItem).order_by(ReleaseItem.id)).all()
    assert [(one.name, one.verified) for one in items] == [
        ("Salvia ‘Low Coral’", "seen in flower or fruit"),
        (HOT, "unverified"),
    ]
    would = ortet.ask("plant name S1 fig --dry-run")
    assert would["left"] == [], "nothing left as 'Royal Bumble'"


def test_how_far_a_name_is_verified_can_be_said_and_is_told(stock):
    ortet, pots = stock
    said = ortet("plant name S1 \"Salvia 'Low Coral'\" --grounds 'not in flower yet'").out
    assert "Name not verified." in said
    assert "Name compared." in ortet(f"plant sport {pots[0]} fig --verified compared").out
    answer = ortet.ask("plant name S1 \"Salvia 'Low Coral'\" --verified fruit")
    assert answer["verified"] == "seen in flower or fruit"
    (*_, given) = ortet.ask(f"plant show {pots[1]}")["names"]
    assert given["verified"] == "seen in flower or fruit"
    ortet(f"plant mixup {pots[2]} --confirmed {pots[2]} --verified tested")
    assert ortet.ask(f"plant show {pots[2]}")["verified"] == "tested"
    assert "--verified" in ortet.refused("plant name S1 fig --verified perhaps")


def test_a_received_name_is_stored_composed(ortet):
    ortet("plant add \"Rosa 'Cre\u0301puscule'\" --owner me --number R")
    assert ortet.ask("plant show R")["received_as"] == "Rosa 'Cr\u00e9puscule'"


def test_pots_that_leave_by_count_have_as_good_a_name_as_the_worst_lot(ortet):
    ortet("plant add \"Rosa 'Ispahan'\" --owner me --number R")
    ortet("stick R --lot 4,soft --lot 4,firm --number B --open")
    ortet("pot-up B --count A=3,B=3 --number P")
    ortet("plant mixup P-1 P-2 P-3 --confirmed P-1 --confirmed P-2 --confirmed P-3 --grounds bloom")
    (left,) = ortet.ask("give B --count 2 --anyway known")["names"]
    assert left == {"name": "Rosa ‘Ispahan’", "verified": "unverified", "count": 2}


def test_leaf_cuttings_of_a_chimera_are_not_proven(ortet):
    ortet("plant add \"Sansevieria trifasciata 'Laurentii'\" --owner me --number S1")
    assert "is a chimera" in ortet("plant mark S1 --chimera").out
    ortet("stick S1 --lot 4,part=leaf --number L1 --open")
    pot = ortet.ask("pot-up L1 --count 1")["plants"][0]["code"]
    assert ortet.ask(f"plant show {pot}")["name"].endswith("‘Laurentii’ (not proven)")
    assert ortet.ask("plant show S1")["marks"] == ["chimera"]
    ortet("plant mark S1 --chimera --off")
    assert ortet.ask("plant show S1")["marks"] == []


# --- mix-ups and orphans -------------------------------------------------------------------------


def test_a_mix_up_is_sorted_out(stock):
    ortet, pots = stock
    answer = ortet.ask(
        f"plant mixup B1 --confirmed {pots[0]} --contradicted {pots[1]} --is fig --grounds flower"
    )
    assert (answer["confirmed"], answer["contradicted"], answer["unproven"]) == tuple(
        [pot] for pot in pots
    )
    names = [ortet.ask(f"plant show {pot}")["name"] for pot in pots]
    assert names == [HOT, "fig", f"{HOT} (not proven)"]
    assert ortet.ask(f"plant show {pots[0]}")["verified"] == "seen in flower or fruit"
    ortet('correct last --void "it was the other tray"')
    assert {ortet.ask(f"plant show {pot}")["name"] for pot in pots} == {HOT}
    assert ortet.ask("verify")["ok"]


def test_a_plant_outside_the_mix_up_is_refused(stock):
    ortet, pots = stock
    assert "not one of the plants" in ortet.refused(f"plant mixup {pots[0]} --confirmed {pots[1]}")


def test_unproven_pots_may_come_from_one_of_several(stock):
    ortet, pots = stock
    ortet("plant add \"Salvia 'Moth Night'\" --owner me --number S2")
    ortet(f"plant mixup {pots[2]} --or-from S2")
    shown = ortet.ask(f"plant show {pots[2]}")
    assert shown["name"] == f"{HOT} or {NIGHT}"
    assert [parent["certain"] for parent in shown["parents"]] == [False, False]


def test_an_orphan_pot_and_an_orphan_tag_find_what_they_belong_to(stock):
    ortet, pots = stock
    pot = ortet.ask('plant orphan "blue glazed pot" --place "Mist bench"')["code"]
    tag = ortet.ask('plant orphan "Hot Coral" --tag')["code"]
    assert [one["code"] for one in ortet.ask("plant match")["orphans"]] == [pot, tag]
    ortet(f"plant mark {pots[1]} --no-tag")
    candidates = ortet.ask(f"plant match {tag}")["candidates"]
    assert candidates[0]["code"] == pots[1]
    assert "its tag is missing" in candidates[0]["why"]
    assert f"is that of {pots[1]}" in ortet(f"plant match {tag} --is {pots[1]}").out
    ortet(f"plant match {pot} --from B1")
    assert ortet.ask(f"plant show {pot}")["name"] == HOT
    assert ortet.ask("plant match")["orphans"] == []
    assert "waiting" in ortet.refused(f"plant match {tag} --is {pots[1]}")
    assert ortet.ask("verify")["ok"]


def test_two_records_that_may_be_one_plant_are_found_together(ortet):
    ortet("plant add fig --owner me --number F1")
    ortet("plant add quince --owner me --number Q1")
    ortet("plant same F1 Q1")
    codes = [plant["code"] for plant in ortet.ask("plant list --name fig")["plants"]]
    assert len(codes) == 2
    ortet('correct last --void "they are not"')
    assert len(ortet.ask("plant list --name fig")["plants"]) == 1


def test_the_index_is_part_of_the_check(stock):
    ortet, _ = stock
    homes.edit(ortet.path, "UPDATE name_search SET now = 'rosa'")
    answer = ortet("verify", expect=1)
    assert "the search has the words" in answer.out


# --- one of several ------------------------------------------------------------------------------


@pytest.fixture
def figs(ortet):
    """Three figs, one of which is somebody's."""
    ortet("plant add \"Ficus carica 'Brown Turkey'\" --owner me --number F1")
    ortet("plant add \"Ficus carica 'Ronde'\" --owner me --number F2")
    ortet("plant add \"fig from the wall\" --owner 'Vi Low' --number F3")
    return ortet


def test_one_of_these_three_is_what_a_plant_can_be(figs):
    """'One of these three' is a legal identity, and its parentage is one of several."""
    figs("plant add --from F1 --from F2 --from F3 --number POT")
    shown = figs.ask("plant show POT")
    assert (
        shown["name"] == "Ficus carica ‘Brown Turkey’ or Ficus carica ‘Ronde’ or fig from the wall"
    )
    assert shown["received_as"] is None
    assert [parent["certain"] for parent in shown["parents"]] == [False] * 3
    assert "raised here" in figs("plant show POT").out
    edges = figs.ask("trace POT --up")["edges"]
    assert [edge["certain"] for edge in edges] == [False] * 3
    verdicts = {row["row"] for row in figs.ask("may sell POT", expect=1)["findings"]}
    assert "A2" in verdicts  # the worst of the three: Vi Low was never asked
    assert figs.ask("verify")["ok"]


def test_a_correction_of_one_of_three_reaches_what_may_be_of_it(figs):
    figs("plant add --from F1 --from F2 --number POT")
    figs("plant name F2 \"Ficus carica 'Dauphine'\" --grounds fruit")
    assert figs.ask("plant show POT")["name"] == (
        "Ficus carica ‘Brown Turkey’ or Ficus carica ‘Dauphine’"
    )


def test_a_name_that_came_with_it_stays_though_it_is_of_one_of_several(figs):
    figs("plant add 'white fig' --from F1 --from F2 --number POT")
    shown = figs.ask("plant show POT")
    assert shown["name"] == shown["received_as"] == "white fig"
    assert [parent["certain"] for parent in shown["parents"]] == [False] * 2


def test_of_one_plant_alone_it_is_certain(figs):
    pots = figs.ask("plant add --from F1 --count 2 --number POT")["made"]
    assert len(pots) == 2
    for made in pots:
        shown = figs.ask(f"plant show {made['code']}")
        assert shown["name"] == "Ficus carica ‘Brown Turkey’"
        assert [parent["certain"] for parent in shown["parents"]] == [True]


def test_a_batch_of_three_lots_stands_for_each_of_them(figs):
    figs("stick --lot from=F1,count=3 --lot from=F2,count=3 --number B --open")
    figs("plant add --from B --number POT")
    assert (
        figs.ask("plant show POT")["name"] == "Ficus carica ‘Brown Turkey’ or Ficus carica ‘Ronde’"
    )


@pytest.mark.parametrize("line", ["plant add", "plant add --from F1 --from Z9", "plant add ''"])
def test_a_plant_needs_a_name_or_what_it_came_from(figs, line):
    figs.refused(line)


# --- numbers, potting and places -----------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    [
        "plant add quince --owner me --number f1",
        "plant add quince --owner me --count 3 --number F1",
        "receive quince --number F1",
        "stick F2 --count 3 --number F1 --open",
        "take F2 --count 3 --number F1 --open",
    ],
)
def test_a_number_of_your_own_is_given_once(figs, line):
    code = figs.ask("plant show F1")["code"]
    said = figs.refused(line)
    assert code in said
    assert "Give another one" in said


def test_pots_numbered_alike_are_refused_with_the_pot_that_has_the_number(figs):
    figs("stick F1 --count 9 --number B --open")
    first = figs.ask("pot-up B --count 2 --number POT")["plants"][0]["code"]
    said = figs.refused("pot-up B --count 2 --number POT")
    assert "'POT-1'" in said
    assert first in said


def test_numbers_that_others_gave_may_be_alike(figs):
    """An issuer and a number together are what is unique (a practice of botanic gardens)."""
    figs("plant add quince --owner me --number 42 --number-by Kew")
    figs("plant add medlar --owner me --number 42 --number-by 'Nan Ashe'")
    assert "42" in figs.refused("plant add pear --owner me --number 42 --number-by kew")
    assert "42" in figs.refused("plant show 42")


def test_a_number_is_free_again_when_its_entry_was_taken_back(figs):
    figs("plant add quince --owner me --number Q")
    figs("correct last --void 'typed twice'")
    figs("plant add quince --owner me --number Q")


def test_nothing_is_potted_with_nothing(figs):
    figs("stick F1 --count 9 --number B --open")
    assert "No plant is potted with 0" in figs.refused("pot-up B --count 0")


def test_what_lies_in_its_bag_is_stuck_before_it_is_potted(figs):
    figs("take F1 --count 9 --number B --open")
    said = figs.refused("pot-up B --count 2")
    assert "ortet stick" in said
    figs("stick B")
    figs("pot-up B --count 2")


def test_a_plant_is_moved_and_a_hold_asks_why(figs):
    figs("plant move F1 F2 --to 'cold frame'")
    assert figs.ask("plant show F1")["place"] == "cold frame"
    figs("hold add F1 --reason 'scale seen'")
    for line in ("plant move F1 --to 'bench 9'", "pot-on F1 --pot 1L --place 'bench 9'"):
        assert "--anyway" in figs(line, expect=1).err
    assert figs.ask("plant show F1")["place"] == "cold frame"
    figs("pot-on F1 --pot 1L")
    figs("plant move F1 --to 'bench 9' --anyway 'the only way to keep it apart'")
    assert figs.ask("plant show F1")["place"] == "bench 9"
    assert figs.ask("verify")["ok"]


def test_a_batch_is_moved_with_its_cuttings_and_its_pots(figs):
    figs("stick F1 --count 9 --number B --place bench --open")
    figs("pot-up B --count 2 --number POT")
    moved = figs.ask("plant move B --to 'cold frame'")
    assert len(moved["plants"]) == 2
    assert figs.ask(f"batch show {moved['batch']}")["place"] == "cold frame"
    figs("plant end POT-1 POT-2 --how died")
    figs("batch close B --rest lost")
    assert "still there" in figs.refused("plant move B --to bench")


def test_where_a_plant_stood_speaks_for_a_tag_that_was_found_there(figs):
    """A map survives when winter takes the markers: place and dates are evidence of identity."""
    figs("plant move F1 --to 'iris bed' --on 'May 2025'")
    figs("plant move F1 --to 'cold frame' --on 'September 2025'")
    assert figs.ask("plant show F1")["stood"] == [
        {"place": "iris bed", "from": "2025-05", "until": "2025-09"}
    ]
    assert "iris bed, May 2025 until September 2025" in figs("plant show F1").out
    figs("plant orphan 'nothing legible' --tag --place 'iris bed'")
    (found,) = figs.ask("plant match 'tag 1'")["candidates"]
    assert found["code"] == figs.ask("plant show F1")["code"]
    assert found["why"] == ["stood there until September 2025"]


def test_the_same_name_again_is_said_to_be_as_before(ortet):
    ortet('plant add "moth sage" --how bought --number S1')
    name = "plant name S1 \"Salvia 'Moth Night'\""
    assert "(was: moth sage)" in ortet(name).out
    assert "Salvia ‘Moth Night’ (as before)" in ortet(name).out
