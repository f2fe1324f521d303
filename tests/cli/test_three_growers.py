"""Three growers through a year: how often each is stopped, asked, or told no, and why.

A tool that stops people for what they cannot know teaches them to leave it off, so the numbers
are held here: an honest grower is asked once for each reason, and never twice for the same.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from tests.typed import Ortet


@dataclass
class Year:
    """What happened to a grower in a year.

    Attributes:
        asked: rows that were noted as open, once `--open` was given.
        stopped: acts that did not go on without `--open`.
        told_no: rows of acts that needed a written reason.
    """

    ortet: Ortet
    asked: Counter[str] = field(default_factory=Counter)
    stopped: int = 0
    told_no: Counter[str] = field(default_factory=Counter)

    def does(self, line: str, *more: str, reason: str | None = None) -> None:
        """An act: plain at first; with `--open` where that is all it takes; else with a reason."""
        try:
            self.ortet(line, *more)
            return
        except AssertionError:
            refused = self.ortet(line, *more, "--json", expect=1)
        self.stopped += 1
        if "--open" in refused.err:
            told = self.ortet.ask(line + " --open", *more)
            self.asked.update({question["row"] for question in told["questions"]})
            return
        assert reason is not None, refused.err
        self.told_no.update({f["row"] for f in refused.json["findings"] if f["level"] != "clear"})
        self.ortet(line, *more, "--anyway", reason)


def test_one_bag_from_a_neighbour(ortet):
    """Cuttings over the fence: one question in the year, and none of it a no."""
    year = Year(ortet)
    year.does('stick "red hydrangea" --owner "Nan Ashe" --count 12 --number BAG')
    year.does("look BAG --rooted 8 --on 2026-05-14")
    year.does("pot-up BAG --count 8 --number POT")
    year.does("stick BAG --count 6 --number SECOND")  # of her own pots, from the same bag
    year.does("give POT-1 --to 'Ann Lee' --purpose private")
    assert year.stopped <= 2
    assert set(year.asked) <= {"A2", "C12"}
    assert all(times == 1 for times in year.asked.values())
    assert not year.told_no
    ortet('consent add --from "Nan Ashe" --plant last --may propagate,give,sell --on 2026-05-14')


def test_a_neighbour_can_answer_how_long_it_has_stood(ortet):
    """B37: `--stood-since` with whose word that is clears the rights, and nothing else is asked."""
    ortet(
        'plant add "old pink rose" --owner "Nan Ashe" --number ROSE --stood-since 1950 '
        '--since-source "Nan: it was here when her mother came"'
    )
    ortet("consent add --from 'Nan Ashe' --plant ROSE --may propagate,sell --on 2024-01-01")
    answer = ortet.ask("may sell ROSE")
    assert answer["verdict"] == "clear"
    assert "B37" in {finding["row"] for finding in answer["findings"]}


def test_a_garden_plant_under_a_bare_name_comes_to_what_the_rows_say(ortet):
    """C12 for a genus alone, B41 for a bare species; neither is barred."""
    ortet('plant add "Hydrangea sp." --owner me --how bought --number GENUS')
    ortet('plant add "Hydrangea macrophylla" --owner me --how bought --number SPECIES')
    genus = ortet.ask("may sell GENUS", expect=1)
    assert (genus["verdict"], genus["findings"][0]["row"]) == ("unknown", "C12")
    species = ortet.ask("may sell SPECIES")
    assert (species["verdict"], species["findings"][0]["row"]) == ("conditional", "B41")
    assert ortet.ask("may give SPECIES --purpose private")["verdict"] == "clear"


def test_a_swap_table_with_150_pots(ortet):
    """A club's table: asked at most once for each reason, however many pots."""
    year = Year(ortet)
    names = ("Hydrangea macrophylla", "Salvia nemorosa", "Lavandula angustifolia")
    for n, name in enumerate(names, 1):
        ortet("plant add --owner me --how bought --number", f"MOTHER{n}", name)
        year.does(f"stick MOTHER{n} --count 60 --number B{n}")
        year.does(f"look B{n} --rooted 50")
        year.does(f"pot-up B{n} --count 50")
        year.does(
            f"swap B{n} --count 50 --at 'spring table' --got 'Fuchsia magellanica'",
            reason="nobody knows more of it",
        )
    assert year.stopped == 0, (year.asked, year.told_no)


