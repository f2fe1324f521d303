"""Counts at the bench: by lot, and of a batch whose lots nobody told apart."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import select

from registry.domain.counts import Count, parse_by_lot, parse_count
from registry.domain.methods import Role
from registry.errors import (
    EachLotNeeded,
    LettersNeeded,
    LookBeyondCount,
    NothingOpen,
    Overdrawn,
    PiecesFewer,
)
from registry.services import batches, bench, records
from registry.services.counting import (
    Counted,
    Potting,
    batch_left,
    look,
    pot_up,
    recount,
    stands_of,
)
from registry.storage.models import Edge, LedgerEntry, Lot
from tests.services.garden import DAY, Garden, begin

TEN, SIX = 10, 6


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


@pytest.fixture
def two(garden):
    """A batch of two lots, 10 soft and 6 firm, of one plant."""
    source = garden.founder("red hydrangea")
    soft, firm = garden.batch(source, source)
    lot = garden.rec.session.get_one(Lot, firm)
    lot.in_bench = lot.opening_low = lot.opening_high = SIX
    lot.opening_text = str(SIX)
    garden.rec.flush()
    stuck = garden.rec.session.scalars(select(LedgerEntry).where(LedgerEntry.lot_id == firm))
    stuck.one().n = SIX
    garden.rec.flush()
    return garden, garden.lots(soft, firm)


def left(garden, target):
    return [stand.text for stand in stands_of(garden.rec.session, target.accession_id)]


def pot(garden, target, count, **more) -> Counted:
    said = parse_by_lot(count) if "=" in count else parse_count(count)
    return pot_up(garden.rec, target, Potting(said, **more), on=DAY)


def died(garden, target, count) -> Counted:
    said = parse_by_lot(count) if "=" in count else parse_count(count)
    return look(garden.rec, target, on=DAY, stands={}, went={"died": said})


def test_without_letters_the_batch_is_exact_and_each_lot_a_range(two):
    garden, batch = two
    counted = died(garden, batch, "3")
    assert counted.left == TEN + SIX - 3
    assert [stand.text for stand in counted.lots] == ["7-10", "3-6"]
    assert [stand.left for stand in counted.lots] == [None, None]


def test_a_plant_potted_without_a_letter_has_one_of_several_lots_and_a_certain_source(two):
    garden, batch = two
    (node_id, _), *_ = pot(garden, batch, "4").plants
    edges = garden.rec.session.scalars(select(Edge).where(Edge.child_id == node_id)).all()
    assert [(edge.role, edge.choice) for edge in edges] == [(Role.RAISED, 1)] * 2
    (parent,) = records.show_plant(garden.rec.session, node_id).parents
    assert (parent.role, parent.certain) == ("source", True)


def test_no_rate_is_worked_out_of_lots_that_were_not_told_apart(two):
    garden, batch = two
    pot(garden, batch, "16")
    shown = batches.show_batch(garden.rec.session, batch.accession_id)
    assert (shown.left, shown.closed) == (0, True)
    assert [lot.took for lot in shown.lots] == [None, None]


def test_what_was_said_of_no_lot_is_shown_of_the_batch(two):
    garden, batch = two
    look(garden.rec, batch, on=DAY, stands={"rooted": parse_count("12")}, went={})
    died(garden, batch, "3")
    shown = batches.show_batch(garden.rec.session, batch.accession_id)
    assert shown.seen == (batches.Seen("rooted", "12", DAY),)
    assert (shown.gone, shown.unsaid) == ((("lost", 3),), 3)


def test_a_letter_after_counts_without_one_takes_no_more_than_the_batch_has(two):
    garden, batch = two
    pot(garden, batch, "12")
    assert left(garden, batch) == ["0-4", "0-4"]
    with pytest.raises(Overdrawn) as refused:
        pot(garden, batch, "A=5")
    assert refused.value.left == 4
    pot(garden, batch, "A=4")
    assert left(garden, batch) == ["0", "0"]
    with pytest.raises(NothingOpen):
        pot(garden, batch, "1")


def test_a_lot_that_alone_is_open_is_exact_again(two):
    garden, batch = two
    died(garden, batch, "3")
    pot(garden, batch, "A=10")
    assert left(garden, batch) == ["0", "3"]


@pytest.mark.parametrize("stands", ["A=7,B=7", "A=10,B=6"])
def test_a_look_by_lot_stands_within_what_the_batch_has(two, stands):
    garden, batch = two
    died(garden, batch, "3")
    with pytest.raises(LookBeyondCount) as refused:
        look(garden.rec, batch, on=DAY, stands={"rooted": parse_by_lot(stands)}, went={})
    assert refused.value.left in (13, 6)


def test_pieces_move_out_of_a_lot_only_as_far_as_the_batch_has_them(two):
    garden, batch = two
    pot(garden, batch, "12")
    soft = garden.lots(batch.lots[0])
    with pytest.raises(Overdrawn):
        bench.split(garden.rec, soft, [bench.LotAsked(Count.of(5))], on=DAY)
    bench.split(garden.rec, soft, [bench.LotAsked(Count.of(4))], on=DAY)
    assert batch_left(garden.rec.session, batch.accession_id) == 4


def test_a_recount_of_every_lot_makes_each_a_number_again(two):
    garden, batch = two
    died(garden, batch, "3")
    for count in ("A=8", "B=5"):
        with pytest.raises(EachLotNeeded) as refused:
            recount(garden.rec, batch, parse_by_lot(count), on=DAY, reason=None)
        assert refused.value.letters == ("A", "B")
    recount(garden.rec, batch, parse_by_lot("A=8,B=4"), on=DAY, reason="counted all")
    assert left(garden, batch) == ["8", "4"]
    pot(garden, batch, "A=8")
    assert batch_left(garden.rec.session, batch.accession_id) == 4


def test_a_recount_of_several_lots_needs_their_letters(two):
    garden, batch = two
    with pytest.raises(LettersNeeded):
        recount(garden.rec, batch, Count.of(12), on=DAY, reason=None)


def test_a_batch_is_closed_for_as_many_as_were_left_whichever_lot_they_were_of(two):
    garden, batch = two
    pot(garden, batch, "12")
    closed = batches.close_batch(garden.rec, batch, "culled", on=DAY)
    assert (closed.left, closed.closed) == (0, True)
    culled = garden.rec.session.scalars(
        select(LedgerEntry.n).where(LedgerEntry.kind == "culled")
    ).all()
    assert culled == [-4]


def test_one_lot_is_closed_and_the_other_stays_open(two):
    garden, batch = two
    firm = garden.lots(batch.lots[1])
    closed = batches.close_batch(garden.rec, firm, "lost", on=DAY)
    assert (closed.left, closed.closed) == (TEN, False)
    died(garden, batch, "2")
    assert left(garden, batch) == ["8", "0"]


def test_one_lot_is_not_closed_while_it_is_not_known_what_is_left_of_it(two):
    garden, batch = two
    died(garden, batch, "2")
    with pytest.raises(EachLotNeeded):
        batches.close_batch(garden.rec, garden.lots(batch.lots[1]), "lost", on=DAY)


def test_pieces_are_said_by_lot_where_plants_are(two):
    garden, batch = two
    with pytest.raises(LettersNeeded):
        pot(garden, batch, "A=2,B=1", pieces=Count.of(7))
    with pytest.raises(PiecesFewer):
        pot(garden, batch, "A=2", pieces=Count.of(1))
    pot(garden, batch, "A=2,B=1", pieces=parse_by_lot("A=6"))
    assert left(garden, batch) == ["4", "5"]


@pytest.mark.parametrize(
    ("opening", "gone", "standing"),
    [
        ("12-13", 3, "9-10"),
        ("10+", 3, "7+"),
        ("about 14", 3, "?"),
        ("?", 3, "?"),
    ],
)
def test_a_lot_whose_count_was_not_exact_stands_between_bounds(garden, opening, gone, standing):
    source = garden.founder("red hydrangea")
    (lot,) = garden.batch(source, opening=parse_count(opening))
    target = garden.lots(lot)
    died(garden, target, str(gone))
    assert left(garden, target) == [standing]


def test_an_open_lot_never_goes_above_its_upper_bound(garden):
    (lot,) = garden.batch(garden.founder("red hydrangea"), opening=parse_count("12-13"))
    with pytest.raises(Overdrawn) as refused:
        died(garden, garden.lots(lot), "14")
    assert refused.value.left == 13
