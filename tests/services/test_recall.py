"""The exposed circle, worked through and closed; the sums are added up by hand from the story."""

from __future__ import annotations

import random

import networkx as nx
import pytest
from sqlalchemy import text

from registry.domain.methods import Role
from registry.domain.recalls import Found, More, Why, Widened, progress, still_away, unaccounted
from registry.errors import (
    MoreThanLine,
    NotInRecall,
    PersonUnknown,
    PlaceUnknown,
    RecallClosed,
    RecallComplete,
    RecallEmpty,
    RecallNotSaid,
    RecallOutdated,
    RecordUnknown,
    TickOfSeveral,
)
from registry.services import exposure, leave, making, people, recall
from registry.services.recall import Starting
from registry.services.resolve import Target, TargetKind
from registry.storage.models import (
    Edge,
    LedgerEntry,
    Loss,
    Lot,
    Node,
    Plant,
    Release,
    ReleaseItem,
)
from tests.services.garden import DAY, Garden, begin, day

SICK = "leaf rust"


@pytest.fixture
def garden(record):
    with record("test") as rec:
        begin(rec)
    with record("test") as rec:
        yield Garden(rec)


def start(garden, *plants, **facts):
    target = garden.target(*plants) if plants else None
    return recall.start(garden.rec, Starting(SICK, target, **facts))


def node_of(garden, line):
    return next(n for n in garden.rec.session.query(Node) if n.code == line.code).id


def reasons(garden, found):
    return {node_of(garden, line): line.why for line in found.lines if line.kind != "left by count"}


def leave_by_code(garden, node, person, kind="sell", status="sold"):
    row = garden.rec.add(
        Release(uuid=garden.rec.new_id(), kind=kind, person_id=person, on=DAY, purpose="trade")
    )
    garden.rec.flush()
    garden.rec.add(ReleaseItem(release_id=row.id, node_id=node, n=1))
    plant = garden.rec.session.get_one(Plant, node)
    plant.status, plant.ended, plant.end_kind = status, DAY, status
    garden.rec.flush()


def leave_by_count(garden, lot, n, person):
    row = garden.rec.add(
        Release(uuid=garden.rec.new_id(), kind="sell", person_id=person, on=DAY, purpose="trade")
    )
    garden.rec.flush()
    garden.rec.add(ReleaseItem(release_id=row.id, lot_id=lot, n=n))
    garden.rec.flush()


# --- who is exposed ------------------------------------------------------------------------------


def test_all_that_descends_and_all_of_the_batch_and_what_descends_from_that(garden):
    mother, other = garden.founder("red"), garden.founder("blue")
    sick_lot, mate_lot = garden.batch(mother, other)
    sick, mate = garden.pots(sick_lot, 1)[0], garden.pots(mate_lot, 1)[0]
    child = garden.raised(sick, 1)[0]
    grandchild = garden.raised(mate, 1)[0]
    stranger = garden.raised(other, 1)[0]
    found = reasons(garden, start(garden, sick))
    assert found[sick] is Why.START
    assert found[child] is Why.DESCENT
    assert found[mate] is found[sick_lot] is found[mate_lot] is Why.BATCH
    assert found[grandchild] is Why.DESCENT
    assert found[mother] is Why.SOURCE
    assert stranger not in found
    assert other not in found


def test_contacts_are_followed_as_far_as_was_said(garden):
    a, b, c = (garden.founder(name) for name in "abc")
    lots = garden.batch(a, b)
    pot_b = garden.pots(lots[1], 1)[0]
    mixed = garden.batch(pot_b, c)
    pot_c = garden.pots(mixed[1], 1)[0]
    none = reasons(garden, start(garden, a, steps=0))
    assert pot_b not in none
    one = reasons(garden, start(garden, a, steps=1))
    assert pot_b in one
    assert pot_c not in one
    two = reasons(garden, start(garden, a, steps=2))
    assert two[pot_c] is Why.BATCH


