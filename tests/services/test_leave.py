"""Consents, licences, rights, look-ups and holds as they are written down."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from sqlalchemy import select

from registry.domain.dealings import parse_limit, parse_money, parse_royalty
from registry.domain.rules.countries import parse_place, parse_territory
from registry.domain.rules.kinds import Kind
from registry.domain.rules.territories import Place
from registry.domain.verdict.facts import Act, Outcome, Stops
from registry.errors import (
    ActTwice,
    AlreadyEnded,
    BadLimit,
    BadMoney,
    BadPlaceCode,
    BadRight,
    LimitReason,
    NoSubject,
    RecordUnknown,
    RightExists,
    SeveralRights,
)
from registry.services import batches, leave, permission
from registry.services.leave import RightAsked, Saying
from registry.storage.models import ConsentAct, RightLookup
from tests.services.garden import DAY, Garden, begin, day

TODAY = date(2026, 5, 14)


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


def patent(number: str | None = "PP99001", **facts) -> RightAsked:
    values: dict[str, Any] = {
        "names": ("Salvia 'Fennarc'",),
        "filed": day(2018, 3, 6),
        "granted": day(2019, 8, 13),
    }
    return RightAsked(Kind.US_PLANT_PATENT, number, **(values | facts))


# --- consents ------------------------------------------------------------------------------------


def test_a_consent_keeps_what_was_said_and_is_silent_on_the_rest(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    saying = Saying(
        may=(Act.PROPAGATE, Act.GIVE), may_not=(Act.SELL,), said="help yourself", on=DAY
    )
    shown = leave.add_consent(garden.rec, "Nan Ashe", saying, plant=garden.target(plant))
    assert (shown.may, shown.may_not) == (("give", "propagate"), ("sell",))
    assert (shown.person, shown.said, shown.made) == ("Nan Ashe", "help yourself", False)
    assert shown.on == "14 May 2026"
    acts = garden.rec.session.scalars(select(ConsentAct.act)).all()
    assert "swap" not in acts
    assert leave.consents(garden.rec.session) == (shown,)


def test_a_giver_not_on_record_is_made_and_said(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    shown = leave.add_consent(
        garden.rec, "Lil Farrow", Saying(may=(Act.GIVE,)), plant=garden.target(plant)
    )
    assert (shown.person, shown.made) == ("Lil Farrow", True)


def test_a_limit_counts_the_acts_that_its_unit_says(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    saying = Saying(may=(Act.PROPAGATE, Act.GIVE, Act.SELL), limit=parse_limit("20 plants"))
    shown = leave.add_consent(garden.rec, "Nan Ashe", saying, plant=garden.target(plant))
    assert shown.may == ("give (20 plants)", "propagate", "sell (20 plants)")


@pytest.mark.parametrize(
    ("saying", "error"),
    [
        (Saying(may=(Act.SELL,), may_not=(Act.SELL,)), ActTwice),
        (Saying(may=(Act.GIVE,), outcome=Outcome.REFUSED), ActTwice),
        (Saying(may=(Act.GIVE,), limit=parse_limit("12 cuttings")), BadLimit),
    ],
)
def test_what_contradicts_itself_is_refused(garden, saying, error):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    with pytest.raises(error):
        leave.add_consent(garden.rec, "Nan Ashe", saying, plant=garden.target(plant))


def test_a_consent_is_on_one_plant(garden):
    plants = [garden.founder("a fig", owner="Nan Ashe"), garden.founder("a rose")]
    with pytest.raises(NoSubject):
        leave.add_consent(
            garden.rec, "Nan Ashe", Saying(may=(Act.GIVE,)), plant=garden.target(*plants)
        )


def test_a_withdrawn_consent_stays_and_says_when(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    made = leave.add_consent(
        garden.rec,
        "Nan Ashe",
        Saying(may=(Act.GIVE,), on=day(2025, 1, 1)),
        plant=garden.target(plant),
    )
    gone = leave.withdraw(garden.rec, made.id, on=DAY)
    assert gone.withdrawn == "14 May 2026"
    with pytest.raises(AlreadyEnded):
        leave.withdraw(garden.rec, made.id, on=DAY)
    with pytest.raises(RecordUnknown):
        leave.withdraw(garden.rec, 99, on=DAY)


def test_leave_that_comes_later_answers_what_was_open(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    permission.require(garden.rec, Act.PROPAGATE, [plant], day=day(2026, 5, 1), open_=True)
    shown = leave.add_consent(
        garden.rec, "Nan Ashe", Saying(may=(Act.PROPAGATE,)), plant=garden.target(plant)
    )
    assert shown.settled == 1
    assert [q.row for q in batches.open_questions(garden.rec.session)] == ["C12"]


@pytest.mark.parametrize(
    ("said", "outcome", "may", "may_not"),
    [
        ("yes", "given", ("propagate",), ()),
        ("no", "refused", (), ("propagate",)),
        ("handed-over", "handed over", (), ()),
        (None, "given", (), ()),
    ],
)
def test_leave_with_a_taking_speaks_of_propagating_alone(garden, said, outcome, may, may_not):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    leave.with_taking(garden.rec, plant, outcome=said, said="help yourself", person_id=None, on=DAY)
    shown = leave.consents(garden.rec.session)[0]
    assert (shown.outcome, shown.may, shown.may_not) == (outcome, may, may_not)
    assert shown.person == "Nan Ashe"


def test_nobody_asked_writes_nothing(garden):
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    leave.with_taking(garden.rec, plant, outcome="unasked", said=None, person_id=None, on=DAY)
    assert leave.consents(garden.rec.session) == ()


# --- rights --------------------------------------------------------------------------------------


def test_a_right_names_the_plants_that_it_meets_or_the_nearest(garden):
    sage = garden.founder("Salvia nemorosa 'Fennarc'", how="bought")
    assert leave.add_right(garden.rec, patent()).plants == (garden.code(sage),)
    other = leave.add_right(garden.rec, patent("PP99003", names=("Salvia 'Fennark'",)))
    assert (other.plants, other.near) == ((), ("Salvia nemorosa 'Fennarc'",))


def test_a_grant_that_is_no_tuesday_is_only_warned_about(garden):
    shown = leave.add_right(garden.rec, patent(granted=day(2019, 8, 14)))
    assert shown.warnings == ("not a tuesday",)


@pytest.mark.parametrize(
    ("facts", "problem"),
    [
        ({"granted": day(2017, 8, 15)}, "granted before filed"),
        ({"ends": day(2018, 8, 15)}, "end before grant"),
        ({"territory": "DE"}, "wrong territory"),
        ({"names": ()}, "no name"),
    ],
)
def test_a_right_that_cannot_be_is_refused(garden, facts, problem):
    with pytest.raises(BadRight) as refused:
        leave.add_right(garden.rec, patent(**facts))
    assert refused.value.problems == (problem,)


def test_a_number_of_another_shape_is_refused(garden):
    with pytest.raises(BadRight):
        leave.add_right(garden.rec, patent("EU 12345/X"))


def test_one_row_for_a_right_in_a_territory(garden):
    leave.add_right(garden.rec, patent("PP9,901"))
    with pytest.raises(RightExists):
        leave.add_right(garden.rec, patent("pp 9901"))


def test_a_right_without_a_known_number_may_stand_twice(garden):
    leave.add_right(garden.rec, patent(None))
    leave.add_right(garden.rec, patent(None))
    assert [right.number for right in leave.rights(garden.rec.session)] == [None, None]


def test_several_names_are_looked_up_at_once_and_answer_what_was_open(garden):
    rose = garden.founder("Rosa 'Lane Ember'", how="bought")
    permission.require(
        garden.rec, Act.SELL, [rose], day=day(2026, 5, 1), anyway="asked at the stall"
    )
    results = leave.look_up(
        garden.rec, ["Rosa 'Lane Ember'", "Rosa 'Lost'"], territory="US", where="patents",
        found="none", on=DAY,
    )  # fmt: skip
    assert [(r.plants, r.settled) for r in results] == [((garden.code(rose),), 1), ((), 0)]
    assert results[1].near == ("Rosa 'Lane Ember'",)
    assert len(garden.rec.session.scalars(select(RightLookup)).all()) == 2


def test_a_look_up_under_a_brand_answers_nothing(garden):
    results = leave.look_up(
        garden.rec, ["Rosa KNOCK OUT"], territory="US", where="patents", found="none", on=DAY
    )
    assert results[0].brand


def test_a_licence_clears_what_its_right_bars(garden):
    sage = garden.founder("Salvia nemorosa 'Fennarc'", how="bought")
    leave.add_right(garden.rec, patent())
    leave.add_licence(
        garden.rec, "pp99001", "Fenn Plants", (Act.PROPAGATE, Act.SELL), territory="US",
        royalty=parse_royalty("0.35 USD a plant sold"), notice="PP99001", on=day(2024, 1, 1),
    )  # fmt: skip
    shown = leave.licences(garden.rec.session)[0]
    assert shown.may == ("propagate", "sell (0.35 USD each)")
    answer = permission.judge_plants(
        garden.rec.session, Act.PROPAGATE, [sage], day=DAY, today=TODAY
    )
    licensed = next(f for f in answer.findings if f.row == "B14")
    assert licensed.record == f"licence {shown.id}"
    pot = garden.raised(sage)[0]
    sold = permission.judge_plants(garden.rec.session, Act.SELL, [pot], day=DAY, today=TODAY)
    assert "pay 0.35 USD each" in next(f.text for f in sold.findings if f.row == "B14")


def test_a_licence_needs_its_right(garden):
    leave.add_right(garden.rec, patent())
    with pytest.raises(RecordUnknown) as unknown:
        leave.add_licence(garden.rec, "PP99010", "Fenn", (Act.SELL,), territory=None)
    assert unknown.value.near == ("PP99001",)


def test_a_number_in_two_territories_asks_which(garden):
    for territory in ("US", "EU"):
        kind = Kind.US_CERTIFICATE if territory == "US" else Kind.EU_CPVR
        leave.add_right(garden.rec, RightAsked(kind, "201900123", ("Rosa 'Ember'",)))
    with pytest.raises(SeveralRights):
        leave.right_numbered(garden.rec.session, "201900123")
    assert leave.right_numbered(garden.rec.session, "201900123", "EU").territory == "EU"


# --- holds ---------------------------------------------------------------------------------------


def test_a_hold_is_lifted_once(garden):
    plant = garden.founder("a fig")
    made = leave.add_hold(
        garden.rec, garden.target(plant), reason="rust", stops=(Stops.LEAVING,), on=DAY
    )
    assert (made[0].subject, made[0].stops) == (garden.code(plant), ("leaving",))
    assert leave.holds(garden.rec.session) == made
    lifted = leave.lift_hold(garden.rec, hold_id=made[0].id, on=DAY)
    assert lifted[0].lifted == "14 May 2026"
    assert leave.holds(garden.rec.session) == ()
    assert len(leave.holds(garden.rec.session, all_=True)) == 1
    with pytest.raises(AlreadyEnded):
        leave.lift_hold(garden.rec, hold_id=made[0].id, on=DAY)
    with pytest.raises(RecordUnknown):
        leave.lift_hold(garden.rec, target=garden.target(plant), on=DAY)


def test_only_an_open_question_can_be_settled(garden):
    plant = garden.founder("a fig")
    with pytest.raises(RecordUnknown):
        leave.settle_cannot(garden.rec, garden.target(plant), "owner died")


# --- numbers and places as typed -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("12", LimitReason.OF_WHAT),
        ("12 jars", LimitReason.OF_WHAT),
        ("0 plants", LimitReason.ZERO),
        ("a few", LimitReason.SHAPE),
    ],
)
def test_a_limit_says_how_many_of_what(typed, reason):
    with pytest.raises(BadLimit) as refused:
        parse_limit(typed)
    assert refused.value.reason is reason


@pytest.mark.parametrize("typed", ["6", "six dollars", "6 USD each", "-6 USD", ""])
def test_money_is_an_amount_with_its_currency(typed):
    with pytest.raises(BadMoney):
        parse_money(typed)


@pytest.mark.parametrize("typed", ["0.35", "0.35 USD for luck"])
def test_a_royalty_is_money_for_a_plant(typed):
    with pytest.raises(BadMoney):
        parse_royalty(typed)


def test_places_are_countries_and_regions():
    """ISO 3166-1 and 3166-2; UK is reserved there for GB."""
    assert parse_place("gb-sct") == Place("GB", "GB-SCT")
    assert parse_territory("UK") == "GB"
    for typed in ("ZZ", "Oregon", "", "US-"):
        with pytest.raises(BadPlaceCode):
            parse_place(typed)
