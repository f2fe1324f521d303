"""What leaves and what comes: by code, by count, in a swap."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import func, select

from registry.domain.dealings import parse_limit, parse_money
from registry.domain.verdict.facts import Act, Purpose
from registry.errors import (
    CountNotExact,
    CountOfWhat,
    LetterUnknown,
    NothingPotted,
    NotRecorded,
    PlantsGone,
    PotsShort,
)
from registry.services import leave, people, release
from registry.services.leave import Saying
from registry.services.release import Leaving
from registry.storage.models import (
    ConsentUse,
    Node,
    Plant,
    Receipt,
    Release,
    ReleaseItem,
    VerdictGiven,
)
from tests.services.garden import DAY, Garden, begin, day

NAME = "Fuchsia 'Lane Ember'"
SELL = Leaving(Act.SELL, DAY)
GIVE = Leaving(Act.GIVE, DAY, purpose=Purpose.PRIVATE)


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    """Own plants whose name was looked up: everything about them is clear."""
    with record("test") as rec:
        begin(rec)
        leave.look_up(
            rec, [NAME], territory="US", where="patents", found="none", on=day(2026, 1, 1)
        )
        yield Garden(rec)


@pytest.fixture
def own(garden):
    return garden.founder(NAME, how="bought")


def test_a_plant_that_is_sold_is_gone_and_its_line_says_how(garden, own):
    rec = garden.rec
    pot, other = garden.raised(own, 2)
    sale = replace(SELL, to="Bram Holt", price=parse_money("6 USD"))
    left = release.release(rec, garden.target(pot), sale)
    assert (left.plants, left.count, left.person) == ((garden.code(pot),), 1, "Bram Holt")
    assert left.person_made
    plant = rec.session.get_one(Plant, pot)
    assert (plant.status, plant.end_kind, plant.ended) == ("sold", "sold", DAY)
    assert garden.status(other) == "alive"
    item = rec.session.scalars(select(ReleaseItem)).one()
    assert rec.session.get_one(VerdictGiven, item.verdict_id).level == "clear"
    assert rec.last == [garden.code(pot)]


def test_a_price_for_each_is_summed_without_rounding(garden, own):
    pots = garden.raised(own, 3)
    sale = replace(SELL, price=parse_money("0.10 USD"))
    left = release.release(garden.rec, garden.target(*pots), sale)
    assert left.price is not None
    assert left.price.amount == Decimal("0.30")
    total = replace(SELL, price=parse_money("5 USD"), total=True)
    more = release.release(garden.rec, garden.target(*garden.raised(own, 3)), total)
    assert str(more.price) == "5 USD"


def test_a_group_leaves_out_what_is_gone_and_counts_it(garden, own):
    rec = garden.rec
    pots = garden.raised(own, 3)
    release.release(rec, garden.target(pots[0]), SELL)
    left = release.release(rec, garden.target(*pots), SELL)
    assert left.count == 2
    assert [gone.code for gone in left.given.answer.gone] == [garden.code(pots[0])]
    with pytest.raises(PlantsGone):
        release.release(rec, garden.target(pots[0]), SELL)


def test_nothing_is_sold_twice_by_going_back_in_time(garden, own):
    pot = garden.raised(own, taken=day(2026, 1, 1))[0]
    release.release(garden.rec, garden.target(pot), SELL)
    earlier = replace(SELL, on=day(2026, 5, 1))
    with pytest.raises(PlantsGone):
        release.release(garden.rec, garden.target(pot), earlier)


def test_a_batch_code_means_its_living_plants(garden, own):
    lot = garden.batch(own)[0]
    pots = garden.pots(lot, 3)
    release.release(garden.rec, garden.target(pots[1]), SELL)
    left = release.release(garden.rec, garden.lots(lot), GIVE)
    assert left.plants == (garden.code(pots[0]), garden.code(pots[2]))


def test_a_batch_without_pots_has_nothing_to_leave(garden, own):
    lot = garden.batch(own)[0]
    for leaving in (SELL, replace(SELL, count=2)):
        with pytest.raises(NothingPotted):
            release.release(garden.rec, garden.lots(lot), leaving)


# --- by count ------------------------------------------------------------------------------------


def test_pots_sold_by_count_are_not_said_and_cannot_be_sold_again(garden, own):
    rec = garden.rec
    lot = garden.batch(own)[0]
    pots = garden.pots(lot, 10)
    left = release.release(rec, garden.lots(lot), replace(SELL, count=6))
    assert (left.plants, left.unsaid, left.count) == ((), ((garden.code(lot), 6),), 6)
    assert {garden.status(pot) for pot in pots} == {"alive"}

    with pytest.raises(PotsShort) as short:
        release.release(rec, garden.lots(lot), replace(SELL, count=5))
    assert (short.value.left, short.value.unsaid) == (4, 6)
    with pytest.raises(PotsShort):
        release.release(rec, garden.target(*pots[:5]), SELL)
    with pytest.raises(PotsShort):
        release.release(rec, garden.lots(lot), SELL)

    release.release(rec, garden.target(*pots[:4]), SELL)
    with pytest.raises(PotsShort):
        release.release(rec, garden.lots(lot), replace(SELL, count=1))


def test_a_count_of_all_is_every_plant_by_its_code(garden, own):
    lot = garden.batch(own)[0]
    pots = garden.pots(lot, 3)
    left = release.release(garden.rec, garden.lots(lot), replace(SELL, count=3))
    assert left.plants == tuple(garden.code(pot) for pot in pots)


def test_a_batch_of_two_lots_can_be_counted_whole_or_by_letter(garden, own):
    rec = garden.rec
    a, b = garden.batch(own, own)
    garden.pots(a, 5)
    garden.pots(b, 3)
    whole = release.release(rec, garden.lots(a, b), replace(SELL, count=4))
    assert [n for _, n in whole.unsaid] == [4]
    item = rec.session.scalars(select(ReleaseItem)).one()
    assert (item.lot_id, item.node_id, item.n) == (None, None, 4)

    with pytest.raises(PotsShort):  # of eight four are gone: five of A and B are not left
        release.release(rec, garden.lots(a, b), replace(SELL, count={"A": 4, "B": 1}))
    by_letter = release.release(rec, garden.lots(a, b), replace(SELL, count={"A": 3, "B": 1}))
    assert by_letter.unsaid == ((garden.code(a), 3), (garden.code(b), 1))
    with pytest.raises(LetterUnknown):
        release.release(rec, garden.lots(a, b), replace(SELL, count={"C": 1}))


@pytest.mark.parametrize("count", [0, -1, {"A": 0}])
def test_a_count_is_one_or_more(garden, own, count):
    lot = garden.batch(own)[0]
    garden.pots(lot, 3)
    with pytest.raises(CountNotExact):
        release.release(garden.rec, garden.lots(lot), replace(SELL, count=count))


def test_a_count_is_taken_from_a_lot(garden, own):
    with pytest.raises(CountOfWhat):
        release.release(garden.rec, garden.target(own), replace(SELL, count=2))


def test_numbers_against_a_limit_are_counted_over_the_request(garden):
    rec = garden.rec
    plant = garden.founder(NAME, owner="Weir Street Garden")
    saying = Saying(
        may=(Act.PROPAGATE, Act.GIVE, Act.SELL), limit=parse_limit("20 plants"), on=day(2024, 1, 1)
    )
    leave.add_consent(rec, "Weir Street Garden", saying, plant=garden.target(plant))
    a, b = garden.batch(plant, plant, n=20, taken=day(2024, 6, 1))
    garden.pots(a, 15)
    garden.pots(b, 15)
    both = garden.lots(a, b)

    release.release(rec, both, replace(SELL, count=12))
    assert rec.session.scalar(select(func.sum(ConsentUse.n))) == 12
    with pytest.raises(NotRecorded) as refused:
        release.release(rec, both, replace(SELL, count=9))
    assert refused.value.answer.findings[0].row == "A11"
    assert rec.session.scalar(select(func.count()).select_from(Release)) == 1
    release.release(rec, both, replace(SELL, count=8))  # the twentieth
    assert rec.session.scalar(select(func.sum(ConsentUse.n))) == 20


# --- refusals, reasons, swaps --------------------------------------------------------------------


def test_a_refused_sale_records_nothing_and_a_reason_records_it(garden):
    rec = garden.rec
    plant = garden.founder(NAME, owner="Nan Ashe")
    saying = Saying(may=(Act.PROPAGATE,), may_not=(Act.SELL,), on=day(2024, 1, 1))
    leave.add_consent(rec, "Nan Ashe", saying, plant=garden.target(plant))
    pot = garden.raised(plant)[0]
    with pytest.raises(NotRecorded):
        release.release(rec, garden.target(pot), SELL)
    assert garden.status(pot) == "alive"
    left = release.release(rec, garden.target(pot), replace(SELL, anyway="Nan was told"))
    assert (left.given.level, left.given.anyway) == ("barred", "Nan was told")
    assert garden.status(pot) == "sold"


def test_a_swap_is_one_line_what_left_and_what_came(garden, own):
    rec = garden.rec
    pot = garden.raised(own)[0]
    swap = Leaving(
        Act.SWAP, DAY, to="Tom Birch", purpose=Purpose.PRIVATE, got=("Crocosmia 'Bridge Light'",)
    )
    left = release.release(rec, garden.target(pot), swap)
    assert garden.status(pot) == "swapped"
    came = rec.session.get_one(Plant, left.came[0].node_id)
    tom = people.find_person(rec.session, "Tom Birch")
    assert (came.received_as, came.how, came.source_id) == ("Crocosmia 'Bridge Light'", "swap", tom)
    receipt = rec.session.scalars(select(Receipt)).one()
    assert (receipt.release_id, receipt.person_id, receipt.kind) == (left.release_id, tom, "swap")


def test_what_arrives_is_a_founder_under_the_name_it_came_with(garden):
    came = release.receive(
        garden.rec, ["Geum 'Bell'", "old pink"], how="given", source="Lil Farrow", on=DAY,
        number="LIL",
    )  # fmt: skip
    assert [one.name for one in came] == ["Geum 'Bell'", "old pink"]
    assert garden.rec.last == [one.code for one in came]
    kinds = {garden.rec.session.get_one(Node, one.node_id).kind for one in came}
    assert kinds == {"plant"}
    assert garden.rec.today == date(2026, 5, 14)
