"""Edges between records: circles, days that run backwards, lines of names."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from registry.domain.methods import Role
from registry.errors import ChildBeforeParent, ClosesCircle, WidthUsedUp
from registry.services import making
from registry.services.naming import name_of
from registry.storage.models import Series
from registry.wording import problem
from tests.services.garden import Garden, begin, day


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


def link(garden, parent, child, role=Role.PART_OF):
    making.link(garden.rec, parent, child, role, choice=None, clonal=False)


def test_an_edge_that_closes_a_circle_is_refused_naming_the_circle(garden):
    first = garden.founder("lavender")
    (second,) = garden.raised(first)
    (third,) = garden.raised(second)
    with pytest.raises(ClosesCircle) as refused:
        link(garden, third, first)
    codes = refused.value.codes
    assert codes[0] == codes[-1] == garden.code(first)
    assert {garden.code(second), garden.code(third)} <= set(codes)
    assert all(code in problem(refused.value) for code in codes)


def test_two_plants_are_not_each_others_parent(garden):
    one, other = garden.founder("lavender"), garden.founder("sage")
    link(garden, one, other)
    with pytest.raises(ClosesCircle):
        link(garden, other, one)


def test_nothing_is_its_own_parent(garden):
    one = garden.founder("lavender")
    with pytest.raises(ClosesCircle):
        link(garden, one, one)


def test_two_ways_to_one_ancestor_are_no_circle(garden):
    first = garden.founder("lavender")
    one, other = garden.raised(first, 2)
    link(garden, one, other)


def test_a_child_is_refused_only_if_its_last_day_is_before_its_parents_first(garden):
    old = garden.founder("lavender", born=day(2024, 5, 14))
    young = garden.founder("sage", born=day(2024, 5, 13))
    unknown = garden.founder("thyme")
    with pytest.raises(ChildBeforeParent) as refused:
        link(garden, old, young)
    assert "13 May 2024" in problem(refused.value)
    link(garden, old, unknown)
    link(garden, young, old)


def test_a_name_goes_down_the_clone_and_stops_at_seed(garden):
    mother = garden.founder("Salvia 'Hot Coral'")
    (pot,) = garden.raised(mother)
    assert name_of(garden.rec.session, pot).shown == "Salvia ‘Hot Coral’"
    seedling = making.make_plant(
        garden.rec, making.next_accession(garden.rec, "founder"), born=None
    ).node_id
    making.link(garden.rec, pot, seedling, Role.SEED_PARENT, choice=None, clonal=False)
    assert name_of(garden.rec.session, seedling).shown == "seedling of Salvia ‘Hot Coral’"


def test_a_year_whose_numbers_are_used_up_is_refused_before_anything_is_stored(garden):
    making.next_accession(garden.rec, "founder")
    series = garden.rec.session.get_one(Series, 2026)
    series.next = 10_000
    garden.rec.flush()
    with pytest.raises(WidthUsedUp):
        making.next_accession(garden.rec, "founder")
    assert series.next == 10_000