def test_a_graft_union_is_crossed_both_ways(garden):
    """Disease goes over a union from scion to stock and back (common practice, no source)."""
    scion, stock = garden.founder("apple"), garden.founder("seedling stock")
    top_lot = garden.batch(scion)[0]
    making.link(garden.rec, stock, top_lot, Role.ROOTSTOCK, choice=None, clonal=False)
    top = garden.pots(top_lot, 1)[0]
    other_top = garden.founder("second top")
    making.link(garden.rec, stock, other_top, Role.PART_OF, choice=None, clonal=False)
    found = reasons(garden, start(garden, scion, steps=0))
    assert found[top] is Why.DESCENT
    assert found[stock] is Why.GRAFTED
    assert found[other_top] is Why.DESCENT


def test_back_takes_in_what_else_came_of_the_source(garden):
    mother = garden.founder("red")
    one, other = garden.raised(mother, 1)[0], garden.raised(mother, 1)[0]
    assert other not in reasons(garden, start(garden, one))
    assert other in reasons(garden, start(garden, one, back=True))


def test_an_uncertain_parent_widens_the_circle_and_it_is_said(garden):
    sick, sound = garden.founder("one"), garden.founder("other")
    lot = garden.batch()
    assert lot == []
    lot = garden.batch(garden.founder("third"))[0]
    making.link(garden.rec, sick, lot, Role.SOURCE, choice=7, clonal=True)
    making.link(garden.rec, sound, lot, Role.SOURCE, choice=7, clonal=True)
    pot = garden.pots(lot, 1)[0]
    lines = {node_of(garden, line): line for line in start(garden, sick).lines}
    assert lines[pot].widened == lines[lot].widened == (Widened.PARENT,)


def test_a_place_on_a_day(garden):
    """Who stood there then; not who came later, had gone, or was drawn from it before."""
    place = people.add_place(garden.rec, "mist bench")
    elsewhere = people.add_place(garden.rec, "tunnel")
    plants = {}
    for name, where, from_, until in (
        ("there", place, day(2025, 1, 1), None),
        ("moved", place, day(2025, 1, 1), day(2025, 3, 1)),
        ("later", place, day(2025, 9, 1), None),
        ("elsewhere", elsewhere, day(2025, 1, 1), None),
        ("no day", place, None, None),
    ):
        plants[name] = garden.founder(name)
        row = making.stay(garden.rec, where, node_id=plants[name], from_=from_)
        row.until = until
    garden.rec.flush()
    before = garden.raised(plants["there"], 1, taken=day(2025, 2, 1))[0]
    after = garden.raised(plants["there"], 1, taken=day(2025, 8, 1))[0]
    found = recall.start(
        garden.rec, Starting(SICK, place="Mist bench", on=day(2025, 6, 1), steps=0)
    )
    lines = {node_of(garden, line): line for line in found.lines}
    assert {n for n in plants.values() if n in lines} == {plants["there"], plants["no day"]}
    assert lines[plants["no day"]].widened == (Widened.DAY,)
    assert after in lines
    assert before not in lines


def test_neighbours_are_in_only_where_a_day_is_said(garden):
    bench = people.add_place(garden.rec, "mist bench")
    sick, neighbour = garden.founder("sick"), garden.founder("neighbour")
    homeless = garden.founder("no place on record")
    for node in (sick, neighbour):
        making.stay(garden.rec, bench, node_id=node, from_=day(2025, 1, 1))
    garden.rec.flush()
    assert neighbour not in reasons(garden, start(garden, sick))
    found = start(garden, sick, on=day(2025, 6, 1))
    assert reasons(garden, found)[neighbour] is Why.PLACE
    assert homeless not in reasons(garden, found)
    assert found.unplaced == 1