def test_a_swap_table_of_plants_nobody_could_name(ortet):
    """150 pots of unnamed plants of a neighbour: one reason for a request, the pots don't count."""
    year = Year(ortet)
    year.does('stick "Hydrangea sp." --owner "Nan Ashe" --count 160 --number B')
    year.does("look B --rooted 150")
    year.does("pot-up B --count 150")
    for _ in range(3):
        year.does("swap B --count 50 --got 'Fuchsia magellanica'", reason="a friends' table")
    assert year.asked == Counter({"A2": 1, "C12": 1})
    assert year.stopped == 1 + 3  # taking once, and each time that a table is set
    assert set(year.told_no) == {"A2", "C12"}


def test_a_licensed_micro_nursery(ortet):
    """A patented shrub under a licence: conditions are told, nothing is refused within it."""
    name = "Hydrangea paniculata 'Lane Lamp'"
    year = Year(ortet)
    ortet("settings set trade yes")
    ortet("right add us-plant-patent PP30001 --filed 2015-03-03 --granted 2017-05-09 --name", name)
    ortet("right lookup --in US --where 'patents and certificates' --found none", name)
    ortet(
        "licence add PP30001 --from 'Lamp Plants Inc' --may propagate,sell --in US "
        "--limit '100 plants a year' --royalty '0.35 USD a plant sold' --notice 'PP30001' "
        "--on 2026-01-01 --until 2030-12-31"
    )
    ortet("plant add --owner me --how bought --number LINER", name)
    ortet("came LINER --supplier licensed --bought-in US")
    year.does("stick LINER --count 120 --number ROOM")
    year.does("look ROOM --rooted 110")
    year.does("pot-up ROOM --count 110 --number POT")
    for _ in range(4):
        year.does("sell ROOM --count 20 --at market --price '9 USD'")
    assert year.stopped == 0, (year.asked, year.told_no)
    sold = ortet.ask("may sell POT-1")
    assert sold["verdict"] == "conditional"
    assert "0.35 USD" in next(f["text"] for f in sold["findings"] if f["row"] == "B14")
    year.does("sell ROOM --count 21 --at market", reason="holder agreed by telephone")
    assert year.stopped == 1
    assert set(year.told_no) == {"B1"}  # beyond its number a licence is none (B15)


def test_questions_are_worked_off_by_name_by_person_and_by_row(ortet):
    for number in ("ONE", "TWO"):
        ortet(f'stick "Hydrangea {number.lower()}" --new --owner "Nan Ashe" --count 3 --open '
              f"--number {number}")  # fmt: skip
        ortet(f"look {number} --rooted 2")
        ortet(f"pot-up {number} --count 2")
    by_person = ortet.ask("due --questions --by person")["groups"]
    nan = next(group for group in by_person if group["what"] == "Nan Ashe")
    assert len(nan["questions"]) == 2
    assert nan["waiting"] == 6  # two mother plants, four pots
    by_row = {group["what"]: group for group in ortet.ask("due --questions --by row")["groups"]}
    assert "A2" in by_row
    assert len(by_row["A2"]["questions"][0]["waiting"]) == 3
    assert len(ortet.ask("due --by name")["groups"]) == 2
    assert "Nan Ashe" in ortet("due --questions --by person").out
    sources = [q["plant"] for q in by_row["A2"]["questions"]]
    ortet("settle --cannot 'owner died' --row A2", *sources)
    left = {group["what"] for group in ortet.ask("due --questions --by row")["groups"]}
    assert "A2" not in left
