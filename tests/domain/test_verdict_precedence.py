"""Where two rows match the same facts, the one that decides: section 0 of the sheet.

Each case has the facts of both rows, and the same facts without what the first row needs: there
the second row answers, so that it was there to be passed over. Rows of different layers add up and
are not here, save where one says that it stands for another.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from registry.domain.rights import EventKind
from registry.domain.spans import ANY_DAY
from registry.domain.verdict import Level, judge
from registry.domain.verdict.facts import (
    Acquisition,
    Asked,
    EdgeRole,
    FreeStatement,
    Ground,
    How,
    Identity,
    Limit,
    Name,
    Origin,
    Outcome,
    Owner,
    Provenance,
    Purpose,
    Role,
    Source,
    Unit,
)
from tests.domain.dossiers import (
    CHILD,
    GIVE,
    KEEP,
    MINT,
    PROPAGATE,
    ROSE,
    SELL,
    SOURCE,
    ask,
    consent,
    day,
    dossier,
    janes,
    mine,
    no,
    patent,
    rose,
    us_patent,
    yes,
)
from tests.domain.test_verdict_rows import (
    COMPACTA,
    ENDED_UK,
    FORBIDS,
    KNOTWEED,
    PRIVATE,
    SELECTION,
    SPORT,
    TRADE,
    UNNAMED,
    child,
    event,
    licence,
    limited,
    look,
    lot,
    named,
    propagated,
    rule,
    ruled,
    seedling,
    since,
    very_plant,
    with_right,
)


def over(first, second, both, without):
    """Facts of two rows, and the facts without those of the first."""
    return pytest.param(first, second, both, without, id=f"verdict-{first}-over-{second}")


def licensed(right, *acts):
    return replace(right, licences=(licence(yes(*acts)),))


def ended_licence(right):
    """A licence under which it was made, and which has ended."""
    return replace(right, licences=(licence(yes(PROPAGATE), until=day("2025-12-31")),))


GIVERS = Acquisition(copy=True)
BOUGHT = Acquisition(source=Source.LICENSED, territory="US")
OLD = Acquisition(on=day("2010-01-01"))
FREE = (FreeStatement(500, "rosa peace", day("2020-01-01")),)
BRAND = Name("glow", Identity.BRAND)
PENDING = {"granted": None, "number": None}
ANNULLED = {"events": event(EventKind.ANNULLED, "2020-01-01")}
GROUNDS = mine(names=(ROSE, replace(MINT, grounds=True)))
BARE = mine(names=(ROSE, MINT))


def us(right, act=PROPAGATE, **more):
    return with_right(right, act, place="US", **more)


ON_RECORD = [
    # licence before all else
    over("B14", "B28", us(licensed(us_patent(**ANNULLED), PROPAGATE)), us(us_patent(**ANNULLED))),
    over(
        "B14",
        "B31",
        us(licensed(us_patent(), PROPAGATE), source=GROUNDS),
        us(us_patent(), source=GROUNDS),
    ),
    over(
        "B14",
        "B30",
        with_right(licensed(patent(**ENDED_UK), SELL), SELL, lot=lot(TRADE, "2018-05-14")),
        with_right(patent(**ENDED_UK), SELL, lot=lot(TRADE, "2018-05-14")),
    ),
    over("B14", "B8", very_plant(licensed(patent(), SELL)), very_plant(patent())),
    over(
        "B14",
        "B6",
        very_plant(licensed(us_patent(), SELL), place="US", bought=GIVERS),
        very_plant(us_patent(), place="US", bought=GIVERS),
    ),
    over("B14", "B11", seedling(licensed(patent(), SELL)), seedling(patent())),
    over(
        "B14",
        "B12",
        propagated(licensed(patent(), PROPAGATE), child=child(SPORT), purpose=TRADE),
        propagated(patent(), child=child(SPORT), purpose=TRADE),
    ),
    over("B14", "B2", with_right(licensed(patent(), PROPAGATE)), with_right(patent())),
    over(
        "B14",
        "B19",
        us(licensed(us_patent(), PROPAGATE), source=rose(acquired=OLD)),
        us(us_patent(), source=rose(acquired=OLD)),
    ),
    over("B14", "B1", us(licensed(us_patent(), PROPAGATE)), us(us_patent())),
    over("B14", "B5", with_right(licensed(patent(), SELL), SELL), with_right(patent(), SELL)),
    over(
        "B14",
        "B17",
        us(licensed(us_patent(**PENDING), PROPAGATE)),
        us(us_patent(**PENDING)),
    ),
    over(
        "B16",
        "B1",
        with_right(ended_licence(patent()), SELL, lot=lot(TRADE)),
        with_right(patent(), SELL, lot=lot(TRADE)),
    ),
    over(
        "B16",
        "B3",
        us(ended_licence(us_patent()), GIVE, purpose=PRIVATE),
        us(us_patent(), GIVE, purpose=PRIVATE),
    ),
    # annulled
    over("B28", "B1", us(us_patent(**ANNULLED)), us(us_patent())),
    over("B28", "B8", very_plant(patent(**ANNULLED)), very_plant(patent())),
    over("B28", "B11", seedling(patent(**ANNULLED)), seedling(patent())),
    over("B28", "B2", with_right(patent(**ANNULLED)), with_right(patent())),
    # renamed
    over("B31", "B1", us(us_patent(), source=GROUNDS), us(us_patent(), source=BARE)),
    over("B31", "B2", with_right(patent(), source=GROUNDS), with_right(patent(), source=BARE)),
    over(
        "B31",
        "B17",
        us(us_patent(**PENDING), source=GROUNDS),
        us(us_patent(**PENDING), source=BARE),
    ),
    # made without leave while in force, ended since
    over(
        "B30",
        "B22",
        with_right(patent(**ENDED_UK), SELL, lot=lot(TRADE, "2018-05-14")),
        with_right(patent(**ENDED_UK), SELL, lot=lot(TRADE, "2025-05-14")),
    ),
    # the very plant, or a copy that its giver made
    over(
        "B7",
        "B1",
        very_plant(us_patent(), place="US", bought=BOUGHT),
        us(us_patent(), SELL, lot=lot(TRADE)),
    ),
    over("B8", "B1", very_plant(patent()), with_right(patent(), SELL, lot=lot(TRADE))),
    over(
        "B9",
        "B8",
        very_plant(patent(), bought=Acquisition(territory="JP")),
        very_plant(patent()),
    ),
    over(
        "B6",
        "B8",
        very_plant(us_patent(), place="US", bought=GIVERS),
        very_plant(us_patent(), place="US"),
    ),
    over(
        "B6",
        "B1",
        us(us_patent(), source=rose(how=How.GIVEN, acquired=GIVERS)),
        us(us_patent(), source=rose(how=How.GIVEN, acquired=Acquisition())),
    ),
    # seed, sport, own seedling
    over("B11", "B5", seedling(patent()), with_right(patent(), SELL)),
    over(
        "B11",
        "B2",
        propagated(patent(), role=EdgeRole.SEED_PARENT),
        propagated(patent()),
    ),
    over("B13", "B11", seedling(patent(), child=child(SELECTION)), seedling(patent())),
    over(
        "B12",
        "B1",
        propagated(us_patent(), child=child(SPORT), place="US"),
        propagated(us_patent(), place="US"),
    ),
    over(
        "B12",
        "B2",
        propagated(patent(), child=child(SPORT)),
        propagated(patent()),
    ),
    # the private exemption
    over(
        "B2",
        "B19",
        with_right(patent(), source=rose(acquired=OLD)),
        with_right(patent(), source=rose(acquired=OLD), purpose=TRADE),
    ),
    over("B2", "B1", with_right(patent()), with_right(patent(), purpose=TRADE)),
    over(
        "B2",
        "B21",
        with_right(patent(granted=day("2000-05-01"), group=None)),
        with_right(patent(granted=day("2000-05-01"), group=None), purpose=TRADE),
    ),
    # older than the filing, in force
    over(
        "B19",
        "B1",
        us(us_patent(), source=rose(acquired=OLD)),
        us(us_patent()),
    ),
    over(
        "B3",
        "B5",
        with_right(patent(), GIVE, purpose=PRIVATE),
        with_right(patent(), GIVE, purpose=TRADE),
    ),
    over(
        "B5",
        "B4",
        with_right(patent(), GIVE, lot=lot(PRIVATE)),
        with_right(patent(), GIVE, lot=lot(TRADE)),
    ),
    over(
        "B5",
        "B22",
        with_right(patent(**ENDED_UK), SELL, lot=lot(PRIVATE, "2018-05-14")),
        with_right(patent(**ENDED_UK), SELL, lot=lot(PRIVATE, "2025-05-14")),
    ),
    # keeping
    over(
        "B6",
        "B46",
        us(us_patent(), KEEP, source=rose(how=How.GIVEN, acquired=GIVERS)),
        us(us_patent(), KEEP, asked=(Asked(CHILD),)),
    ),
]

NO_RECORD = [
    over(
        "C13",
        "B36",
        named(replace(ROSE, identity=Identity.MIX_UP)),
        named(ROSE),
    ),
    over(
        "B17",
        "B42",
        named(ROSE, acquired=replace(FORBIDS, pending_mark="GB")),
        named(ROSE, acquired=FORBIDS),
    ),
    over("B42", "B39", named(ROSE, acquired=FORBIDS, free=FREE), named(ROSE, free=FREE)),
    over(
        "B42",
        "B34",
        named(ROSE, acquired=FORBIDS, lookups=(look(),)),
        named(ROSE, lookups=(look(),)),
    ),
    over(
        "B42",
        "B37",
        named(ROSE, acquired=FORBIDS, since=since(1950)),
        named(ROSE, since=since(1950)),
    ),
    over("B42", "C12", named(UNNAMED, acquired=FORBIDS), named(UNNAMED)),
    over("B42", "B36", named(ROSE, acquired=FORBIDS), named(ROSE)),
    over(
        "B39",
        "B34",
        named(ROSE, free=FREE, lookups=(look(),)),
        named(ROSE, lookups=(look(),)),
    ),
    over("B39", "B36", named(ROSE, free=FREE), named(ROSE)),
    over(
        "B34",
        "B37",
        named(ROSE, lookups=(look(),), since=since(1950)),
        named(ROSE, since=since(1950)),
    ),
    over("B34", "B36", named(ROSE, lookups=(look(),)), named(ROSE)),
    over(
        "B34",
        "B38",
        named(ROSE, lookups=(look(),), since=since(1950, source=None)),
        named(ROSE, since=since(1950, source=None)),
    ),
    over("B37", "C12", named(UNNAMED, since=since(1950)), named(UNNAMED)),
    over(
        "B37",
        "C11",
        named(Name("", Identity.LABEL_LOST), since=since(1950)),
        named(Name("", Identity.LABEL_LOST)),
    ),
    over("B37", "B45", named(BRAND, since=since(1950)), named(BRAND)),
    over("B37", "B40", named(MINT, since=since(1950)), named(MINT)),
    over(
        "B37",
        "B41",
        named(replace(MINT, from_seed=False), since=since(1950)),
        named(replace(MINT, from_seed=False)),
    ),
    over("B37", "B36", named(ROSE, since=since(1950)), named(ROSE)),
    over(
        "C12",
        "B36",
        named(replace(ROSE, identity=Identity.DOUBTFUL)),
        named(ROSE),
    ),
    over(
        "C12",
        "B34",
        named(replace(ROSE, identity=Identity.DOUBTFUL), lookups=(look(),)),
        named(ROSE, lookups=(look(),)),
    ),
    over(
        "C12",
        "B41",
        named(replace(MINT, from_seed=False, identity=Identity.DOUBTFUL)),
        named(replace(MINT, from_seed=False)),
    ),
    over(
        "B40",
        "B41",
        named(MINT),
        named(replace(MINT, from_seed=False)),
    ),
    over(
        "B35",
        "B38",
        named(ROSE, lookups=(look(by_denomination=False),), since=since(1950, source=None)),
        named(ROSE, since=since(1950, source=None)),
    ),
    over(
        "B35",
        "B36",
        named(ROSE, lookups=(look(by_denomination=False),)),
        named(ROSE),
    ),
]


def taken(*words, **more):
    """Cuttings asked for on Jane's plant."""
    return dossier(ask(PROPAGATE), janes(*words, **more))