def test_a_supplier_and_what_came_with_it(garden):
    seller = people.add_person(garden.rec, "Green Barn", trade=True)
    june = garden.founder("fig", source_id=seller, got=day(2024, 6, 1))
    may = garden.founder("rose", source_id=seller, got=day(2024, 5, 1))
    no_day = garden.founder("vine", source_id=seller)
    found = recall.start(
        garden.rec, Starting(SICK, supplier="Green Barn", on=day(2024, 6, 1), steps=0)
    )
    lines = {node_of(garden, line): line for line in found.lines}
    assert set(lines) == {june, no_day}
    assert lines[no_day].widened == (Widened.DAY,)
    by_plant = reasons(garden, start(garden, june))
    assert by_plant[no_day] is Why.SUPPLIER
    assert may not in by_plant


# --- the numbers ---------------------------------------------------------------------------------


@pytest.fixture
def sick_batch(garden):
    """Twelve cuttings of a sick plant: two rotted, ten pots.

    Of the ten: one died, one was given to Tom, three were sold by count (two to Bram, one to
    nobody named), one died by count. So 10 - 1 - 1 = 8 stand by their codes, and 8 - 3 - 1 = 4
    must be here.
    """
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother, n=12)[0]
    pots = garden.pots(lot, 10)
    garden.rec.add(LedgerEntry(lot_id=lot, kind="lost", n=-2, on=DAY))
    garden.rec.add(LedgerEntry(lot_id=lot, kind="potted", n=-10, on=DAY))
    garden.rec.session.get_one(Lot, lot).in_bench = 0
    tom = people.add_person(garden.rec, "Tom Birch", contact="tom@example.org")
    bram = people.add_person(garden.rec, "Bram Holt")
    died = garden.rec.session.get_one(Plant, pots[0])
    died.status, died.ended, died.end_kind = "died", DAY, "died"
    leave_by_code(garden, pots[1], tom, "give", "given")
    leave_by_count(garden, lot, 2, bram)
    leave_by_count(garden, lot, 1, None)
    garden.rec.add(Loss(lot_id=lot, how="died", n=1, on=DAY))
    garden.rec.flush()
    return garden, mother, lot, pots


def test_the_parts_add_up_to_all_that_is_exposed(sick_batch):
    garden, mother, _, _ = sick_batch
    found = start(garden, mother)
    sums = found.sums
    assert sums.plants == 11  # ten pots and the mother
    assert (sums.standing, sums.ended, sums.named, sums.not_named) == (9, 1, 1, 0)
    assert sums.standing + sums.ended + sums.named + sums.not_named == sums.plants
    assert (sums.unsaid_named, sums.unsaid_not_named, sums.unsaid_ended) == (2, 1, 1)
    assert sums.here == 5
    only = found.lots[0]
    assert only.moved == {"stuck": 12, "lost": -2, "potted": -10}
    assert only.pots == {"alive": 8, "died": 1, "given": 1}
    assert (only.in_bench, only.unsaid, only.unexplained) == (0, 4, 0)


def leave_of_batch(garden, lot, n, person):
    row = garden.rec.add(
        Release(uuid=garden.rec.new_id(), kind="sell", person_id=person, on=DAY, purpose="trade")
    )
    garden.rec.flush()
    batch = garden.rec.session.get_one(Lot, lot).batch_id
    garden.rec.add(ReleaseItem(release_id=row.id, batch_id=batch, n=n))
    garden.rec.flush()


