"""What a verdict asks for can be recorded, and the row answers it: through the command alone."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.typed import Ortet

ROSE = "Rosa 'Lane Lantern'"


def rows(ortet: Ortet, line: str) -> dict[str, str]:
    """Row to its worst level, in what `may` answers."""
    found: dict[str, str] = {}
    for finding in said(ortet, line)["findings"]:
        found.setdefault(finding["row"], finding["level"])
    return found


def said(ortet: Ortet, line: str) -> Any:
    """What `may` answers, whether it is a yes (exit 0) or not (exit 1)."""
    try:
        return ortet.ask(line)
    except AssertionError:
        return ortet.ask(line, expect=1)


def text(ortet: Ortet, line: str, row: str) -> str:
    """The sentence of the first finding of a row."""
    return str(next(f["text"] for f in said(ortet, line)["findings"] if f["row"] == row))


# --- B16: the sell-off time of a licence ---------------------------------------------------------


@pytest.fixture
def licensed(ortet: Ortet) -> Ortet:
    """Pots made in 2025 under a right of the place, while a licence stood."""
    ortet(f'plant add "{ROSE}" --owner me --how bought --number ROSE')
    ortet(
        f'right add us-plant-patent PP30001 --name "{ROSE}" --filed 2015-03-03 --granted 2017-05-09'
    )
    return ortet


MADE = (
    "stick ROSE --count 4 --number MADE --on 2025-06-01 --open",
    "pot-up MADE --count 4 --number POT --on 2025-09-01",
)
LICENCE = 'licence add PP30001 --from "Lamp Plants" --may propagate,sell --in US --on 2024-01-01'


@pytest.mark.parametrize(
    ("sell_off", "on", "level"),
    [
        ("", "2026-05-14", "unknown"),
        ("--sell-off 2026-06-30", "2026-05-14", "clear"),
        ("--sell-off 2026-06-30", "2026-06-30", "clear"),
        ("--sell-off 2026-06-30", "2026-07-01", "unknown"),
    ],
)
def test_verdict_b16_what_was_made_under_a_licence_is_sold_off(licensed, sell_off, on, level):
    licensed(f"{LICENCE} --until 2025-12-31 {sell_off}")
    for line in MADE:
        licensed(line)
    assert rows(licensed, f"may sell POT-1 --on {on}")["B16"] == level


def test_verdict_b16_a_licence_ended_early_may_be_sold_off_as_well(licensed):
    licensed(LICENCE)
    for line in MADE:
        licensed(line)
    assert rows(licensed, "may sell POT-1")["B14"] == "clear"
    licensed("licence end 1 --on 2026-05-01 --sell-off 2026-06-30")
    assert "until 30 June 2026" in text(licensed, "may sell POT-1", "B16")
    assert rows(licensed, "may sell POT-1 --on 2026-07-01")["B16"] == "unknown"


def test_a_sell_off_time_is_a_licences_and_lies_after_its_end(licensed):
    for days in (
        "--until 2025-12-31 --sell-off 2025-06-30",
        "--until 2023-12-31",
    ):
        assert "Check the days" in licensed.refused(f"{LICENCE} {days}")
    licensed('plant add "red hydrangea" --owner "Nan Ashe" --number NAN')
    licensed("consent add --plant NAN --may propagate")
    assert "owner's leave" in licensed.refused("licence end 1 --sell-off 2026-06-30")


# --- A3, B39: credit and pledges -----------------------------------------------------------------


@pytest.fixture
def nans(ortet: Ortet) -> Ortet:
    """A neighbour's plant of a species, and a pot of it."""
    ortet('plant add "Salvia pratensis" --owner "Nan Ashe" --how seed --number NAN')
    return ortet


def test_verdict_a3_credit_and_pledge_are_conditions_of_what_leaves(nans):
    nans(
        'consent add --plant NAN --may propagate,give --credit "from Nan\'s garden"'
        ' --pledge "give one on" --on 2025-05-01'
    )
    nans("stick NAN --count 4 --number N --on 2025-06-01 --open")
    nans("pot-up N --count 4 --number POT --on 2025-08-01")
    line = "may give POT-1 --purpose private"
    assert rows(nans, line)["A3"] == "conditional"
    told = text(nans, line, "A3")
    assert "give the credit “from Nan's garden”" in told
    assert "promise to pass on: give one on" in told
    shown = nans.ask("consent list")["consents"][0]
    assert (shown["credit"], shown["pledge"]) == ("from Nan's garden", "give one on")
    label = nans("label text POT-1").out
    assert "from Nan's garden" in label
    assert "give one on" in label


