"""The page on permission is run: its list, its right, its licence and its acts are what it says."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from tests.typed import Ortet

PAGE = (Path(__file__).parents[2] / "docs" / "permission.md").read_text(encoding="utf-8")
CODE = re.sub(r"\\\n +", " ", PAGE)


def lines(starting: str) -> list[str]:
    """The commands of the page that start so, without what is said beside them."""
    found = re.findall(rf"^    (ortet {starting}.*)$", CODE, re.MULTILINE)
    assert found, f"the page shows no 'ortet {starting}'"
    return [re.split(r" {3,}", line)[0].removeprefix("ortet ") for line in found]


@pytest.fixture
def rose(ortet: Ortet) -> Ortet:
    ortet("plant add \"Rosa 'Lane Lantern'\" --owner me --how bought --number ROSE-1")
    ortet("plant add 'Quercus robur' --number OAK-1")
    return ortet


def test_the_list_of_the_page_is_read(ortet):
    block = re.search(r"    (taxon,.*?)\n\n", PAGE, re.DOTALL)
    assert block is not None
    Path("list.csv").write_text(block[1].replace("\n    ", "\n"))
    (line,) = lines("restriction import")
    assert ortet.ask(line)["added"] == 3
    one, order = lines("restriction add")
    ortet(one)
    assert "'Nursery' – no place on record" in ortet.refused(order)
    ortet(lines("place add")[0])
    ortet(order)
    for line in lines("restriction asks"):
        ortet(line)
    told = ortet.ask("restriction list")
    assert (len(told["restrictions"]), len(told["asks"])) == (5, 3)


def test_the_right_the_licence_and_what_came_of_it(ortet):
    for start in ("right add", "licence add", "licence end", "right event", "right lookup"):
        for line in lines(start):
            ortet(line)
    assert ortet.ask("licence list")["licences"][0]["may"]


def test_what_came_with_a_plant_and_what_is_asked(rose):
    for line in lines("came"):
        rose(line)
    assert len(rose.ask("came ROSE-1")["facts"]) == 7
    for line in lines("may"):
        if "ROSE-1" in line and "--again" not in line:
            rose(line, expect=1)
    assert rose.ask("may ROSE-1 --again")["again"] == []


def test_what_an_owner_asks_in_turn_and_suckers_and_orders(ortet):
    ortet("plant add 'red hydrangea' --owner 'Nan Ashe' --number NAN-1")
    for line in lines("consent add --plant"):
        assert ortet.ask(line)["from"] == "Nan Ashe"
    ortet("plant add \"Prunus 'Lane Plum'\" --owner me --number PLUM-1")
    ortet(lines("may propagate PLUM-1")[0], expect=1)
    for start in ("stick PLUM-1", "plant add"):
        for line in lines(start):
            ortet(line)
    for number in ("POT-1", "POT-2"):
        ortet(f"plant add 'Salvia pratensis' --new --owner me --number {number}")
    for start in ("hold add", "plant end"):
        for line in lines(start):
            ortet(line)


def test_every_option_of_the_page_is_there(ortet):
    groups = {"right", "restriction", "licence", "consent", "plant", "hold", "place"}
    for line in lines(""):
        words = shlex.split(line)
        command = words[:2] if words[0] in groups else words[:1]
        told = ortet(f"{' '.join(command)} --help").out
        for option in (word for word in words if word.startswith("--")):
            assert option in told, line
