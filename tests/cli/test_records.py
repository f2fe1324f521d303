"""Registry, people, places, plants, notes and files, as they are typed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from registry.storage.chain import unpack
from registry.storage.engine import make_engine
from tests import homes
from tests.typed import Ortet

PLANT_SHOW = {"code", "name", "received_as", "status", "parents", "batch", "place"}
"""Documented keys; programs lean on them."""


def texts(ortet: Ortet) -> set[str]:
    """The words of every note that is kept, personal ones too."""
    with make_engine(ortet.path).connect() as connection:
        return set(
            connection.exec_driver_sql(
                "SELECT text FROM note UNION SELECT value FROM sealed"
            ).scalars()
        )


class TestInit:
    def test_it_says_where_the_registry_is_and_what_comes_next(self, nowhere):
        answer = nowhere("init --country us --region us-or", "--grower", "Jo Field")
        first, second, third = answer.out.splitlines()
        assert first == f"Jo Field's registry (US, US-OR) is in {nowhere.path}"
        assert second.startswith("Acts before 14 May 2026")
        assert "ortet stick" in third

    @pytest.mark.parametrize(
        ("country", "hemisphere", "currency"),
        [("US", "north", "USD"), ("NZ", "south", "NZD"), ("DE", "north", "EUR")],
    )
    def test_seasons_and_money_go_by_the_country(self, nowhere, country, hemisphere, currency):
        """ISO 4217 for the currencies; seasons from memory."""
        nowhere(f"init --grower Jo --country {country}")
        shown = nowhere.ask("settings show")
        assert (shown["hemisphere"], shown["currency"]) == (hemisphere, currency)

    @pytest.mark.parametrize(
        ("hemisphere", "shown"), [("south", "summer 2024/25"), ("north", "summer 2024\n")]
    )
    def test_seasons_run_as_was_said(self, nowhere, hemisphere, shown):
        """A southern summer begins in December and ends in the next year."""
        nowhere(f"init --grower Jo --country KE --hemisphere {hemisphere} --began 2020-01-01")
        nowhere("plant add fig --on", "summer 2024")
        assert shown in nowhere("plant show last").out

    @pytest.mark.parametrize(
        "call",
        [
            "init --grower Jo --country Atlantis",
            "init --grower Jo --country US --region GB-LND",
            "init --grower Jo --country US --currency dollars",
            "init --grower ' ' --country US",
            "init --grower Jo --country US --began 2025-02-30",
            "init --grower Jo --country US --began",
        ],
    )  # fmt: skip
    def test_what_is_wrong_leaves_nothing_behind(self, nowhere, call):
        nowhere.refused(call)
        assert list(nowhere.folder.iterdir()) == []

    def test_an_open_beginning_is_no_day(self, nowhere):
        nowhere.refused("init --grower Jo --country US --began", "before 2020")

    def test_a_registry_stands_there(self, ortet):
        before = ortet.head()
        assert str(ortet.path) in ortet.refused("init --grower Nan --country US")
        assert ortet.head() == before

    def test_a_folder_that_was_named_must_be_there(self, nowhere, tmp_path):
        """A typing error makes no folders."""
        said = nowhere.refused(
            "init --grower Jo --country US --registry", str(tmp_path / "typo" / "r.sqlite")
        )
        assert "typo" in said
        assert not (tmp_path / "typo").exists()

    def test_codes_are_as_wide_as_was_chosen(self, nowhere):
        nowhere("init --grower Jo --country US --number-width 6 --plant-width 4")
        nowhere("plant add fig")
        assert re.fullmatch(r"26-000001-0001-[\dX]", nowhere.ask("plant show last")["code"])


class TestSettings:
    def test_one_is_set_and_shown(self, ortet):
        ortet("settings set site https://jo.example/plants/")
        ortet("settings set trade yes")
        shown = ortet.ask("settings show")
        assert (shown["site"], shown["trade"]) == ("https://jo.example/plants", True)

    @pytest.mark.parametrize(
        ("call", "said"),
        [
            ("settings set colour red", "colour"),
            ("settings set site jo.example", "http"),
            ("settings set trade perhaps", "yes or no"),
            ("settings set currency Euro", "three letters"),
            ("settings set hemisphere east", "north or south"),
            ("settings set trade yes --note 'from now on'", "note"),
        ],
    )
    def test_what_cannot_be_is_refused(self, ortet, call, said):
        assert said in ortet.refused(call)


class TestPeople:
    def test_two_who_share_a_name_are_told_apart(self, ortet):
        ortet("person add 'Nan Ashe' --contact 'the corner house'")
        said = ortet("person add 'nan ashe'").out
        assert said.startswith("nan ashe #2 is on record.\n")
        said = ortet.refused("plant add fig --owner 'Nan Ashe'")
        assert "'Nan Ashe #1' (the corner house)" in said
        assert "'Nan Ashe #2'" in said
        ortet("plant add fig --owner 'Nan Ashe #2'")
        listed = ortet.ask("person list")["people"]
        assert [one["name"] for one in listed] == ["Jo Field", "Nan Ashe #1", "nan ashe #2"]

    def test_a_second_one_who_is_not_there_is_not_made(self, ortet):
        ortet("person add 'Nan Ashe'")
        assert "Nan Ashe #3" in ortet.refused("plant add fig --owner 'Nan Ashe #3'")

    def test_a_name_is_found_however_it_is_typed(self, ortet):
        ortet("plant add fig --owner 'Nan Ashe'")
        assert ortet.ask("person show 'NAN  ASHE'")["plants"][0]["name"] == "fig"

    def test_plants_alike_in_a_row_stand_in_one_line_of_the_list(self, ortet):
        ortet("plant add fig --how bought --count 4")
        ortet("plant add fig --new --how bought")
        ortet("plant end 1:4 --how died")
        _, *rows = ortet("plant list").out.splitlines()
        assert [row.split("  ")[0] for row in rows] == [
            "26-0001-001-8 to 26-0001-003-4",
            "26-0001-004-2",
            "26-0002-001-3",
        ]
        assert len(ortet.ask("plant list")["plants"]) == 5

    def test_a_persons_plants_are_called_what_they_are_today(self, ortet):
        ortet("plant add fig --owner 'Nan Ashe'")
        ortet("plant name 1:1 'Ficus carica' --grounds fruit")
        assert ortet.ask("person show 'Nan Ashe'")["plants"][0]["name"] == "Ficus carica"

    def test_the_list_of_people_has_their_contact_in_json_too(self, ortet):
        ortet("person add 'Nan Ashe' --contact 'the corner house'")
        people = {one["name"]: one["contact"] for one in ortet.ask("person list")["people"]}
        assert people == {"Jo Field": None, "Nan Ashe": "the corner house"}

    def test_one_whom_nobody_knows_is_said_with_those_like_it(self, ortet):
        ortet("person add 'Nan Ashe'")
        assert "Nan Ashe" in ortet.refused("person show 'Nan Ash'")

    @pytest.mark.parametrize("call", ["person add ''", "person add ' -- '", "person show ''"])
    def test_an_empty_name(self, ortet, call):
        assert "empty" in ortet.refused(call)

    def test_details_stay_out_of_the_chain(self, ortet):
        """The chain holds their salted hash alone, so that they can be blanked."""
        ortet("person add 'Wilhelmina Ashe' --contact 'wilhelmina@example.org'")
        with make_engine(ortet.path).connect() as connection:
            parts = connection.exec_driver_sql("SELECT body FROM chain_part").scalars().all()
        chained = str([list(unpack(body)) for body in parts])
        assert "person" in chained
        assert "ilhelmina" not in chained


class TestPlaces:
    def test_they_are_added_in_one_another_renamed_and_listed(self, ortet):
        ortet("place add garden --hidden")
        ortet("place add 'bench 2' --in garden")
        ortet("place rename 'Bench 2' 'cold frame'")
        assert ortet.ask("place list")["places"] == [
            {"name": "cold frame", "in": "garden", "hidden": False},
            {"name": "garden", "in": None, "hidden": True},
        ]

    @pytest.mark.parametrize(
        "call",
        [
            "place add ''",
            "place add garden",
            "place add bench --in nowhere",
            "place rename garden ''",
            "place rename nowhere somewhere",
            "place add bench --photo none.jpg",
        ],
    )
    def test_what_cannot_be_is_refused(self, ortet, call):
        ortet("place add garden")
        ortet.refused(call)


class TestPlantAdd:
    def test_every_option_has_a_place_of_its_own(self, ortet):
        ortet(
            "plant add 'pear, old' --owner 'Town council' --how found --source 'Ida Moss'"
            " --origin cultivated --stood-since 1962 --since-source 'Ida Moss' --number T7"
            " --number-by 'Town council' --rootstock quince --alive unsure --place 'church yard'"
            " --on 'May 2019'"
        )
        shown = ortet.ask("plant show T7")
        assert set(shown) >= PLANT_SHOW
        facts = ("name", "received_as", "status", "owner", "how", "source", "origin", "since",
                 "since_source", "numbers", "place", "got", "batch")  # fmt: skip
        assert [shown[fact] for fact in facts] == [
            "pear, old", "pear, old", "unsure", "Town council", "found", "Ida Moss", "cultivated",
            "1962", "Ida Moss", ["T7"], "church yard", "2019-05", None,
        ]  # fmt: skip
        assert [(one["role"], one["name"]) for one in shown["parents"]] == [("rootstock", "quince")]

    @pytest.mark.parametrize("how", ["bought", "given", "swap", "seed"])
    def test_what_came_to_the_grower_is_the_growers(self, ortet, how):
        ortet(f"plant add fig --how {how}")
        assert ortet.ask("plant show last")["owner"] == "Jo Field"

    @pytest.mark.parametrize(
        "more", ["", "--how found", "--how lent", "--how bought --owner unknown"]
    )
    def test_else_whose_it_is_is_not_recorded(self, ortet, more):
        """Never a silent 'me'."""
        ortet(f"plant add fig {more}")
        assert ortet.ask("plant show last")["owner"] is None
        assert "not recorded" in ortet("plant show last").out

    def test_several_that_came_together_are_numbered_as_in_a_batch(self, ortet):
        made = ortet.ask("plant add fig --count 3 --rootstock quince --number F")["made"]
        assert len({one["code"] for one in made}) == 3
        for one in made:
            assert len(ortet.ask(f"plant show {one['code']}")["parents"]) == 1

    def test_a_near_name_is_refused_with_its_code_unless_it_is_another(self, ortet):
        """The same matching key, or the same owner and at most two letters' difference."""
        ortet("plant add 'red hydrangea' --owner 'Nan Ashe'")
        code = ortet.ask("plant show last")["code"]
        assert code in ortet.refused("plant add 'Red  Hydrangea' --owner me")
        assert code in ortet.refused("plant add 'red hydranga' --owner 'Nan Ashe'")
        ortet("plant add 'red hydranga' --owner me")
        ortet("plant add 'red hydrangea' --owner 'Nan Ashe' --new")
        assert len(ortet.ask("plant list")["plants"]) == 3

    def test_a_name_that_was_determined_is_near_as_well(self, ortet):
        ortet("plant add 'pink thing' --owner me")
        ortet("plant name last \"Fuchsia 'Lane Ember'\"")
        assert "26-0001" in ortet.refused("plant add \"fuchsia 'lane ember'\"")

    @pytest.mark.parametrize(
        ("call", "said"),
        [
            ("plant add ''", "nothing to name"),
            ("plant add fig --count 0", "--count"),
            ("plant add fig --count -1", "--count"),
            ("plant add fig --on '30 February 2025'", "February"),
            ("plant add fig --on '14 May'", "2026"),
            ("plant add fig --on 4/5/25", "more than one way"),
            ("plant add fig --part-of 99", "99"),
            ("plant add fig --how stolen", "--how"),
            ("plant add fig --photo none.jpg", "none.jpg"),
            ("plant add 'fig <b>'", "<"),
        ],
    )
    def test_what_cannot_be_is_refused(self, ortet, call, said):
        assert said in ortet.refused(call)
        assert ortet.ask("plant list") == {"plants": []}


