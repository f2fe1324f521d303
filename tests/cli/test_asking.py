"""Questions in a terminal: few, with the answer a grower most likely means as the default."""

from __future__ import annotations


def test_whose_a_new_plant_is_is_asked_once(ortet):
    ortet("stick 'brown fig' --count 4 --open", terminal="Lil Farrow\n")
    assert [p["name"] for p in ortet.ask("person list")["people"]] == ["Jo Field", "Lil Farrow"]
    assert ortet.ask("plant list")["plants"][0]["name"] == "brown fig"


def test_enter_is_not_known_and_never_me(ortet):
    ortet("stick 'brown fig' --count 4 --open", terminal="\n")
    code = ortet.ask("plant list")["plants"][0]["code"]
    assert ortet.ask(f"plant show {code}")["owner"] is None


def test_without_a_terminal_nobody_is_asked(ortet):
    ortet("stick 'brown fig' --count 4 --open")
    code = ortet.ask("plant list")["plants"][0]["code"]
    assert ortet.ask(f"plant show {code}")["owner"] is None


def test_a_name_like_one_on_record_is_asked_about_and_can_be_that_plant(ortet):
    ortet("stick 'brown fig' --owner me --count 4 --open")
    ortet("stick 'Brown  fig' --owner me --count 3 --open", terminal="y\n")
    assert len(ortet.ask("plant list")["plants"]) == 1


def test_a_name_like_one_on_record_can_be_another_plant(ortet):
    ortet("stick 'brown fig' --owner me --count 4 --open")
    ortet("stick 'Brown  fig' --owner me --count 3 --open", terminal="n\n")
    assert len(ortet.ask("plant list")["plants"]) == 2


def test_without_a_terminal_a_near_name_is_refused_with_its_code(ortet):
    ortet("stick 'brown fig' --owner me --count 4 --open")
    code = ortet.ask("plant list")["plants"][0]["code"]
    said = ortet.refused("stick 'Brown  fig' --owner me --count 3 --open")
    assert code in said
    assert "--new" in said


def test_a_plant_added_twice_is_asked_about(ortet):
    ortet("plant add 'brown fig' --how bought")
    ortet("plant add 'Brown fig' --how bought", terminal="y\n")
    assert len(ortet.ask("plant list")["plants"]) == 1


def test_a_day_to_give_back_belongs_to_a_lent_plant(ortet):
    assert "--how lent" in ortet.refused("plant add fig --how bought --until 2027")


def test_a_consent_says_something(ortet):
    ortet("plant add 'brown fig' --owner 'Lil Farrow' --number F1")
    said = ortet.refused("consent add --from 'Lil Farrow' --plant F1")
    assert "Say what the owner said" in said


def test_a_refused_taking_names_no_code_that_was_never_recorded(ortet):
    refused = ortet('stick "fig" --count 3', expect=1)
    assert "What fig is, is not known well enough" in refused.err
    assert "26-" not in refused.err