def test_of_a_lot_whose_batch_lost_pots_it_is_said_how_many_can_be_here(garden):
    """Three pots of lot A and ten of lot B; eight of the batch are sold, of which lot not said.

    Of A none or all three can be among the eight: 3 - 3 = 0 to 3 - 0 = 3 must be here. Of both
    lots 13 - 8 = 5 must be; and of one pot alone, which may be with Tom, none or that one.
    """
    mother = garden.founder("fuchsia")
    a, b = garden.batch(mother, mother)
    pots = garden.pots(a, 3)
    garden.pots(b, 10)
    leave_of_batch(garden, a, 8, people.add_person(garden.rec, "Tom Birch"))

    def here(target):
        found = recall.start(garden.rec, Starting(SICK, target, steps=0))
        told = [line for line in found.lines if line.kind == "left by count"]
        assert [(line.n, line.to) for line in told] == [(8, "Tom Birch")]
        return found.sums.here, found.sums.here_most, told[0].why

    assert here(garden.lots(a)) == (0, 3, Why.DESCENT)
    assert here(garden.lots(a, b)) == (5, 5, Why.DESCENT)
    assert here(garden.target(pots[0])) == (0, 1, Why.AMONG)
    # A's pots left by their codes: the eight are of B, and Tom is not told of A.
    for pot in pots:
        leave_by_code(garden, pot, None)
    found = recall.start(garden.rec, Starting(SICK, garden.lots(a), steps=0))
    assert (found.sums.here, found.sums.here_most, found.sums.not_named) == (0, 0, 3)


def test_pots_of_several_plants_that_left_by_count_are_counted_in_plants(garden):
    """Four pots of three plants, and two pots are sold: 12 - 2 x 3 = 6, and the mother."""
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother)[0]
    for pot in garden.pots(lot, 4):
        garden.rec.session.get_one(Plant, pot).plants = 3
    leave_by_count(garden, lot, 2, None)
    sums = start(garden, mother).sums
    assert (sums.standing, sums.unsaid_not_named, sums.here, sums.here_most) == (13, 2, 7, 7)


def test_where_pots_hold_different_numbers_the_least_and_the_most_are_said(garden):
    """Pots of 1, 3 and 5 plants, one sold: 9 - 5 = 4 to 9 - 1 = 8, and the mother."""
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother)[0]
    for pot, n in zip(garden.pots(lot, 3), (1, 3, 5), strict=True):
        garden.rec.session.get_one(Plant, pot).plants = n
    leave_by_count(garden, lot, 1, None)
    sums = start(garden, mother).sums
    assert (sums.here, sums.here_most) == (5, 9)


def test_a_count_that_does_not_come_out_is_listed_and_not_tidied_away(sick_batch):
    garden, mother, lot, _ = sick_batch
    garden.rec.session.get_one(Lot, lot).in_bench = 3
    garden.rec.flush()
    assert start(garden, mother).lots[0].unexplained == 3


def test_who_has_what_left_and_how_to_reach_them(sick_batch):
    garden, mother, lot, pots = sick_batch
    lines = start(garden, mother).lines
    given = next(line for line in lines if line.code == garden.code(pots[1]))
    assert (given.status, given.to, given.contact, given.to_do) == (
        "given", "Tom Birch", "tom@example.org", True,
    )  # fmt: skip
    by_count = [line for line in lines if line.kind == "left by count"]
    assert [(line.code, line.n, line.to) for line in by_count] == [
        (garden.code(lot), 2, "Bram Holt"), (garden.code(lot), 1, ""),
    ]  # fmt: skip
    assert all(line.widened == (Widened.WHICH,) for line in by_count)
    assert not next(line for line in lines if line.status == "died").to_do


# --- working through it --------------------------------------------------------------------------


def test_two_people_work_through_one_recall(record, engine, registry_file):
    with record("begin") as rec:
        begin(rec)
        garden = Garden(rec)
        mother = garden.founder("fuchsia")
        pots = garden.raised(mother, 3)
        ann = people.add_person(rec, "Ann Lee")
        targets = [garden.target(pot) for pot in pots]
        started = recall.start(rec, Starting(SICK, garden.target(mother)))
    number = started.id
    with record("tick", by_id=ann) as rec:
        recall.tick(rec, number, Found.SOUND, targets=targets[:2], on=DAY)
    with record("tick") as rec:
        recall.tick(rec, number, Found.SICK, targets=targets[1:2], on=DAY, note="rust below")
        shown = {line.code: line for line in recall.recalled(rec.session, number).lines}
    second = shown[targets[1].text]
    assert [(tick.what, tick.by, tick.note) for tick in second.ticks] == [
        (Found.SOUND, "Ann Lee", None),
        (Found.SICK, "Jo Field", "rust below"),
    ]
    assert shown[targets[2].text].open
    assert not second.open
    done = progress(shown.values())
    assert (done["sound"], done["sick"]) == (1, 1)