class TestCodes:
    def test_a_wrong_digit_says_which_plants_it_could_be(self, ortet):
        ortet("plant add fig")
        code = ortet.ask("plant show last")["code"]
        wrong = code[:4] + "7" + code[5:]
        said = ortet.refused(f"plant show {wrong}")
        assert wrong in said
        assert code in said

    @pytest.mark.parametrize("typed", ["99", "26-0099-001-5", "NAN-1", "nothing7", "last"])
    def test_one_that_is_not_on_record(self, ortet, typed):
        assert typed in ortet.refused(f"plant show {typed}")

    def test_a_batch_is_not_one_plant(self, ortet):
        ortet("plant add fig --count 2 --number F")
        assert "one plant" in ortet.refused("plant show F")


class TestNaming:
    def test_a_new_name_is_beside_the_received_one(self, ortet):
        ortet("plant add 'pink thing' --owner me --number P")
        answer = ortet(
            "plant name P \"Fuchsia 'Lane Ember'\" --grounds flower --said-by 'Ida Moss'"
        )
        assert "Fuchsia ‘Lane Ember’ (was: pink thing)" in answer.out
        shown = ortet.ask("plant show P")
        assert (shown["name"], shown["received_as"]) == ("Fuchsia ‘Lane Ember’", "pink thing")
        assert shown["names"] == [
            {
                "name": "Fuchsia ‘Lane Ember’",
                "grounds": "flower",
                "on": "2026-05-14",
                "sure": None,
                "verified": "seen in flower or fruit",
                "by": "Ida Moss",
                "sport": False,
                "of": None,
            }
        ]

    def test_all_of_its_clone_follows(self, ortet):
        ortet("plant add 'pink thing' --owner me --number P")
        ortet("stick P --count 4 --open")
        ortet("pot-up last --count 3")
        answer = ortet.ask("plant name P \"Fuchsia 'Lane Ember'\"")
        assert answer["descendants"] == 3
        names = {plant["name"] for plant in ortet.ask("plant list")["plants"]}
        assert names == {"Fuchsia ‘Lane Ember’"}

    def test_every_name_stays_findable(self, ortet):
        ortet("plant add 'pink thing' --owner me --number P1")
        ortet("plant name P1 \"Fuchsia 'Lane Ember'\"")
        code = ortet.ask("plant show P1")["code"]
        for typed in ("pink", "lane ember", "fuchsia", "P1", code[:7]):
            found = ortet.ask("plant list --name", typed)["plants"]
            assert [one["code"] for one in found] == [code], typed

    @pytest.mark.parametrize("call", ["plant name F fuchsia", "plant name P ''"])
    def test_what_cannot_be_is_refused(self, ortet, call):
        ortet("plant add fig --count 2 --number F")
        ortet("plant add 'pink thing' --number P")
        ortet.refused(call)