def test_verdict_b39_a_pledge_is_carried_on(ortet):
    ortet(f'plant add "{ROSE}" --owner me --how bought --number ROSE --on 2020-05-01')
    free = f'right lookup "{ROSE}" --in US --where "letter of the breeder" --found'
    ortet(f"{free} free")
    assert rows(ortet, "may propagate ROSE --purpose trade")["B39"] == "clear"
    ortet(f'{free} free --pledge "never patented" --on 2026-05-14')
    assert rows(ortet, "may propagate ROSE --purpose trade")["B39"] == "conditional"
    assert "never patented" in text(ortet, "may propagate ROSE", "B39")
    assert "never patented" in ortet("label text ROSE").out
    assert "--found free" in ortet.refused(f"{free} none --pledge x")


def test_verdict_b43_a_notice_that_came_with_a_plant_is_on_its_labels(ortet):
    """7 USC 2541(a)(6)."""
    ortet(f'plant add "{ROSE}" --owner me --how bought --number ROSE')
    ortet('came ROSE --notice "Unauthorized Propagation Prohibited"')
    assert rows(ortet, "may give ROSE --purpose private")["B43"] == "conditional"
    assert "Unauthorized Propagation Prohibited" in ortet("label text ROSE").out


# --- consents without a person -------------------------------------------------------------------


def test_leave_is_the_owners_where_nobody_else_is_named(nans):
    assert 'consent add --from "Nan Ashe" --plant' in nans("may propagate NAN", expect=1).out
    shown = nans.ask("consent add --plant NAN --may propagate --on 2025-05-01")
    assert (shown["from"], shown["made"]) == ("Nan Ashe", [])
    nans("take NAN --count 3 --number BAG")
    assert nans.ask("consent add --for BAG --may sell --on 2025-05-01")["from"] == "Nan Ashe"
    assert rows(nans, "may propagate NAN")["A3"] == "clear"


@pytest.mark.parametrize("owner", ["", "--owner me", "--owner unknown"])
def test_without_an_owner_on_record_it_is_asked_who_said_it(ortet, owner):
    ortet(f'plant add "Salvia pratensis" {owner} --number SAGE')
    assert "--from PERSON" in ortet.refused("consent add --plant SAGE --may propagate")


# --- C15 to C17, C20: what a rule lists, and where -----------------------------------------------


@pytest.mark.parametrize(
    ("taxon", "row", "words"),
    [
        ("Buddleja davidii", "C15", "A rule of US-OR lists Buddleja davidii: no propagating"),
        ("Buddleja", "C17", "A rule of US-OR lists all of Buddleja: no propagating"),
    ],
)
def test_verdict_c15_c17_say_what_is_listed_and_which_acts(ortet, taxon, row, words):
    ortet("plant add 'Buddleja davidii' --owner me --how bought --number BUD")
    ortet(
        f"restriction add '{taxon}' --in US-OR --acts 'sell propagate move=permit' --citation list"
    )
    told = text(ortet, "may sell BUD", row)
    assert words in told
    assert "no propagating or selling; moving with a permit" in told


def test_verdict_c20_an_order_names_its_sites(ortet):
    ortet("place add Nursery")
    ortet("place add 'North bench' --in Nursery")
    ortet("place add 'Far field'")
    for number, place in (("NEAR", "North bench"), ("FAR", "Far field")):
        ortet(
            "plant add 'Salvia pratensis' --new --owner me --how seed"
            f" --number {number} --place '{place}'"
        )
    order = "restriction add '*' --in US-OR --acts sell --kind quarantine --citation 'order 7'"
    shown = ortet.ask(f"{order} --site Nursery")["restrictions"][0]
    assert shown["sites"] == ["Nursery"]
    assert rows(ortet, "may sell NEAR")["C20"] == "barred"
    assert "C20" not in rows(ortet, "may sell FAR")
    assert "A plant-health order of US-OR" in text(ortet, "may sell NEAR", "C20")


def test_sites_come_from_a_list_too_and_must_be_places_on_record(ortet):
    ortet("place add Nursery")
    header = "taxon,territory,acts,citation,kind,site\n"
    Path("orders.csv").write_text(header + "*,US-OR,sell,order 7,quarantine,nursery\n")
    assert ortet.ask("restriction import orders.csv")["added"] == 1
    assert ortet.ask("restriction import orders.csv")["kept"] == 1
    Path("orders.csv").write_text(
        header + "*,US-OR,sell,order 7,quarantine,Nursrey\nBuddleja,US-OR,sell,x,weed,Nursery\n"
    )
    told = ortet.refused("restriction import orders.csv")
    assert "line 2\n    site: 'Nursrey' – no place on record" in told
    assert "line 3\n    site: 'Nursery' – only a plant-health order names sites" in told