def test_a_plant_looked_for_and_not_found_stays_open(garden):
    mother = garden.founder("fuchsia")
    pot = garden.raised(mother, 1)[0]
    started = start(garden, mother)
    line = recall.tick(garden.rec, started.id, Found.MISSING, targets=[garden.target(pot)], on=DAY)[
        0
    ]
    assert line.open


def test_a_batch_that_is_ticked_stands_for_its_pots(garden):
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother)[0]
    garden.pots(lot, 3)
    started = start(garden, mother)
    lines = recall.tick(garden.rec, started.id, Found.DESTROYED, targets=[garden.lots(lot)], on=DAY)
    assert len(lines) == 4


def test_pots_that_left_by_count_came_of_their_lot_and_have_its_name(sick_batch):
    garden, mother, lot, _ = sick_batch
    by_count = [line for line in start(garden, mother).lines if line.kind == "left by count"]
    code = garden.rec.session.get_one(Node, lot).code
    assert [(line.n, line.why, line.via, line.name) for line in by_count] == [
        (2, Why.DESCENT, code, "Fuchsia"),
        (1, Why.DESCENT, code, "Fuchsia"),
    ]


def test_pots_that_left_by_count_are_ticked_by_line(sick_batch):
    garden, mother, _, _ = sick_batch
    started = start(garden, mother)
    share = next(line for line in started.lines if line.to == "Bram Holt")
    done = recall.tick(garden.rec, started.id, Found.REACHED, lines=[share.line], n=2, on=DAY)
    assert (done[0].ticks[0].n, done[0].open) == (2, False)


@pytest.mark.parametrize(
    ("ticks", "is_open"),
    [
        (["sound 5"], True),
        (["sound 5", "sick 3"], False),
        (["sick 4", "destroyed 4"], True),  # they can be the same four
        (["sick 4", "destroyed 4", "sound 4"], False),
        (["reached 5", "returned 5"], True),
        (["sound 8"], False),
        (["sound", "sick 2"], False),  # all were looked at; two of them are sick by now
        (["sound", "missing 2"], True),
        (["sound 5", "missing 3", "reached 3"], True),
        (["sound 5", "missing 3", "sound 3"], False),
    ],
)
def test_a_line_of_several_is_open_until_the_numbers_come_to_all(garden, ticks, is_open):
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother, n=8)[0]
    garden.rec.session.get_one(Lot, lot).in_bench = 8
    started = start(garden, mother)
    for tick in ticks:
        what, _, n = tick.partition(" ")
        line = recall.tick(
            garden.rec, started.id, Found(what), targets=[garden.lots(lot)],
            n=int(n) if n else None, on=DAY,
        )[0]  # fmt: skip
    assert line.open is is_open
    assert len(line.newest) == sum(" " in tick for tick in ticks) or not is_open


def test_a_number_is_of_one_line_and_no_more_than_it_has(sick_batch):
    garden, mother, lot, _ = sick_batch
    started = start(garden, mother)
    share = next(line for line in started.lines if line.to == "Bram Holt")
    with pytest.raises(MoreThanLine):
        recall.tick(garden.rec, started.id, Found.REACHED, lines=[share.line], n=3, on=DAY)
    with pytest.raises(TickOfSeveral):
        recall.tick(garden.rec, started.id, Found.SICK, targets=[garden.lots(lot)], n=3, on=DAY)
    assert not any(line.ticks for line in recall.recalled(garden.rec.session, started.id).lines)


def test_a_receiver_of_whom_some_came_back_still_has_the_others(sick_batch):
    garden, mother, _, _ = sick_batch
    started = start(garden, mother)
    share = next(line for line in started.lines if line.to == "Bram Holt")
    for away in (True, False):
        line = recall.tick(garden.rec, started.id, Found.RETURNED, lines=[share.line], n=1, on=DAY)[
            0
        ]
        assert still_away(line) is away