@pytest.fixture
def potted(ortet):
    """Batch B: eight pots of lot A and four of lot B."""
    ortet("plant add fig --owner me --number F")
    ortet("stick F --lot 10,soft --lot 6,firm --number B --open")
    ortet("pot-up B --count A=8,B=4")
    return ortet


def living(ortet) -> int:
    return len(ortet.ask("plant list --status alive")["plants"]) - 1  # without the fig


class TestEnding:
    def test_a_plant_ends_with_a_day_a_reason_and_a_witness(self, ortet):
        ortet("plant add fig --number F")
        answer = ortet("plant end F --how destroyed --reason 'an order' --witness 'Ida Moss'"
                       " --on 'May 2026'")  # fmt: skip
        assert re.fullmatch(r"destroyed: 26-0001-001-., May 2026\.\n", answer.out)
        assert ortet.ask("plant show F")["status"] == "destroyed"

    def test_it_ends_once(self, ortet):
        ortet("plant add fig --number F")
        ortet("plant end F --how died --on 2026-05-01")
        assert "died, 1 May 2026" in ortet.refused("plant end F --how culled")

    def test_some_of_a_lots_pots_end_and_nobody_says_which(self, potted):
        code = potted.ask("batch show B")["lots"][0]["code"]
        answer = potted.ask(f"plant end {code} --how died --count 3")
        assert answer == {"plants": [], "how": "died", "count": 3}
        assert living(potted) == 12, "each may still be one of those that stand"

    def test_no_more_end_than_are_left_after_those(self, potted):
        code = potted.ask("batch show B")["lots"][0]["code"]
        potted(f"plant end {code} --how died --count 3")
        assert "5 are left" in potted.refused(f"plant end {code} --how died --count 6")
        assert "left" in potted.refused(f"plant end {code} --how died")

    def test_pots_named_one_by_one_are_no_more_than_are_left_either(self, potted):
        batch = potted.ask("batch show B")
        potted(f"plant end {batch['lots'][0]['code']} --how died --count 7")
        potted(f"plant end {batch['lots'][1]['code']} --how died --count 3")
        assert "2 are left" in potted.refused("plant end 2:1-3 --how culled")

    def test_a_count_of_a_batch_with_several_lots_asks_of_which(self, potted):
        assert "A or B" in potted.refused("plant end B --how died --count 3")

    def test_a_batch_ends_whole(self, potted):
        assert potted.ask("plant end B --how culled")["count"] == 12
        assert living(potted) == 0

    def test_a_count_of_plants_that_were_named_is_refused(self, ortet):
        """It must not end all of them."""
        ortet("plant add fig --count 5 --number F")
        ortet.refused("plant end F --how died --count 2")
        assert len(ortet.ask("plant list --status alive")["plants"]) == 5

    def test_a_note_stays_with_what_ended(self, potted):
        code = potted.ask("batch show B")["lots"][0]["code"]
        potted(f"plant end {code} --how died --count 3 --note 'vine weevil'")
        assert "vine weevil" in texts(potted)