# --- C22, E1, E2: what a country asks ------------------------------------------------------------


def test_verdict_e1_an_import_permit_that_is_asked(nans):
    post = "may give NAN --to-place CA --purpose private --papers phytosanitary"
    assert rows(nans, post)["E1"] == "conditional"
    assert "Whether an import permit is asked there is not on record" in text(nans, post, "E1")
    nans(
        "restriction asks CA --of plants --permit --said 'permit for more than 50'"
        " --source 'its ministry'"
    )
    assert rows(nans, post)["E1"] == "unknown"
    assert "no import permit is on record" in text(nans, post, "E1")
    assert rows(nans, f"{post} --papers import")["E1"] == "conditional"
    nans("restriction asks CA --of plants --no-permit --said none --source 'its ministry'")
    assert rows(nans, post)["E1"] == "conditional"


def test_verdict_e2_what_a_country_asks_of_seed(nans):
    post = "may give NAN --to-place CA --purpose private --seed"
    assert rows(nans, post)["E2"] == "unknown"
    assert "restriction asks CA --of seed" in nans(post, expect=1).out
    nans("restriction asks CA --of seed --said 'a list of what is in it' --source 'its ministry'")
    assert rows(nans, post)["E2"] == "conditional"
    assert "a list of what is in it" in text(nans, post, "E2")
    assert nans.ask("restriction list")["asks"][0]["of"] == "seed"


def test_verdict_c22_duties_of_a_crop_in_trade(nowhere):
    nowhere('init --grower "Jo Field" --country GB --began 2015-01-01')
    nowhere("plant add 'Solanum tuberosum' --owner me --how bought --number SPUD")
    line = "may propagate SPUD --purpose trade"
    assert rows(nowhere, line)["C22"] == "unknown"
    nowhere("settings set trade yes")
    nowhere("stick SPUD --count 4 --number TUBERS --open")
    asks = "restriction asks GB --of crop --said 'classified seed only' --source 'the ministry'"
    assert nowhere.ask(f"{asks} --taxon 'Allium cepa'")["settled"] == 0
    assert rows(nowhere, line)["C22"] == "unknown"
    assert nowhere.ask(f"{asks} --taxon 'Solanum tuberosum'")["settled"] == 1
    assert rows(nowhere, line)["C22"] == "conditional"
    assert "classified seed only" in text(nowhere, line, "C22")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("--of crop --permit", "not of a crop"),
        ("--of seed --taxon Allium", "belongs to --of crop"),
        ("--of crop --taxon '?!'", "no species or genus"),
    ],
)
def test_what_a_country_cannot_ask_is_refused(ortet, options, words):
    told = ortet.refused(f"restriction asks GB {options} --said x --source y")
    assert words in told
    assert "not a country" in ortet.refused("restriction asks Kent --of seed --said x --source y")


# --- C23: ending under an order ------------------------------------------------------------------


@pytest.fixture
def held(ortet: Ortet) -> Ortet:
    """Four pots, one of them on hold."""
    ortet("plant add 'Salvia pratensis' --owner me --how seed --number SAGE")
    ortet("stick SAGE --count 4 --number S --on 2025-06-01")
    ortet("pot-up S --count 4 --number POT --on 2025-08-01")
    ortet("hold add POT-1 --reason 'leaf spot' --authority 'plant health office'")
    return ortet


def test_verdict_c23_an_order_and_a_witness_destroy_what_is_held(held):
    refused = held("plant end POT-1 --how destroyed", expect=1).err
    assert "A hold lies on" in refused
    # A condition is told; it stops nobody.
    held("plant end POT-1 --how destroyed --order 'notice 12' --witness 'Inspector Hale'")
    assert held.ask("plant show POT-1")["status"] == "destroyed"
    assert held.ask("plant show POT-1")["order"] == "notice 12"


def test_verdict_c23_what_is_surrendered_names_its_order(held):
    assert "--order" in held.refused("plant end POT-1 --how surrendered")
    held("plant end POT-1 --how surrendered --order 'notice 12' --witness 'Inspector Hale'")
    assert held.ask("plant show POT-1")["status"] == "surrendered"
    tallied = {row["act"]: row["count"] for row in held.ask("tally --year 2026")["rows"]}
    assert tallied["surrendered"] == 1
    assert "is not there any more: surrendered" in held("may sell POT-1", expect=2).err


