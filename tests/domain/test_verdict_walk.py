"""The walk up the line: as deep as a line may be, and what it makes of a broken one."""

import sys

import pytest

from registry.domain.verdict import Level, judge
from registry.domain.verdict.facts import Act, Asked, Edge, EdgeRole, Lot, Plant
from tests.domain.dossiers import ask, dossier, mine

DEEP = sys.getrecursionlimit() * 2
FOUNDER = 1


def line(length, *, choice=None):
    """Plants and lots in turn, each node drawn from the one before it."""
    plants = {FOUNDER: mine(id=FOUNDER)}
    plants |= {node: Plant(node) for node in range(3, length + 1, 2)}
    lots = {node: Lot(node) for node in range(2, length + 1, 2)}
    edges = tuple(
        Edge(
            node - 1,
            node,
            EdgeRole.RAISED if node % 2 else EdgeRole.SOURCE,
            choice if node % 2 == 0 else None,
        )
        for node in range(2, length + 1)
    )
    return {"plants": plants, "lots": lots, "edges": edges}


@pytest.mark.parametrize("choice", [None, 1])
def test_a_line_deeper_than_the_stack_is_judged(choice):
    last = DEEP + 1
    verdict = judge(dossier(ask(Act.GIVE), asked=(Asked(last),), **line(last, choice=choice)))
    assert verdict.level is Level.CLEAR
    own = {finding.plant for finding in verdict.findings if finding.row == "A1"}
    assert own == set(range(FOUNDER, last + 1, 2))
    assert all(f.certain is (choice is None) for f in verdict.findings if f.plant == FOUNDER)


def test_a_plant_in_the_middle_keeps_what_is_said_of_it():
    facts = line(9)
    facts["plants"][5] = Plant(5, for_release=True, names=mine().names)
    verdict = judge(dossier(ask(Act.GIVE), asked=(Asked(9),), **facts))
    named = [finding for finding in verdict.findings if finding.row.startswith("B")]
    assert {finding.plant for finding in named} == {5}


def test_a_circle_is_said_and_not_walked():
    edges = (Edge(1, 2, EdgeRole.SOURCE), Edge(2, 3, EdgeRole.RAISED), Edge(3, 1, EdgeRole.SOURCE))
    facts = {"plants": {1: Plant(1), 3: Plant(3)}, "lots": {2: Lot(2)}, "edges": edges}
    with pytest.raises(ValueError, match="circle"):
        judge(dossier(ask(Act.GIVE), asked=(Asked(3),), **facts))
