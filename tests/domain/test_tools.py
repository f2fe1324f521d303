"""What a knife or a tray carries, act by act.

That a tool carries disease from plant to plant until it is disinfected is the advice of extension
services (clean tools between plants); the rules for a record that is silent are ours.
"""

from __future__ import annotations

from datetime import date

import pytest

from registry.domain.recalls import Widened
from registry.domain.tools import Touched, Use, contacts, used_on


def use(day, order, *nodes, cleaned=False, until=None, **facts):
    first = date(2026, 5, day)
    last = date(2026, 5, until or day)
    return Use(first, last, order, tuple(Touched(node, **facts) for node in nodes), cleaned)


def carried(uses, cleanings=(), start=1, tray=False, since=None):
    found = contacts(uses, cleanings, {start: since}, tray=tray)
    return {one.node: one.widened for one in found}


def test_what_was_cut_in_the_same_act_and_on_the_same_day_is_reached():
    assert carried([use(1, 1, 1, 2), use(1, 2, 3), use(1, 0, 4)]) == {2: (), 3: (), 4: ()}


def test_a_knife_carries_forward_and_the_missing_disinfecting_is_named():
    uses = [use(1, 1, 5), use(2, 2, 1), use(9, 3, 6)]
    assert carried(uses) == {6: (Widened.CLEANED,)}


@pytest.mark.parametrize(
    ("cleaning", "reached"),
    [
        (use(5, 9), set()),
        (use(2, 3), set()),  # the same day, recorded after the cut
        (use(2, 1), {6}),  # the same day, recorded before the cut
        (use(9, 3), set()),  # the day of the later cut, recorded before it
        (use(9, 5), {6}),  # recorded after it
        (use(1, 0), {6}),
        (use(1, 9, until=20), {6}),  # some day in May: it may have been after both
    ],
    ids=["between", "evening", "morning", "before", "after", "earlier", "vague"],
)
def test_disinfecting_ends_the_exposure_only_where_it_lies_between(cleaning, reached):
    uses = [use(2, 2, 1), use(9, 4, 6)]
    assert set(carried(uses, [cleaning])) == reached


def test_a_knife_disinfected_before_a_cut_carries_nothing_to_it_but_on_from_it():
    uses = [use(1, 1, 1), use(1, 2, 2, cleaned=True), use(1, 3, 3)]
    assert carried(uses) == {}
    assert carried(uses, start=2) == {3: ()}


def test_a_cut_before_the_plant_was_exposed_carries_nothing():
    uses = [use(1, 1, 1, 2), use(8, 2, 1, 3)]
    assert set(carried(uses, since=date(2026, 5, 5))) == {3}


def test_a_vague_day_widens_and_says_so():
    assert carried([use(3, 1, 1), use(1, 2, 2, until=9)]) == {2: (Widened.DAY,)}


def test_what_stands_in_one_tray_is_reached_either_way():
    there = use(1, 1, 2, stands=True)
    gone = use(1, 2, 3, left=date(2026, 5, 3))
    silent = use(1, 3, 4)
    later = use(9, 9, 5)
    uses = [there, gone, silent, use(5, 4, 1, stands=True), later]
    assert carried(uses, tray=True) == {2: (), 4: (Widened.TRAY,), 5: ()}


def test_a_tray_that_was_left_carries_on_until_it_is_washed():
    uses = [use(1, 1, 1, left=date(2026, 5, 3)), use(9, 2, 2)]
    assert carried(uses, tray=True) == {2: (Widened.CLEANED,)}
    assert carried(uses, [use(5, 3)], tray=True) == {}


def test_which_of_several_was_cut_is_doubtful_and_said():
    uses = [use(1, 1, 1), Use(date(2026, 5, 1), date(2026, 5, 1), 2, (Touched(2, sure=False),))]
    assert carried(uses) == {2: (Widened.CUT,)}


def on_day(uses, cleanings=(), tray=False):
    day = date(2026, 5, 5)
    return {one.node: one.widened for one in used_on(uses, cleanings, day, day, tray=tray)}


def test_a_knife_on_a_day_and_what_it_cut_until_it_was_disinfected():
    uses = [use(4, 1, 1), use(5, 2, 2), use(6, 3, 3), use(8, 5, 4), use(1, 6, 5, until=9)]
    assert on_day(uses) == {
        2: (), 3: (Widened.CLEANED,), 4: (Widened.CLEANED,), 5: (Widened.DAY,),
    }  # fmt: skip
    assert set(on_day(uses, [use(7, 4)])) == {2, 3, 5, 4}  # the vague cut may have come after it
    assert set(on_day(uses[:-1], [use(7, 4)])) == {2, 3}


def test_a_knife_that_cut_nothing_on_the_day_still_carries_on():
    assert on_day([use(4, 1, 1), use(6, 2, 2)]) == {2: (Widened.CLEANED,)}
    assert on_day([use(4, 1, 1), use(6, 3, 2)], [use(5, 2)]) == {}


def test_what_stood_in_a_tray_on_the_day():
    uses = [use(1, 1, 1, stands=True), use(1, 2, 2, left=date(2026, 5, 2)), use(2, 3, 3)]
    assert on_day(uses, tray=True) == {1: (), 3: (Widened.TRAY,)}
    assert on_day(uses, [use(4, 4)], tray=True) == {}
