"""From what is typed at the bench to the records that it means."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest

from registry.domain.counts import Count
from registry.errors import CodeUnknown, NothingLast, RegistryError, SeveralMeant
from registry.services import bench, making
from registry.services.resolve import TargetKind, resolve, resolve_all
from tests.services.garden import DAY, Garden, begin

TODAY = date(2026, 5, 14)


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


@pytest.fixture
def season(garden):
    """26-0001 a founder; 26-0002 a batch with two lots and three pots of the first."""
    source = garden.founder("red hydrangea")
    soft, firm = garden.batch(source, source)
    return garden, source, (soft, firm), tuple(garden.pots(soft, 3))


def meant(garden, typed):
    return resolve(garden.rec.session, typed, today=TODAY)


def test_whole_short_and_picked_codes(season):
    garden, source, lots, pots = season
    assert meant(garden, garden.code(pots[0])).plants == pots[:1]
    assert meant(garden, "2:1").plants == pots[:1]
    assert meant(garden, "2B").lots == lots[1:]
    assert (meant(garden, "2").kind, meant(garden, "2").lots) == (TargetKind.BATCH, lots)
    picked = meant(garden, "2:1,3")
    assert (picked.kind, picked.plants) == (TargetKind.GROUP, (pots[0], pots[2]))
    assert meant(garden, "1").plants == (source,), "an accession with one plant stands for it"


def test_half_read_tags_list_the_plants_that_they_could_be(season):
    garden, _, _, pots = season
    whole = garden.code(pots[0])
    assert meant(garden, whole.replace("0002", "0_02")).plants == pots[:1]
    with pytest.raises(SeveralMeant) as refused:
        meant(garden, "26-0002-00_-_")
    assert set(refused.value.codes) == {garden.code(pot) for pot in pots}


def test_a_wrong_digit_offers_recorded_codes_only(season):
    garden, _, _, pots = season
    whole = garden.code(pots[0])
    wrong = whole[:9] + "9" + whole[10:]
    with pytest.raises(CodeUnknown) as refused:
        meant(garden, wrong)
    recorded = {garden.code(pot) for pot in pots}
    assert whole in refused.value.near
    assert set(refused.value.near) <= recorded


def test_a_number_of_ones_own_or_of_the_giver(season):
    garden, _, _, pots = season
    making.alias(garden.rec, "LAV 7", node_id=pots[0])
    making.alias(garden.rec, "X1", node_id=pots[1], issuer="Nan Ashe")
    making.alias(garden.rec, "X1", node_id=pots[2], issuer="Bram Holt")
    garden.rec.flush()
    assert meant(garden, "lav 7").plants == pots[:1]
    with pytest.raises(SeveralMeant) as refused:
        meant(garden, "X1")
    assert set(refused.value.codes) == {garden.code(pots[1]), garden.code(pots[2])}


def test_a_batchs_number_stays_with_its_first_lot_when_others_are_split_off(garden):
    (lot,) = garden.batch(garden.founder("lavender"), n=20)
    target = garden.lots(lot)
    making.alias(garden.rec, "P12", accession_id=target.accession_id)
    garden.rec.flush()
    assert meant(garden, "P12").lots == (lot,)
    bench.split(garden.rec, target, [bench.LotAsked(Count.of(5))], on=DAY)
    assert (meant(garden, "P12").kind, meant(garden, "P12").lots) == (TargetKind.LOT, (lot,))
    assert len(meant(garden, "2").lots) == 2, "its code means the whole batch"


def test_a_number_of_a_batch_with_two_lots_means_both(season):
    garden, _, lots, _ = season
    making.alias(garden.rec, "B7", accession_id=garden.lots(*lots).accession_id)
    garden.rec.flush()
    assert meant(garden, "B7").lots == lots


def test_last_before_anything_was_recorded(garden):
    with pytest.raises(NothingLast):
        meant(garden, "last")


def test_several_references_are_one_group_without_twins(season):
    garden, _, _, pots = season
    group = resolve_all(garden.rec.session, ["2:1", "2:1,2"], today=TODAY)
    assert group.plants == pots[:2]


@pytest.mark.parametrize("typed", ["", "99", "99:1", "2:9", "2Z", "26-9999-1", "Z9"])
def test_what_nothing_has_is_never_taken_for_something(season, typed):
    garden, *_ = season
    with pytest.raises(RegistryError):
        meant(garden, typed)