YES = consent(yes(PROPAGATE))
GONE_BACK = consent(yes(PROPAGATE), withdrawn=day("2026-01-01"))
ENDED = consent(yes(PROPAGATE), until=day("2025-12-31"))
STRANGER = consent(yes(PROPAGATE), person=11)
OTHERS = (Owner(8, day("2026-01-01")),)
SOLD_ON = {"owners": (Owner(7, ANY_DAY, day("2025-12-31")), *OTHERS)}

LEAVE = [
    over("A1", "A2", dossier(ask(PROPAGATE), mine()), taken()),
    over(
        "C10", "A1", dossier(ask(PROPAGATE), mine(how=How.PRODUCE)), dossier(ask(PROPAGATE), mine())
    ),
    over("A2b", "A2", taken(consent(outcome=Outcome.NO_ANSWER)), taken()),
    over(
        "A2b",
        "A5",
        taken(consent(outcome=Outcome.NO_ANSWER, id=101), consent(outcome=Outcome.HANDED_OVER)),
        taken(consent(outcome=Outcome.HANDED_OVER)),
    ),
    over(
        "A5",
        "A7",
        taken(consent(outcome=Outcome.HANDED_OVER)),
        taken(consent(yes(SELL))),
    ),
    over(
        "A6",
        "A3",
        taken(YES, consent(no(PROPAGATE), id=101, given="2025-06-01", recorded="2025-06-01")),
        taken(YES),
    ),
    over(
        "A6",
        "A16",
        taken(STRANGER, replace(STRANGER, id=101, words=no(PROPAGATE), recorded=STRANGER.recorded)),
        taken(STRANGER),
    ),
    over("A16", "A3", taken(STRANGER), taken(YES)),
    over(
        "A16",
        "A13",
        taken(replace(GONE_BACK, person=11)),
        taken(GONE_BACK),
    ),
    over(
        "A13",
        "A9",
        taken(replace(ENDED, withdrawn=day("2026-01-01"))),
        taken(ENDED),
    ),
    over("A13", "A17", taken(GONE_BACK, **SOLD_ON), taken(YES, **SOLD_ON)),
    over("A17", "A9", taken(ENDED, **SOLD_ON), taken(ENDED)),
    over("A9", "A3", taken(ENDED), taken(YES)),
    over(
        "A11",
        "A12",
        dossier(
            ask(PROPAGATE),
            janes(limited(5, Unit.CUTTINGS, PROPAGATE)),
            asked=(Asked(SOURCE, 6),),
        ),
        dossier(
            ask(PROPAGATE),
            janes(limited(5, Unit.CUTTINGS, PROPAGATE)),
            asked=(Asked(SOURCE, 5),),
        ),
    ),
    over(
        "A11",
        "A3",
        dossier(
            ask(PROPAGATE),
            janes(consent(yes(PROPAGATE, limit=Limit(5, Unit.CUTTINGS)))),
            asked=(Asked(SOURCE, 6),),
        ),
        taken(YES),
    ),
    over(
        "A18",
        "A3",
        dossier(ask(SELL), janes(consent(yes(PROPAGATE, SELL))), role=EdgeRole.SEED_PARENT),
        dossier(ask(SELL), janes(consent(yes(PROPAGATE, SELL)))),
    ),
    over(
        "A19",
        "A3",
        dossier(ask(SELL), janes(consent(yes(PROPAGATE, SELL))), role=EdgeRole.POLLEN_PARENT),
        dossier(ask(SELL), janes(consent(yes(PROPAGATE, SELL)))),
    ),
    over("A20", "A2", taken(ground=Ground.PUBLIC), taken()),
    over("A21", "A2", taken(ground=Ground.GROUP), taken()),
    over(
        "A20",
        "A1",
        dossier(ask(PROPAGATE), mine(ground=Ground.PUBLIC)),
        dossier(ask(PROPAGATE), mine()),
    ),
    over(
        "C4",
        "A7",
        dossier(ask(SELL), janes(consent(yes(PROPAGATE), role=Role.GIVER))),
        dossier(ask(SELL), janes(YES)),
    ),
]