def test_closing_says_what_is_unaccounted_for(sick_batch):
    garden, mother, lot, pots = sick_batch
    started = start(garden, mother, hold=True)
    everything = [garden.target(mother), garden.target(pots[1]), garden.lots(lot)]
    recall.tick(garden.rec, started.id, Found.SOUND, targets=everything, on=DAY)
    done = recall.close(garden.rec, started.id, finding="rust on two", on=DAY, lift=True)
    assert [(line.n, line.to) for line in done.unaccounted] == [(2, "Bram Holt"), (1, "")]
    assert done.recall.finding == "rust on two"
    assert done.lifted == started.holds > 0
    assert done.recall.holds == 0
    assert done.unaccounted == unaccounted(done.recall.lines)


# --- what has come to be exposed since -----------------------------------------------------------


def test_what_came_of_it_since_is_told_listed_and_held(record):
    """Four more pots, cuttings of the mother, and three sold by count: on lines of their own."""
    with record("begin") as rec:
        begin(rec)
        garden = Garden(rec)
        mother = garden.founder("fuchsia")
        lot = garden.batch(mother)[0]
        garden.pots(lot, 5)
        started = start(garden, mother, hold=True)
        assert not started.since
    with record("later") as rec:
        garden = Garden(rec)
        new = [*garden.pots(lot, 4), *garden.batch(mother)]
        leave_by_count(garden, lot, 3, None)
    with record("close") as rec:
        assert recall.recalled(rec.session, started.id).since == More(4, 1, 3)
        with pytest.raises(RecallOutdated):
            recall.close(rec, started.id, finding="rust", on=DAY, lift=True)
        found = recall.more(rec, started.id, hold=False)
        assert found.lines[: len(started.lines)] == started.lines
        later = found.lines[len(started.lines) :]
        codes = {Garden(rec).code(node) for node in new}
        assert {line.code for line in later if line.kind != "left by count"} == codes
        assert [(line.line, line.n) for line in later][-1] == (len(started.lines) + 6, 3)
        assert not found.since
        # The mother, five pots and four; all stand by their codes, and three are gone by count.
        assert (found.sums.plants, found.sums.standing, found.sums.here) == (10, 10, 7)
        # The pots have their batch's hold; the new batch gets one of its own.
        assert found.holds == started.holds + 1
        recall.close(rec, started.id, finding="rust", on=DAY, lift=True)


def test_where_nothing_new_is_exposed_nothing_is_written_and_the_hold_can_follow(garden):
    mother = garden.founder("fuchsia")
    garden.raised(mother, 2)
    started = start(garden, mother)
    with pytest.raises(RecallComplete):
        recall.more(garden.rec, started.id, hold=False)
    assert recall.more(garden.rec, started.id, hold=True).holds == 2
    with pytest.raises(RecallComplete):
        recall.more(garden.rec, started.id, hold=True)
    recall.close(garden.rec, started.id, finding="nothing", on=DAY, lift=False)
    with pytest.raises(RecallClosed):
        recall.more(garden.rec, started.id, hold=True)


def test_a_recall_of_a_place_follows_what_is_told_of_that_day_later(garden):
    place = people.add_place(garden.rec, "mist bench")
    first, second = garden.founder("one"), garden.founder("other")
    making.stay(garden.rec, place, node_id=first, from_=day(2025, 1, 1))
    garden.rec.flush()
    started = recall.start(
        garden.rec, Starting(SICK, place="mist bench", on=day(2025, 6, 1), steps=0)
    )
    making.stay(garden.rec, place, node_id=second, from_=day(2025, 2, 1))
    garden.rec.flush()
    found = recall.more(garden.rec, started.id, hold=False)
    assert reasons(garden, found)[second] is Why.START