def test_verdict_c23_some_pots_of_a_batch_end_as_those_that_no_hold_stops(held):
    """Three of the four are free; the fourth is not."""
    held("plant end S --how culled --count 3")
    assert len(held.ask("plant list --status alive")["plants"]) == 5  # not said which
    held("correct last --void 'counted anew'")
    assert "A hold lies on" in held("plant end S --how culled --count 4", expect=1).err


# --- what cannot be -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("licence add PP30001 --from Lamp --may sell --in GB", "holds in US"),
        ("licence add PP30001 --from Lamp --may move", "no act that a licence can cover"),
        ("licence add PP30001 --from Lamp --may sell --limit '0 plants'", "A limit of none"),
        ("licence add PP30001 --from Lamp --may sell --royalty 0.35", "in which currency?"),
        (
            "licence add PP30001 --from Lamp --may sell --royalty '0.35 a plant'",
            "in which currency?",
        ),
        ("licence add PP30001 --from Lamp --may sell --notice ''", "--notice is empty"),
        ("licence add PP30001 --from Lamp --may ,", "--may is empty"),
        ("licence add PP30001 --from Lamp --may sell --said ' '", "--said is empty"),
        ("licence end 1 --on 2026-05-01", "no licence"),
        ("licence end 2 --on 2026-05-01", "no licence"),
        ("consent add --plant NAN --may , --said yes", "--may is empty"),
        ("consent withdraw 1 --on 2023-12-31", "before 1 January 2024"),
        ("right add eu-cpvr 1 --name 'Rosa x' --territory DE", "not in it alone"),
        ("right add us-plant-patent PP30009 --name ' '", "no name is given"),
        ("right add us-plant-patent PP30009 --name 'Rosa x' --source ''", "--source is empty"),
        (
            "right add ca-pbr 1 --name 'Rosa x' --ends 2030 --end-source ' '",
            "--end-source is empty",
        ),
        ("right add us-plant-patent PP30009 --name 'Rosa x' --filed 2027-01-01", "after today"),
        ("right add us-plant-patent PP30009 --name 'Rosa x' --adjust-days 7301", "as long as"),
        ("right event PP30001 --status stated-ended --source ' '", "--source is empty"),
        ("right lookup 'Rosa x' --in US --where '' --found none", "--where is empty"),
        ("restriction asks GB --of seed --said '' --source y", "--said is empty"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(licensed, line, words):
    licensed("plant add 'Rosa canina' --owner 'Nan Ashe' --number NAN")
    licensed("consent add --plant NAN --may propagate --on 2024-01-01")
    before = (licensed.ask("right list"), licensed.ask("licence list"))
    assert words in licensed.refused(line)
    assert (licensed.ask("right list"), licensed.ask("licence list")) == before, "nothing stored"


def test_an_adjustment_longer_than_the_wait_for_the_grant_is_told(ortet):
    """35 USC 154(b)(2)(A): it cannot exceed the delay in issuing (cautious reading)."""
    line = (
        'right add us-plant-patent PP30003 --name "Rosa x" --filed 2015-03-03 --granted 2015-03-10'
    )
    told = re.compile("Check: .*adjustment")
    assert told.search(ortet(f"{line} --adjust-days 8").out)
    ortet("correct last --void typed")
    assert not told.search(ortet(f"{line} --adjust-days 7").out)


def test_names_of_one_search_are_written_down_once_each(ortet):
    ortet(f'right lookup "{ROSE}" "Rosa \u2018Lane Lantern\u2019" --in US --where all --found none')
    assert len(ortet.ask("right list")["lookups"]) == 1


def test_a_licence_may_be_for_part_of_where_its_right_holds(ortet):
    """An EU right reaches every member state, and in the UK one of 2019 lives on (row B33)."""
    ortet(f'right add eu-cpvr 12345 --name "{ROSE}" --granted 2019-03-04')
    for place in ("EU", "NL", "GB"):
        ortet(f"licence add 12345 --from Lamp --may sell --in {place}")
    assert "holds in EU" in ortet.refused("licence add 12345 --from Lamp --may sell --in JP")


# --- suckers of a rootstock ----------------------------------------------------------------------

STOCK = "Prunus 'Lane Stock'"


@pytest.fixture
def grafted(ortet: Ortet) -> Ortet:
    """Nan's plum on a rootstock that is protected; leave for the tree is recorded."""
    ortet(
        f"plant add \"Prunus 'Lane Plum'\" --owner 'Nan Ashe' --rootstock \"{STOCK}\" --number PLUM"
    )
    ortet("consent add --plant PLUM --may propagate,give --not sell --on 2025-01-01")
    return ortet


def patented(ortet: Ortet, name: str) -> None:
    ortet(
        f'right add us-plant-patent PP30002 --name "{name}" --filed 2016-03-01 --granted 2018-05-08'
    )


def test_verdict_d3_a_sucker_goes_by_its_rootstock_and_leave_by_its_tree(grafted):
    line = "may propagate PLUM --from-rootstock"
    assert rows(grafted, line) == {"A3": "clear", "B36": "unknown"}
    patented(grafted, "Prunus 'Lane Plum'")
    assert "B1" not in rows(grafted, line)
    grafted("stick PLUM --from-rootstock --count 3 --number SUCK --on 2025-06-01 --open")
    grafted("pot-up SUCK --count 3 --number POT --on 2025-09-01")
    shown = grafted.ask("plant show POT-1")
    assert shown["name"] == "Prunus ‘Lane Stock’"
    assert [parent["role"] for parent in shown["parents"]] == ["source", "sucker of"]
    found = rows(grafted, "may sell POT-1")
    assert (found["A6"], found.get("B1")) == ("barred", None)
    assert rows(grafted, "may give POT-1 --purpose private")["A3"] == "clear"


def test_verdict_d3_a_right_on_the_rootstock_stops_its_suckers(grafted):
    patented(grafted, STOCK)
    assert rows(grafted, "may propagate PLUM --from-rootstock")["B1"] == "barred"
    assert "B1" not in rows(grafted, "may propagate PLUM")
    refused = grafted("stick PLUM --from-rootstock --count 3 --open", expect=1).err
    assert "PP30002 is in force" in refused


def test_a_sucker_of_a_tree_whose_rootstock_nobody_knows_is_not_named(ortet):
    ortet("plant add \"Rosa 'Lane Lantern'\" --owner me --how bought --number ROSE")
    assert rows(ortet, "may propagate ROSE --from-rootstock")["C12"] == "unknown"
    ortet("divide ROSE --from-rootstock --count 1 --number SUCK --on 2025-06-01 --open")
    ortet("pot-up SUCK --count 1 --number POT --on 2025-09-01")
    assert ortet.ask("plant show POT")["name"] == "name not known"
    ortet("divide ROSE --from-rootstock --count 1 --number MORE --on 2025-07-01 --open")
    plants = ortet.ask("plant list")["plants"]
    assert len(plants) == 3  # no second rootstock was made
    (stock,) = [plant["code"] for plant in plants if plant["status"] == "rootstock"]
    ortet(f"plant name {stock} \"Rosa 'Lane Stock'\"")
    assert ortet.ask("plant show POT")["name"] == "Rosa ‘Lane Stock’"


def test_a_sucker_that_stands_is_put_on_record_with_its_tree(grafted):
    grafted(f'plant add "{STOCK}" --sucker-of PLUM --number SUCK')
    shown = grafted.ask("plant show SUCK")
    assert (shown["name"], shown["received_as"]) == ("Prunus ‘Lane Stock’", None)
    assert {p["role"] for p in shown["parents"]} == {"source", "sucker of"}
    grafted("plant name SUCK \"Prunus 'Lane Other'\" --grounds 'its leaves'")
    assert rows(grafted, "may give SUCK --purpose private")["A3"] == "clear"


def test_from_rootstock_is_for_propagating(grafted):
    assert "may propagate" in grafted.refused("may sell PLUM --from-rootstock")


# --- may --again ---------------------------------------------------------------------------------


def test_again_asks_of_pots_that_left_by_count_too(ortet):
    ortet("plant add 'Salvia pratensis' --owner me --how seed --number SAGE")
    ortet("stick SAGE --lot 3,soft --lot 3,firm --number S --on 2025-06-01")
    ortet("pot-up S --count A=3,B=3 --number POT --on 2025-08-01")
    ortet("give S --count 2 --purpose private --on 2025-09-01")
    (given,) = [one for one in ortet.ask("may S --again")["again"] if one["act"] == "give"]
    assert (given["verdict"], given["now"], given["added"]) == ("clear", "clear", [])
    ortet("restriction add 'Salvia' --in US-OR --acts give --citation x --since 2020-01-01")
    again = said(ortet, "may S --again")["again"]
    (given,) = [one for one in again if one["act"] == "give"]
    assert (given["now"], [f["row"] for f in given["added"]]) == ("barred", ["C17"])
    assert [one["act"] for one in said(ortet, "may POT-1 --again")["again"]] == [
        "propagate", "give",
    ]  # fmt: skip
