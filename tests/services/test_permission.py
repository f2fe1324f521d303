"""The gate: what a verdict asks for before an act is recorded, and what is written down."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
from sqlalchemy import Engine, event, select

from registry.domain.counts import Count
from registry.domain.dates import FuzzyDate
from registry.domain.dealings import parse_limit
from registry.domain.methods import Method, Role
from registry.domain.rules.kinds import Kind
from registry.domain.verdict.facts import Act, Outcome, Purpose, Way
from registry.errors import NotRecorded, PlantsGone
from registry.services import batches, leave, permission
from registry.services.leave import Saying
from registry.storage.engine import reading
from registry.storage.models import Determination, Plant, Question, VerdictGiven
from registry.storage.transaction import Recording
from tests.services.garden import DAY, Garden, begin, day

TODAY = date(2026, 5, 14)
MAY_GIVE = Saying(
    may=(Act.PROPAGATE, Act.GIVE), may_not=(Act.SELL,), said="help yourself", on=day(2024, 3, 1)
)


def ask(rec: Recording, act: Act, *nodes: int, on: FuzzyDate = DAY, **question):
    return permission.judge_plants(rec.session, act, nodes, day=on, today=TODAY, **question)


def rows_of(answer: permission.Answer) -> dict[str, str]:
    return {finding.row: finding.level for finding in answer.findings}


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


def test_a_no_binds_two_generations_down_and_names_consent_and_ancestor(garden):
    rec = garden.rec
    ashe = garden.founder("red hydrangea, side gate", owner="Nan Ashe")
    consent = leave.add_consent(rec, "Nan Ashe", MAY_GIVE, plant=garden.target(ashe))
    child = garden.raised(ashe, taken=day(2024, 6, 12))[0]
    grandchild = garden.raised(child, taken=day(2025, 6, 24))[0]

    answer = ask(rec, Act.SELL, grandchild)

    assert answer.level == "barred"
    no = answer.findings[0]
    assert (no.row, no.plant, no.record) == ("A6", garden.code(ashe), f"consent {consent.id}")
    assert "Nan Ashe said no" in no.text
    assert garden.code(ashe) in no.text


def test_selling_an_own_line_is_clear_once_its_name_was_looked_up(garden):
    rec = garden.rec
    own = garden.founder("Fuchsia 'Lane Ember'", how="bought")
    descendant = garden.raised(garden.raised(own)[0])[0]
    before = ask(rec, Act.SELL, descendant)
    assert (before.level, before.unknown) == ("unknown", "gap")
    assert rows_of(before)["B36"] == "unknown"

    leave.look_up(
        rec, ["Fuchsia 'Lane Ember'"], territory="US", where="patents", found="none", on=DAY
    )

    answer = ask(rec, Act.SELL, descendant)
    assert answer.level == "clear"
    assert rows_of(answer)["B34"] == "clear"


def test_a_finding_prints_a_cultivar_name_as_every_screen_does(garden):
    own = garden.founder("Fuchsia 'Lane Ember'", how="bought")
    texts = [one.text for one in ask(garden.rec, Act.SELL, own).findings]
    assert any("(Fuchsia ‘Lane Ember’)" in text for text in texts)
    assert not any("'Lane Ember'" in text for text in texts)


@pytest.mark.parametrize("found", ["something", "unsure"])
def test_a_look_up_that_found_something_clears_nothing(garden, found):
    own = garden.founder("Fuchsia 'Lane Ember'", how="bought")
    leave.look_up(
        garden.rec, ["Fuchsia 'Lane Ember'"], territory="US", where="w", found=found, on=DAY
    )
    assert rows_of(ask(garden.rec, Act.SELL, own))["B36"] == "unknown"


def test_a_patent_in_force_bars_taking(garden):
    sage = garden.founder("Salvia nemorosa 'Fennarc'", how="bought")
    leave.add_right(
        garden.rec,
        leave.RightAsked(
            Kind.US_PLANT_PATENT,
            "PP99002",
            ("Salvia 'Fennarc'",),
            filed=day(2018, 3, 6),
            granted=day(2019, 8, 13),
        ),
    )
    answer = ask(garden.rec, Act.PROPAGATE, sage)
    assert answer.level == "barred"
    assert answer.findings[0].row == "B1"
    assert answer.findings[0].changes_on == "2038-03-07"  # 20 years from filing, and a day
    assert "US plant patent PP99002" in answer.findings[0].text


def test_a_gap_asks_for_open_and_is_not_asked_twice(garden):
    rec = garden.rec
    plant = garden.founder("old pink rose", owner="Tom Birch")

    with pytest.raises(NotRecorded) as refused:
        permission.require(rec, Act.PROPAGATE, [plant], day=DAY)
    assert refused.value.need == "open"
    assert rec.session.scalar(select(Question.id)) is None

    first = permission.require(rec, Act.PROPAGATE, [plant], day=DAY, open_=True)
    assert {gap.row for gap in first.questions} == {"A2", "C12"}
    again = permission.require(rec, Act.PROPAGATE, [plant], day=DAY)
    assert again.questions == first.questions
    noted = rec.session.execute(select(Question.node_id, Question.row)).all()
    assert sorted(noted) == [(plant, "A2"), (plant, "C12")]


def test_a_no_asks_for_a_reason_and_keeps_it(garden):
    rec = garden.rec
    plant = garden.founder("red hydrangea", owner="Nan Ashe")
    leave.add_consent(
        rec,
        "Nan Ashe",
        Saying(outcome=Outcome.REFUSED, on=day(2024, 1, 1)),
        plant=garden.target(plant),
    )
    with pytest.raises(NotRecorded) as refused:
        permission.require(rec, Act.GIVE, [plant], day=DAY, purpose=Purpose.PRIVATE, open_=True)
    assert refused.value.need == "reason"

    given = permission.require(
        rec, Act.GIVE, [plant], day=DAY, purpose=Purpose.PRIVATE, anyway="it was dying"
    )
    kept = rec.session.get_one(VerdictGiven, given.verdict_id)
    assert (kept.level, kept.anyway, kept.purpose) == ("barred", "it was dying", "private")
    assert kept.findings[0]["row"] == "A6"


def test_trade_needs_a_reason_even_where_only_gaps_stand(garden):
    plant = garden.founder("red hydrangea", how="bought")
    with pytest.raises(NotRecorded) as refused:
        permission.require(garden.rec, Act.SELL, [plant], day=DAY, open_=True)
    assert refused.value.need == "reason"


def test_an_empty_reason_is_none(garden):
    plant = garden.founder("red hydrangea", how="bought")
    with pytest.raises(NotRecorded):
        permission.require(garden.rec, Act.SELL, [plant], day=DAY, anyway="  ")


def test_history_is_recorded_with_its_verdict_and_refuses_nothing(record):
    with record("test") as rec:
        begin(rec, began=date(2026, 1, 1))
        garden = Garden(rec)
        plant = garden.founder("red hydrangea", owner="Nan Ashe")
        refusal = Saying(outcome=Outcome.REFUSED, on=day(2020, 1, 1))
        leave.add_consent(rec, "Nan Ashe", refusal, plant=garden.target(plant))

        given = permission.require(rec, Act.PROPAGATE, [plant], day=day(2025, 12, 31))
        assert (given.level, given.history, given.anyway) == ("barred", True, None)

        open_ended = FuzzyDate("2025-12-31/2026-01-01", date(2025, 12, 31), date(2026, 1, 1))
        with pytest.raises(NotRecorded):
            permission.require(rec, Act.PROPAGATE, [plant], day=open_ended)


def test_leave_with_a_taking_covers_it_and_counts_it(garden):
    rec = garden.rec
    plant = garden.founder("red hydrangea, side gate", owner="Nan Ashe")
    leave.with_taking(rec, plant, outcome="yes", said="help yourself", person_id=None, on=DAY)
    given = permission.require(rec, Act.PROPAGATE, [plant], day=DAY, open_=True)
    assert rows_of(given.answer)["A4"] == "clear"
    assert {gap.row for gap in given.questions} == {"C12"}  # a name nobody can look up, in the US
    lot = garden.batch(plant)[0]
    permission.use(rec, given, plant, lot, Count.of(10), DAY)
    rec.flush()
    shown = leave.consents(rec.session)[0]
    assert (shown.person, shown.may, shown.used) == (
        "Nan Ashe",
        ("propagate",),
        (("propagate", 10),),
    )


def test_giving_what_was_only_allowed_to_be_taken_stays_a_question(garden):
    rec = garden.rec
    plant = garden.founder("red hydrangea, side gate", owner="Nan Ashe")
    leave.with_taking(rec, plant, outcome="yes", said=None, person_id=None, on=DAY)
    pot = garden.raised(plant)[0]
    answer = ask(rec, Act.GIVE, pot, purpose=Purpose.PRIVATE)
    assert (answer.level, answer.unknown) == ("unknown", "gap")
    assert rows_of(answer)["A7"] == "unknown"
    assert next(f for f in answer.findings if f.row == "A7").ask == "Nan Ashe"


def test_a_limit_counts_what_was_used_before(garden):
    rec = garden.rec
    plant = garden.founder("Ribes", owner="Ida Moss")
    saying = Saying(may=(Act.PROPAGATE,), limit=parse_limit("12 cuttings"), on=day(2024, 1, 1))
    leave.add_consent(rec, "Ida Moss", saying, plant=garden.target(plant))
    given = permission.require(rec, Act.PROPAGATE, [plant], day=DAY, open_=True, n={plant: 10})
    permission.use(rec, given, plant, garden.batch(plant)[0], 10, DAY)

    two = ask(rec, Act.PROPAGATE, plant, n={plant: 2})
    assert rows_of(two)["A12"] == "conditional"
    three = ask(rec, Act.PROPAGATE, plant, n={plant: 3})
    assert three.level == "barred"
    assert "12 cuttings" in three.findings[0].text
    assert "2 of them left" in three.findings[0].text


def test_what_cannot_be_known_is_never_asked_again(garden):
    rec = garden.rec
    plant = garden.founder("old pink rose", owner="Tom Birch")
    permission.require(rec, Act.PROPAGATE, [plant], day=DAY, open_=True)
    settled = leave.settle_cannot(rec, garden.target(plant), "owner died")
    assert {question.row for question in settled} == {"A2", "C12"}
    assert batches.open_questions(rec.session) == []
    again = permission.require(rec, Act.PROPAGATE, [plant], day=DAY)
    assert again.level == "unknown"


def test_a_plant_that_has_ended_is_left_out_of_a_group(garden):
    rec = garden.rec
    own = garden.founder("Fuchsia 'Lane Ember'", how="bought")
    one, two = garden.raised(own, 2)
    gone = rec.session.get_one(Plant, one)
    gone.status, gone.ended = "died", day(2026, 3, 1)
    rec.flush()
    answer = ask(rec, Act.SELL, one, two)
    assert [plant.code for plant in answer.gone] == [garden.code(one)]
    assert [code for code, _ in answer.plants] == [garden.code(two)]
    with pytest.raises(PlantsGone):
        ask(rec, Act.SELL, one)
    # On a day before it died it stood.
    assert ask(rec, Act.PROPAGATE, one, on=day(2026, 2, 1)).gone == ()


def test_a_hold_on_a_batch_bars_what_it_stops(garden):
    rec = garden.rec
    own = garden.founder("Fuchsia 'Lane Ember'", how="bought")
    lot = garden.batch(own)[0]
    pot = garden.pots(lot, 1)[0]
    leave.add_hold(rec, garden.lots(lot), reason="rust", on=day(2026, 5, 1))
    assert rows_of(ask(rec, Act.GIVE, pot))["C23"] == "barred"
    leave.lift_hold(rec, target=garden.lots(lot), on=DAY)
    assert "C23" not in rows_of(ask(rec, Act.GIVE, pot))


def test_a_hold_on_a_place_reaches_what_stands_inside_it(garden):
    rec = garden.rec
    from registry.services import people

    yard = people.add_place(rec, "yard")
    frame = people.add_place(rec, "cold frame", within="yard")
    inside = garden.founder("Fuchsia 'Lane Ember'", how="bought", place_id=frame)
    outside = garden.founder("Salvia 'Lane Ember'", how="bought")
    leave.add_hold(rec, None, place_id=yard, reason="rust", on=day(2026, 5, 1))
    assert rows_of(ask(rec, Act.SELL, inside))["C23"] == "barred"
    assert "C23" not in rows_of(ask(rec, Act.SELL, outside))


def test_wild_material_asks_for_a_permit_unless_the_owner_allows_it(garden):
    rec = garden.rec
    wild = garden.founder("Symphoricarpos albus", owner="Ida Moss", how="wild", origin="wild")
    assert rows_of(ask(rec, Act.PROPAGATE, wild))["C8"] == "unknown"
    leave.add_consent(
        rec,
        "Ida Moss",
        Saying(may=(Act.PROPAGATE,), on=day(2024, 1, 1)),
        plant=garden.target(wild),
    )
    assert rows_of(ask(rec, Act.PROPAGATE, wild))["C7"] == "clear"


def test_the_verdict_of_a_lot_is_read_back(garden):
    rec = garden.rec
    plant = garden.founder("old pink rose", owner="Tom Birch")
    given = permission.require(rec, Act.PROPAGATE, [plant], day=DAY, open_=True)
    lot = garden.batch(plant, verdict_id=given.verdict_id)[0]
    again = permission.given_for_lots(rec.session, [lot])
    assert (again.level, again.unknown, again.verdict_id) == ("unknown", "gap", given.verdict_id)
    assert [gap.text for gap in again.questions] == [gap.text for gap in given.questions]


@contextmanager
def counted(engine: Engine) -> Iterator[list[str]]:
    seen: list[str] = []

    def note(connection, cursor, statement, *rest):
        seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(engine, "before_cursor_execute", note)


def test_queries_do_not_grow_with_the_plants(record, engine, registry_file):
    """At most twelve for one plant and for a thousand of fifty batches."""
    with record("test") as rec:
        begin(rec)
        garden = Garden(rec)
        source = garden.founder("Fuchsia 'Lane Ember'", owner="Nan Ashe")
        limit = parse_limit("5000 plants")
        saying = Saying(may=(Act.PROPAGATE, Act.SELL), limit=limit, on=day(2024, 1, 1))
        leave.add_consent(rec, "Nan Ashe", saying, plant=garden.target(source))
        leave.add_right(rec, leave.RightAsked(Kind.EU_CPVR, "1", ("Fuchsia 'Lane Ember'",)))
        leave.add_hold(rec, garden.target(source), reason="rust", on=DAY)
        pots = [pot for _ in range(50) for pot in garden.pots(garden.batch(source)[0], 20)]
    numbers = []
    for asked in (pots[:1], pots):
        with reading(engine, registry_file) as session, counted(engine) as statements:
            answer = permission.judge_plants(session, Act.SELL, asked, day=DAY, today=TODAY)
        assert len(answer.plants) == len(asked)
        numbers.append(len([s for s in statements if not s.startswith("BEGIN")]))
    assert numbers[0] == numbers[1]
    assert numbers[1] <= 12


def test_seed_of_a_patented_plant_is_no_copy(garden):
    """35 USC 163 reaches asexual copies; whatever serves in another way is judged beside it."""
    sage = garden.founder("Salvia nemorosa 'Fennarc'", how="bought")
    stock = garden.founder("seedling rootstock", how="bought")
    leave.add_right(
        garden.rec,
        leave.RightAsked(
            Kind.US_PLANT_PATENT, "PP99002", ("Salvia 'Fennarc'",),
            filed=day(2018, 3, 6), granted=day(2019, 8, 13),
        ),
    )  # fmt: skip
    sown = permission.require(
        garden.rec, Act.PROPAGATE, [sage], day=DAY, open_=True, ways={sage: Way.SEED}
    )
    assert (sown.level, rows_of(sown.answer)["B11"]) == ("clear", "clear")
    with pytest.raises(NotRecorded) as refused:
        permission.require(
            garden.rec, Act.PROPAGATE, [sage, stock], day=DAY, ways={stock: Way.DIVISION}
        )
    assert refused.value.answer.level == "barred"
    assert len(refused.value.answer.plants) == 2


@pytest.mark.parametrize(
    ("role", "method", "way"),
    [
        (Role.SOURCE, Method.CUTTING, Way.CLONAL),
        (Role.SOURCE, Method.DIVISION, Way.DIVISION),
        (Role.SEED_PARENT, Method.SEED, Way.SEED),
        (Role.POLLEN_PARENT, Method.SEED, Way.POLLEN),
    ],
)
def test_a_role_and_a_method_say_how_a_plant_serves(role, method, way):
    assert permission.way_of(role, method) is way


@pytest.mark.parametrize(
    ("name", "sure", "settled"),
    [
        ("Rosa 'Ember'", None, 1),
        ("Rosa 'Ember'", "likely", 0),
        ("Rosa sp.", None, 0),
        ("some old rose", None, 0),
    ],
)
def test_a_name_answers_what_a_plant_is_if_it_says_it(garden, name, sure, settled):
    rec = garden.rec
    rose = garden.founder("old pink rose", how="bought")
    permission.require(rec, Act.PROPAGATE, [rose], day=DAY, open_=True)
    rec.add(
        Determination(node_id=rose, typed=name, parts={}, printed=name, key=name, sure=sure, on=DAY)
    )
    rec.flush()
    assert leave.settle_name(rec, rose) == settled