class TestNotesAndFiles:
    def test_words_are_kept(self, ortet):
        ortet("plant add fig --number F --note 'by the wall'")
        ortet("note F 'fruited well' --on 'September 2025'")
        assert ortet.ask("plant show F")["notes"] == ["by the wall", "fruited well"]

    def test_a_file_is_kept_with_its_bytes(self, ortet, tmp_path):
        (tmp_path / "fig.jpg").write_bytes(b"\xff\xd8 a picture")
        ortet("plant add fig --number F --photo", str(tmp_path / "fig.jpg"))
        ortet("plant add quince --number Q")
        answer = ortet.ask("attach Q fig.jpg --note 'from the south'")
        assert answer["bytes"] == 12
        shown = ortet.ask("plant show Q")
        assert shown["files"] == ortet.ask("plant show F")["files"] == ["fig.jpg"]
        assert shown["notes"] == ["from the south"]
        with make_engine(ortet.path).connect() as connection:
            kept = connection.exec_driver_sql("SELECT bytes FROM blob").scalars().all()
        assert kept == [b"\xff\xd8 a picture"], "kept once"

    def test_a_note_takes_a_photo(self, ortet, tmp_path):
        (tmp_path / "leaf.png").write_bytes(b"leaf")
        ortet("plant add fig --number F")
        ortet("note F spots --photo", str(tmp_path / "leaf.png"))
        assert ortet.ask("plant show F")["files"] == ["leaf.png"]

    def test_notes_on_people_and_places_are_kept(self, ortet):
        ortet("person add Nan --note 'asks for plums in autumn'")
        ortet("place add bench --note 'shaded from noon'")
        assert {"asks for plums in autumn", "shaded from noon"} <= texts(ortet)

    @pytest.mark.parametrize(
        "call", ["note F ''", "note F2 'x'", "attach F none.jpg", "attach F .", "note 1:1-9 x"]
    )
    def test_what_cannot_be_is_refused(self, ortet, call):
        ortet("plant add fig --number F")
        ortet.refused(call)