RULES = [
    over("C16", "C15", ruled(rule(), COMPACTA), ruled(rule(), KNOTWEED)),
    over("C17", "C15", ruled(rule(species="")), ruled(rule())),
]


def held_to(first, second, both, without):
    """Both rows' facts give the first alone; without the first's the second answers."""
    found = {finding.row for finding in judge(both).findings}
    assert first in found
    assert second not in found
    assert second in {finding.row for finding in judge(without).findings}


@pytest.mark.parametrize(("first", "second", "both", "without"), ON_RECORD)
def test_of_two_rows_on_a_right_one_decides(first, second, both, without):
    held_to(first, second, both, without)


@pytest.mark.parametrize(("first", "second", "both", "without"), NO_RECORD)
def test_of_two_rows_without_a_right_one_decides(first, second, both, without):
    held_to(first, second, both, without)


@pytest.mark.parametrize(("first", "second", "both", "without"), LEAVE)
def test_of_two_rows_on_leave_one_decides(first, second, both, without):
    held_to(first, second, both, without)


@pytest.mark.parametrize(("first", "second", "both", "without"), RULES)
def test_of_two_rows_of_one_rule_one_decides(first, second, both, without):
    held_to(first, second, both, without)


def test_verdict_c9_is_not_asked_on_top_of_a2():
    """An origin that is not known does not stack on a leave that is not."""
    unknown = Origin(Provenance.NOT_KNOWN)
    asked = ask(PROPAGATE, purpose=Purpose.TRADE)
    rows = {f.row for f in judge(dossier(asked, janes(origin=unknown))).findings}
    assert "A2" in rows
    assert "C9" not in rows
    assert "C9" in {f.row for f in judge(dossier(asked, mine(origin=unknown))).findings}


def test_verdict_b29_one_right_that_is_clear_clears_no_other():
    """An ended US patent says nothing of certificates and utility patents of the place."""
    ended = us_patent(granted=day("2001-01-02"), filed=day("2000-01-01"))
    rows = {f.row: f.level for f in judge(us(ended, SELL, asked=(Asked(SOURCE),))).findings}
    assert (rows["B22"], rows["B36"]) == (Level.CLEAR, Level.UNKNOWN)