# --- holds ---------------------------------------------------------------------------------------


def test_a_whole_batch_gets_one_hold_and_a_plant_of_its_own_another(garden):
    mother = garden.founder("fuchsia")
    lot = garden.batch(mother)[0]
    garden.pots(lot, 5)
    started = start(garden, mother, hold=True)
    held = leave.holds(garden.rec.session)
    assert started.holds == len(held) == 2
    assert all(SICK in hold.reason for hold in held)
    assert all("ending" not in hold.stops for hold in held)  # what is sick can be destroyed


def test_a_batch_of_which_all_that_stands_is_exposed_gets_one_hold(garden):
    """Its lot is done and a pot is sold; of the other batch one pot stood elsewhere."""
    bench, elsewhere = (people.add_place(garden.rec, name) for name in ("bench", "tunnel"))
    mother = garden.founder("fuchsia")
    whole, part = (garden.batch(mother, taken=day(2024, 6, 1))[0] for _ in range(2))
    for lot in (whole, part):
        garden.rec.session.get_one(Lot, lot).in_bench = 0
        for pot in garden.pots(lot, 3, day(2025, 1, 1)):
            making.stay(garden.rec, bench, node_id=pot, from_=day(2025, 1, 1))
    gone = garden.pots(whole, 1, day(2025, 1, 1))[0]
    leave_by_code(garden, gone, None)
    making.stay(garden.rec, elsewhere, node_id=garden.pots(part, 1)[0], from_=day(2025, 1, 1))
    garden.rec.flush()
    starting = Starting(SICK, place="bench", on=day(2025, 6, 1), steps=0, hold=True)
    assert recall.start(garden.rec, starting).holds == 1 + 3


def test_where_it_came_from_is_looked_at_and_not_held(garden):
    mother = garden.founder("fuchsia")
    pot = garden.raised(mother, 1)[0]
    start(garden, pot, hold=True)
    subjects = {hold.subject for hold in leave.holds(garden.rec.session)}
    assert garden.code(mother) not in subjects


def test_with_back_what_it_came_from_counts_and_is_held(garden):
    """The mother, her two pots, the child and its lot: four plants, and none may be cut."""
    mother = garden.founder("fuchsia")
    one, _ = garden.raised(mother, 2)
    child = garden.raised(one, 1)[0]
    assert start(garden, child).sums.plants == 1
    found = start(garden, child, back=True, hold=True)
    assert (found.sums.plants, found.sums.standing) == (4, 4)
    assert {lot.code for lot in found.lots} == {
        line.code for line in found.lines if line.kind == "lot"
    }
    assert garden.code(mother) in {hold.subject for hold in leave.holds(garden.rec.session)}


# --- bad input -----------------------------------------------------------------------------------


def test_a_recall_of_nothing_is_refused(garden):
    people.add_place(garden.rec, "mist bench")
    with pytest.raises(RecallEmpty):
        recall.start(garden.rec, Starting(SICK, place="mist bench", on=DAY))
    assert recall.recalls(garden.rec.session) == ()


def test_a_place_needs_a_day_and_a_recall_a_subject(garden):
    people.add_place(garden.rec, "mist bench")
    with pytest.raises(RecallNotSaid):
        recall.start(garden.rec, Starting(SICK, place="mist bench"))
    with pytest.raises(RecallNotSaid):
        recall.start(garden.rec, Starting(SICK))
    with pytest.raises(PlaceUnknown):
        recall.start(garden.rec, Starting(SICK, place="nowhere", on=DAY))
    with pytest.raises(PersonUnknown):
        recall.start(garden.rec, Starting(SICK, supplier="Nobody"))


def test_a_closed_recall_stays_as_it_is(garden):
    mother = garden.founder("fuchsia")
    started = start(garden, mother)
    recall.close(garden.rec, started.id, finding="nothing", on=DAY, lift=False)
    with pytest.raises(RecallClosed):
        recall.tick(garden.rec, started.id, Found.SICK, targets=[garden.target(mother)], on=DAY)
    with pytest.raises(RecallClosed):
        recall.close(garden.rec, started.id, finding="again", on=DAY, lift=False)


