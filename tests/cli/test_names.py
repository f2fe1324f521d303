"""What a grower types to say, correct, sort out and find names, and what is answered."""

from __future__ import annotations

import pytest

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
    import sqlite3
    from contextlib import closing

    ortet, _ = stock
    with closing(sqlite3.connect(ortet.path)) as connection:
        connection.execute("UPDATE name_search SET now = 'rosa'")
        connection.commit()
    answer = ortet("verify", expect=1)
    assert "the search has the words" in answer.out