def test_the_entry_tells_the_day_of_the_act(ortet):
    ortet("plant add fig --number F --on 'May 2024'")
    ortet("note F x --on 2025-03-01")
    with make_engine(ortet.path).connect() as connection:
        rows = connection.exec_driver_sql(
            "SELECT json_extract(header, '$.happened') FROM chain_entry ORDER BY seq"
        ).scalars()
        assert list(rows)[-2:] == ["2024-05", "2025-03-01"]


def test_a_tables_lines_are_for_eyes(ortet, tmp_path: Path):
    """What a grower sees first: code, then name; nothing where nothing is known."""
    ortet("plant add 'fig from the wall' --owner me --place bench --number F1")
    lines = ortet("plant list").out.splitlines()
    assert lines[0].split() == ["code", "name", "status", "place", "own", "number"]
    assert re.fullmatch(r"26-0001-001-.  fig from the wall  alive   bench  F1", lines[1])


def test_a_grower_person_place_or_tool_may_be_called_only_x(tmp_path, ortet):
    """The letter is a hybrid sign in a plant's name only."""
    own = replace(ortet, path=homes.empty(tmp_path / "of-x.sqlite"))
    own("init --grower X --country US")
    assert own("person show x").out.startswith("X")
    ortet("person add X")
    assert "X" in ortet("person show x").out
    ortet("place add X")
    ortet('stick "white lilac" --owner X --count 3 --place x --tool X --open')
    assert ortet.ask("tool show X")["name"] == "X"
    assert [one["name"] for one in ortet.ask("place list")["places"]] == ["X"]
    ortet("verify")
    for nothing in ("person add", "place add"):
        assert ortet.refused(nothing, "×")