def test_two_recalls_that_overlap_say_so(garden):
    mother = garden.founder("fuchsia")
    garden.raised(mother, 2)
    first = start(garden, mother)
    second = start(garden, mother)
    assert second.overlaps == ((first.id, 4),)  # the mother, her lot, two pots
    recall.close(garden.rec, first.id, finding="nothing", on=DAY, lift=False)
    assert recall.recalled(garden.rec.session, second.id).overlaps == ()


def test_what_is_not_in_a_recall_cannot_be_ticked(garden):
    mother, stranger = garden.founder("fuchsia"), garden.founder("rose")
    started = start(garden, mother)
    with pytest.raises(NotInRecall):
        recall.tick(garden.rec, started.id, Found.SICK, targets=[garden.target(stranger)], on=DAY)
    with pytest.raises(NotInRecall):
        recall.tick(garden.rec, started.id, Found.SICK, lines=[99], on=DAY)
    with pytest.raises(RecallNotSaid):
        recall.tick(garden.rec, started.id, Found.SICK, on=DAY)
    with pytest.raises(RecordUnknown):
        recall.tick(garden.rec, 99, Found.SICK, lines=[1], on=DAY)


def test_a_circle_written_behind_the_back_does_not_loop(garden):
    mother = garden.founder("fuchsia")
    pot = garden.raised(mother, 1)[0]
    garden.rec.add(Edge(parent_id=pot, child_id=mother, role="source", choice=None, clonal=True))
    garden.rec.flush()
    assert pot in reasons(garden, start(garden, mother, on=DAY, back=True))


def test_a_recall_of_a_plant_and_a_batch_begins_with_both(garden):
    mother, other = garden.founder("fuchsia"), garden.founder("rose")
    lot = garden.batch(other)[0]
    both = Target(TargetKind.GROUP, (mother,), (lot,), None, "both")
    found = reasons(garden, recall.start(garden.rec, Starting(SICK, both)))
    assert found[mother] is found[lot] is Why.START


@pytest.mark.parametrize("dice", range(5))
def test_without_contacts_the_circle_is_what_networkx_calls_descendants(garden, dice):
    """Seed lines at random: what descends is exposed, what it came from is listed as a source."""
    chance = random.Random(dice)  # noqa: S311 - a test's dice
    nodes = [garden.founder(f"plant {n}") for n in range(12)]
    graph = nx.DiGraph()
    graph.add_nodes_from(nodes)
    for child in range(1, 12):
        for parent in chance.sample(range(child), min(child, 2)):
            if chance.random() < 0.6:
                making.link(
                    garden.rec,
                    nodes[parent],
                    nodes[child],
                    Role.SEED_PARENT,
                    choice=None,
                    clonal=False,
                )
                graph.add_edge(nodes[parent], nodes[child])
    start_at = nodes[chance.randrange(12)]
    found = reasons(garden, start(garden, start_at, steps=0))
    sources = {node for node, why in found.items() if why is Why.SOURCE}
    assert set(found) - sources == {start_at} | nx.descendants(graph, start_at)
    assert sources == nx.ancestors(graph, start_at)


def test_what_stood_somewhere_is_found_by_index_whatever_else_is_on_record(engine):
    with engine.connect() as connection:
        if connection.dialect.name != "sqlite":
            pytest.skip("the plan is SQLite's; a server's depends on what it has counted")
        bounds = {"ids": "[1]", "first": "2025-06-01", "last": "2025-06-01"}
        told = connection.execute(text(f"EXPLAIN QUERY PLAN {exposure.STOOD.text}"), bounds)
        scanned = [row[3] for row in told if row[3].startswith("SCAN")]
    # The ids themselves, and what the two halves found.
    assert all("json_each" in line or line.startswith("SCAN found") for line in scanned), scanned
