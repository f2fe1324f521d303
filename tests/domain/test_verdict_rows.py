"""The rows of the verdict, one by one: what is on record, and what it comes to.

Rows and their sources stand in docs/verdict-rows.md; statutes are cited in the tables under
registry/domain/rules. Each case asks for the finding of its own row.
"""

from dataclasses import replace
from datetime import date

import pytest

from registry.domain.rights import EventKind, RightEvent
from registry.domain.rules.kinds import Kind
from registry.domain.rules.territories import Place
from registry.domain.spans import ANY_DAY, Span
from registry.domain.verdict import Level, Need, Purpose, Unknown, judge, needs
from registry.domain.verdict.facts import (
    About,
    Acquisition,
    Asked,
    Cites,
    Demand,
    Edge,
    EdgeRole,
    Effect,
    Ended,
    FreeStatement,
    Goods,
    Ground,
    Hold,
    How,
    Identity,
    Limit,
    LookUp,
    Lot,
    Name,
    NameKind,
    Origin,
    Outcome,
    Owner,
    Paper,
    Plant,
    Provenance,
    Restriction,
    Role,
    RuleKind,
    Since,
    Source,
    Stops,
    Taxon,
    Terms,
    Unit,
    Use,
    Way,
    Word,
)
from registry.errors import PlantsGone
from tests.domain.dossiers import (
    CHILD,
    END,
    EXPORT,
    GIVE,
    JANE,
    KEEP,
    LOT,
    MINT,
    MOVE,
    PROPAGATE,
    ROSE,
    SELL,
    SOURCE,
    SWAP,
    TAKEN,
    TODAY,
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

BARRED, UNKNOWN = Level.BARRED, Level.UNKNOWN
CONDITIONAL, CLEAR = Level.CONDITIONAL, Level.CLEAR
GAP, SIGN = Unknown.GAP, Unknown.SIGN
PRIVATE, TRADE = Purpose.PRIVATE, Purpose.TRADE
NONE = "no finding"


def case(name, asked, level, unknown=None, *, row=None):
    """A case named `verdict-ROW-what`; level NONE says that the row gives no finding."""
    return pytest.param(asked, row or name.split("-")[0], level, unknown, id=f"verdict-{name}")


def check(asked, row, level, unknown):
    found = [f for f in judge(asked).findings if f.row == row]
    if level == NONE:
        assert found == []
        return
    assert found, f"row {row} gives no finding: {[f.row for f in judge(asked).findings]}"
    worst = min(found, key=lambda f: f.rank)
    assert (worst.level, worst.unknown) == (level, unknown)


def taken(*consents, **more):
    """Cuttings asked for on Jane's plant with these consents."""
    return dossier(ask(PROPAGATE, **more), janes(*consents))


def sown(node):
    """A plant asked about for its seed."""
    return Asked(node, way=Way.SEED)


def sold(*consents, act=SELL, lot=None, source=None, **more):
    """A plant raised from Jane's, to leave."""
    return dossier(ask(act, **more), source or janes(*consents), lot=lot)


def limited(n, unit=Unit.PLANTS, act=SELL, *, used=0, year=2026, per_year=False, propagate=True):
    words = (Word(act, allowed=True, limit=Limit(n, unit, per_year)),)
    if propagate and act is not PROPAGATE:
        words = (*yes(PROPAGATE), *words)
    uses = (Use(act, used, Span.on(date(year, 3, 1))),) if used else ()
    return consent(words, uses=uses)


EARLY = {"given": "2025-01-01", "recorded": "2025-01-01"}

CONSENT = [
    case("A1-own", dossier(ask(PROPAGATE), mine()), CLEAR),
    case("A1-inherited", dossier(ask(SELL), mine(owners=(), how=How.INHERITED)), CLEAR),
    case("A1-with-the-house", dossier(ask(SELL), mine(owners=(), how=How.WITH_HOUSE)), CLEAR),
    case(
        "A1-not-own-on-the-day",
        dossier(ask(SELL), mine(owners=(Owner(None, day("2026-01-01")),))),
        UNKNOWN,
        GAP,
        row="A2",
    ),
    case("A2-propagate", taken(), UNKNOWN, GAP),
    case("A2-sell", sold(), UNKNOWN, GAP),
    case("A2-owner-not-recorded", dossier(ask(PROPAGATE), janes(owners=())), UNKNOWN, GAP),
    case("A2b-propagate", taken(consent(outcome=Outcome.NO_ANSWER)), UNKNOWN, SIGN),
    case("A2b-sell", sold(consent(outcome=Outcome.NO_ANSWER)), UNKNOWN, SIGN),
    case("A3-propagate", taken(consent(yes(PROPAGATE))), CLEAR),
    case("A3-sell", sold(consent(yes(PROPAGATE, SELL))), CLEAR),
    case(
        "A3-sell-with-royalty",
        sold(consent(yes(PROPAGATE), yes(SELL, royalty="1 EUR"))),
        CONDITIONAL,
    ),
    case(
        "A3-sell-with-credit",
        sold(consent(yes(PROPAGATE), yes(SELL, credit="raised at Nan's"))),
        CONDITIONAL,
    ),
    case("A3-sell-with-number-left", sold(limited(20, used=3)), CONDITIONAL),
    case(
        "A4-propagate-however-open-the-day",
        dossier(
            ask(PROPAGATE, on="2026-05-01/2026-05-31", entry=41),
            janes(
                consent(
                    yes(PROPAGATE),
                    given="2026-05-01/2026-05-31",
                    recorded="2026-05-31",
                    entry=41,
                    with_taking=True,
                )
            ),
        ),
        CLEAR,
    ),
    case(
        "A4-sell-as-its-acts-say",
        sold(consent(yes(PROPAGATE, SELL), entry=40, with_taking=True)),
        CLEAR,
    ),
    case("A5-propagate", taken(consent(outcome=Outcome.HANDED_OVER)), CLEAR),
    case("A5-sell", sold(consent(outcome=Outcome.HANDED_OVER)), UNKNOWN, GAP, row="A7"),
    case("A5-founder", dossier(ask(PROPAGATE), janes(owners=(), how=How.HANDED_OVER)), CLEAR),
    case("A6-propagate", taken(consent(no(PROPAGATE))), BARRED),
    case("A6-sell", sold(consent(yes(PROPAGATE), no(SELL))), BARRED),
    case("A6-refused-when-asked", sold(consent(outcome=Outcome.REFUSED)), BARRED),
    case("A6-taken-against-a-no", sold(consent(no(PROPAGATE))), BARRED),
    case("A7-propagate", taken(consent(yes(GIVE))), UNKNOWN, GAP),
    case("A7-sell", sold(consent(yes(PROPAGATE))), UNKNOWN, GAP),
    case("A7-give", sold(consent(yes(PROPAGATE)), act=GIVE, purpose=PRIVATE), UNKNOWN, GAP),
    case(
        "A8-propagate-covering-what-was-taken",
        taken(
            consent(yes(PROPAGATE), given="2026-06-01", recorded="2026-06-01", covers_taken=True)
        ),
        CONDITIONAL,
    ),
    case(
        "A8-propagate-silent-on-what-was-taken",
        taken(consent(yes(PROPAGATE), given="2026-06-01", recorded="2026-06-01")),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A8-sell-from-that-leave-on",
        sold(consent(yes(PROPAGATE, SELL), given="2025-09-01", recorded="2025-09-01")),
        CLEAR,
    ),
    case(
        "A8-sell-not-before-that-leave",
        sold(consent(yes(SELL), given="2026-09-01", recorded="2026-09-01")),
        UNKNOWN,
        GAP,
        row="A2",
    ),
    case(
        "A9-propagate",
        taken(consent(yes(PROPAGATE), until=day("2025-12-31"))),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A9-sell-ended-before-taking",
        sold(consent(yes(PROPAGATE, SELL), **EARLY, until=day("2025-03-01"))),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A9-sell-ended-before-leaving",
        sold(consent(yes(PROPAGATE, SELL), **EARLY, until=day("2025-12-31"))),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A10-propagate",
        taken(consent(yes(PROPAGATE), given="2026-05-10"), on="2026-05-01/2026-05-31"),
        UNKNOWN,
        GAP,
    ),
    case(
        "A10-sell-by-the-day-of-leaving",
        sold(
            consent(yes(PROPAGATE, SELL), given="2025-05-10"),
            lot=Lot(LOT, day("2025-05-01/2025-05-31")),
        ),
        CLEAR,
        row="A3",
    ),
    case("A11-sell", sold(limited(3, used=3)), BARRED),
    case("A11-uses-not-counted", sold(limited(3, used=None)), CONDITIONAL, row="A3"),
    case(
        "A11-uses-of-unknown-number",
        sold(replace(limited(3), uses=(Use(GIVE, None, day("2026-01-01")),))),
        UNKNOWN,
        GAP,
    ),
    case(
        "A11-give-counts-with-sell",
        sold(replace(limited(3), uses=(Use(GIVE, 3, day("2026-01-01")),))),
        BARRED,
    ),
    case(
        "A11-pieces",
        dossier(
            ask(PROPAGATE),
            janes(limited(10, Unit.CUTTINGS, PROPAGATE, used=6)),
            asked=(Asked(SOURCE, 5),),
        ),
        BARRED,
    ),
    case(
        "A11-this-year",
        sold(limited(3, used=3, year=2026, per_year=True)),
        BARRED,
    ),
    case(
        "A11-last-year-does-not-count",
        sold(limited(3, used=3, year=2025, per_year=True)),
        CONDITIONAL,
        row="A3",
    ),
    case("A12-sell", sold(limited(4, used=3)), CONDITIONAL),
    case("A13-propagate", taken(consent(yes(PROPAGATE), withdrawn=day("2026-04-01"))), BARRED),
    case(
        "A13-before-that-day",
        taken(consent(yes(PROPAGATE), withdrawn=day("2026-08-01"))),
        CLEAR,
        row="A3",
    ),
    case(
        "A13-descendants-taken-before",
        dossier(
            ask(PROPAGATE),
            janes(consent(yes(PROPAGATE), withdrawn=day("2026-04-01"))),
            asked=(Asked(CHILD),),
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A13-sell",
        sold(consent(yes(PROPAGATE, SELL), withdrawn=day("2026-04-01"))),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A13-taken-after",
        sold(consent(yes(PROPAGATE, SELL), **EARLY, withdrawn=day("2025-02-01"))),
        BARRED,
    ),
    case(
        "A15-latest-word-counts",
        sold(
            consent(yes(PROPAGATE, SELL)),
            consent(no(SELL), id=101, given="2026-01-01", recorded="2026-01-01"),
        ),
        BARRED,
        row="A6",
    ),
    case(
        "A15-an-older-no-gives-way",
        sold(
            consent(yes(PROPAGATE), no(SELL)),
            consent(yes(SELL), id=101, given="2025-05-02", recorded="2026-01-01"),
        ),
        CLEAR,
        row="A3",
    ),
    case(
        "A16-sell",
        sold(consent(yes(PROPAGATE, SELL), person=8)),
        UNKNOWN,
        SIGN,
    ),
    case(
        "A16-acting-for-the-owner",
        sold(consent(yes(PROPAGATE, SELL), person=8, role=Role.AGENT)),
        CLEAR,
        row="A3",
    ),
    case(
        "A17-propagate",
        dossier(
            ask(PROPAGATE),
            janes(
                consent(yes(PROPAGATE)),
                owners=(Owner(JANE, ANY_DAY, day("2025-12-31")), Owner(8, day("2026-01-01"))),
            ),
        ),
        UNKNOWN,
        GAP,
    ),
    case(
        "A17-sell-as-agreed-then",
        sold(
            source=janes(
                consent(yes(PROPAGATE, SELL)),
                owners=(Owner(JANE, ANY_DAY, day("2025-12-31")), Owner(8, day("2026-01-01"))),
            )
        ),
        CLEAR,
        row="A3",
    ),
    case(
        "A18-sell",
        dossier(ask(SELL), janes(consent(yes(PROPAGATE, SELL))), role=EdgeRole.SEED_PARENT),
        UNKNOWN,
        GAP,
    ),
    case(
        "A18-sow",
        dossier(ask(PROPAGATE), janes(consent(yes(PROPAGATE))), asked=(sown(SOURCE),)),
        UNKNOWN,
        GAP,
    ),
    case(
        "A18-says-so",
        dossier(
            ask(SELL),
            janes(consent(yes(PROPAGATE, SELL), seedlings=True)),
            role=EdgeRole.SEED_PARENT,
        ),
        CLEAR,
        row="A3",
    ),
    case(
        "A18-leaves-seedlings-free",
        dossier(
            ask(SELL),
            janes(consent(no(SELL), seedlings=False)),
            role=EdgeRole.SEED_PARENT,
        ),
        CLEAR,
    ),
    case("A19-pollen", dossier(ask(SELL), janes(), role=EdgeRole.POLLEN_PARENT), CLEAR),
    case("A20-park", dossier(ask(PROPAGATE), janes(ground=Ground.PUBLIC)), UNKNOWN, GAP),
    case(
        "A20-us-national-park",
        dossier(ask(PROPAGATE, place="US"), janes(ground=Ground.US_NATIONAL_PARK)),
        BARRED,
    ),
    case(
        "A20-us-national-park-permit",
        dossier(
            ask(PROPAGATE, place="US", papers=frozenset({Paper.PARK_PERMIT})),
            janes(ground=Ground.US_NATIONAL_PARK),
        ),
        CLEAR,
    ),
    case(
        "A20-us-national-park-somebody-else-says-yes",
        dossier(
            ask(PROPAGATE, place="US"),
            janes(consent(yes(PROPAGATE)), ground=Ground.US_NATIONAL_PARK),
        ),
        BARRED,
    ),
    case(
        "A20-leave-of-the-keeper",
        dossier(
            ask(PROPAGATE),
            janes(consent(yes(PROPAGATE), role=Role.KEEPER), ground=Ground.PUBLIC, owners=()),
        ),
        CLEAR,
        row="A3",
    ),
    case("A21-club", dossier(ask(PROPAGATE), janes(ground=Ground.GROUP)), UNKNOWN, GAP),
    case(
        "A21-leave-of-its-committee",
        dossier(
            ask(PROPAGATE),
            janes(consent(yes(PROPAGATE), role=Role.COMMITTEE), ground=Ground.GROUP, owners=()),
        ),
        CLEAR,
        row="A3",
    ),
    case(
        "C4-swap-with-terms",
        dossier(
            ask(SELL),
            mine(
                consent(yes(PROPAGATE), no(SELL), role=Role.GIVER),
                how=How.SWAPPED,
            ),
        ),
        BARRED,
    ),
]


@pytest.mark.parametrize(("asked", "row", "level", "unknown"), CONSENT)
def test_owners_consent(asked, row, level, unknown):
    check(asked, row, level, unknown)


# --- rights --------------------------------------------------------------------------------------


def with_right(right, act=PROPAGATE, *, source=None, lot=None, asked=None, **more):
    more.setdefault("place", "GB")
    return dossier(ask(act, **more), source or rose(), lot=lot, asked=asked, rights=(right,))


def lot(purpose=None, on="2025-05-14", **more):
    return Lot(LOT, day(on), purpose=purpose, **more)


def very_plant(right, act=SELL, *, bought=None, how=How.BOUGHT, **more):
    return with_right(
        right,
        act,
        source=rose(how=how, acquired=bought or Acquisition()),
        asked=(Asked(SOURCE),),
        **more,
    )


def licence(*words, **more):
    more = {"given": "2020-01-01", "recorded": "2020-01-01", "role": Role.HOLDER, **more}
    return consent(*words, id=200, person=9, **more)


def event(what, on, final=True):
    return (RightEvent(what, day(on), final),)


US_PP, US_UP = Kind.US_PLANT_PATENT, Kind.US_UTILITY_PATENT
EU, CA, US_CERT = Kind.EU_CPVR, Kind.CA_PBR, Kind.US_CERTIFICATE
ENDED_UK = {"granted": day("1995-01-01"), "filed": day("1994-01-01")}  # to 1 January 2020

RIGHTS = [
    case("B1-us-patent-propagate", with_right(us_patent(), place="US"), BARRED),
    case("B1-eu-propagate-trade", with_right(patent(EU, "EU"), place="NL", purpose=TRADE), BARRED),
    case("B1-sell", with_right(patent(), SELL, lot=lot(TRADE)), BARRED),
    case(
        "B1-export-not-a-listed-act",
        with_right(us_patent(), EXPORT, place="US", lot=lot(TRADE)),
        UNKNOWN,
        GAP,
    ),
    *(
        case(f"B2-{kind.value}", with_right(patent(kind, place), place=place), CONDITIONAL)
        for kind, place in (
            (EU, "EU"),
            (Kind.UK_PBR, "GB"),
            (CA, "CA"),
            (Kind.AU_PBR, "AU"),
            (Kind.NZ_PVR, "NZ"),
            (US_CERT, "US"),
        )
    ),
    case("B2-regime-not-read", with_right(patent(Kind.CH_PVR, "CH"), place="CH"), UNKNOWN, GAP),
    case("B2-never-a-us-patent", with_right(us_patent(), place="US", purpose=PRIVATE), NONE),
    case("B3-us-gift", with_right(us_patent(), GIVE, place="US", purpose=PRIVATE), BARRED),
    case("B3-ca-swap", with_right(patent(CA, "CA"), SWAP, place="CA", purpose=PRIVATE), BARRED),
    case(
        "B3-ca-gift", with_right(patent(CA, "CA"), GIVE, place="CA", purpose=PRIVATE), UNKNOWN, SIGN
    ),
    case("B3-uk-gift", with_right(patent(), GIVE, purpose=PRIVATE), UNKNOWN, SIGN),
    case("B4-give", with_right(patent(), GIVE, lot=lot(TRADE)), BARRED),
    case("B4-swap", with_right(patent(), SWAP, lot=lot(TRADE)), BARRED),
    case("B5-sell", with_right(patent(), SELL, lot=lot(PRIVATE)), BARRED),
    case("B5-give-in-trade", with_right(patent(), GIVE, lot=lot(PRIVATE)), BARRED),
    case(
        "B5-right-since-ended",
        with_right(patent(**ENDED_UK), SELL, lot=lot(PRIVATE, "2018-05-14")),
        CLEAR,
    ),
    case(
        "B6-us-propagate",
        very_plant(us_patent(), PROPAGATE, place="US", bought=Acquisition(copy=True)),
        BARRED,
    ),
    case(
        "B6-us-release",
        very_plant(us_patent(), SELL, place="US", bought=Acquisition(copy=True)),
        BARRED,
    ),
    case(
        "B6-us-keep",
        very_plant(us_patent(), KEEP, place="US", bought=Acquisition(copy=True)),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B6-elsewhere-as-a-copy-made-here",
        very_plant(patent(), GIVE, bought=Acquisition(copy=True), purpose=PRIVATE),
        UNKNOWN,
        SIGN,
        row="B3",
    ),
    case(
        "B7-resale",
        very_plant(patent(), bought=Acquisition(source=Source.LICENSED, territory="GB")),
        CLEAR,
    ),
    case(
        "B7-anywhere-in-the-eu",
        very_plant(
            patent(EU, "EU"),
            place="NL",
            bought=Acquisition(source=Source.LICENSED, territory="FR"),
        ),
        CLEAR,
    ),
    case(
        "B7-us-patent-anywhere",
        very_plant(
            us_patent(), place="US", bought=Acquisition(source=Source.LICENSED, territory="CA")
        ),
        CLEAR,
    ),
    case("B8-stall", very_plant(patent()), UNKNOWN, GAP),
    case(
        "B9-trade",
        very_plant(patent(), bought=Acquisition(source=Source.LICENSED, territory="JP")),
        BARRED,
    ),
    case(
        "B9-private",
        very_plant(
            patent(),
            GIVE,
            purpose=PRIVATE,
            bought=Acquisition(source=Source.LICENSED, territory="JP"),
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B10-division-is-multiplication",
        with_right(us_patent(), place="US", asked=(Asked(SOURCE, way=Way.DIVISION),)),
        BARRED,
        row="B1",
    ),
]


def seedling(
    right, act=SELL, *, source=None, child=None, lot=None, role=EdgeRole.SEED_PARENT, **more
):
    return dossier(
        ask(act, **more), source or rose(), child=child, lot=lot, role=role, rights=(right,)
    )


SELECTION = Name("rosa ours", Identity.CULTIVAR, kind=NameKind.SELECTION, taxon=Taxon("rosa"))
SPORT = Name("rosa flash", Identity.CULTIVAR, kind=NameKind.SPORT, taxon=Taxon("rosa"))
CITRUS = Name("rosa peace", Identity.CULTIVAR, taxon=Taxon("citrus", "sinensis"))


def child(*names, **more):
    return Plant(CHILD, names=names, **more)


def propagated(right, **more):
    """Cuttings of the plant raised, asked for."""
    more.setdefault("place", "GB")
    facts = {k: more.pop(k) for k in ("source", "child", "role") if k in more}
    return dossier(
        ask(PROPAGATE, **more),
        facts.pop("source", None) or rose(),
        asked=(Asked(CHILD),),
        rights=(right,),
        **facts,
    )


RIGHTS += [
    case("B11-us-plant-patent", seedling(us_patent(), place="US"), CLEAR),
    case(
        "B11-apomictic-seed-is-a-copy",
        seedling(us_patent(), source=mine(names=(CITRUS,)), place="US"),
        BARRED,
        row="B1",
    ),
    case("B11-us-utility", seedling(patent(US_UP, "US"), place="US"), UNKNOWN, GAP),
    case("B11-uk-trade", seedling(patent()), UNKNOWN, GAP),
    case("B11-uk-private", propagated(patent(), role=EdgeRole.SEED_PARENT), CONDITIONAL),
    case(
        "B11-recorded-as-not-the-variety",
        seedling(patent(), lot=lot(not_the_variety=True)),
        CLEAR,
    ),
    case("B11-sow", with_right(patent(), asked=(sown(SOURCE),)), CONDITIONAL),
    case("B12-trade", propagated(patent(), child=child(SPORT), purpose=TRADE), UNKNOWN, SIGN),
    case("B12-private", propagated(patent(), child=child(SPORT)), CONDITIONAL),
    case(
        "B12-us-patent",
        propagated(us_patent(), child=child(SPORT), place="US"),
        UNKNOWN,
        SIGN,
    ),
    case("B13-us-patent", seedling(us_patent(), child=child(SELECTION), place="US"), CLEAR),
    case(
        "B13-own-line-inside-a-clone-is-a-sport",
        propagated(us_patent(), child=child(SELECTION), place="US"),
        UNKNOWN,
        SIGN,
        row="B12",
    ),
    case("B13-trade", seedling(patent(), child=child(SELECTION)), UNKNOWN, GAP),
    case(
        "B13-distinct",
        seedling(patent(), child=child(SELECTION, distinct=True)),
        CLEAR,
    ),
    case(
        "B13-pollen-of-a-protected-plant",
        seedling(patent(), role=EdgeRole.POLLEN_PARENT),
        UNKNOWN,
        GAP,
    ),
    case("B14-clear", with_right(patent(licences=(licence(yes(PROPAGATE)),))), CLEAR),
    case(
        "B14-royalty",
        with_right(patent(licences=(licence(yes(SELL, royalty="0.20 GBP")),)), SELL),
        CONDITIONAL,
    ),
    case(
        "B14-number-passed-is-as-none",
        with_right(
            patent(
                licences=(
                    licence(
                        yes(SELL, limit=Limit(5, Unit.PLANTS)),
                        uses=(Use(SELL, 5, day("2026-01-01")),),
                    ),
                )
            ),
            SELL,
            lot=lot(TRADE),
        ),
        BARRED,
        row="B1",
    ),
    case(
        "B15-act",
        with_right(us_patent(licences=(licence(yes(GIVE)),)), place="US"),
        BARRED,
        row="B1",
    ),
    case(
        "B15-place",
        with_right(us_patent(licences=(licence(yes(PROPAGATE), territory="CA"),)), place="US"),
        BARRED,
        row="B1",
    ),
    case(
        "B15-day",
        with_right(
            us_patent(licences=(licence(yes(PROPAGATE), until=day("2024-01-01")),)), place="US"
        ),
        BARRED,
        row="B1",
    ),
    case(
        "B16-ended",
        with_right(
            patent(licences=(licence(yes(PROPAGATE, SELL), until=day("2025-12-31")),)), SELL
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B16-sell-off",
        with_right(
            patent(
                licences=(
                    licence(
                        yes(PROPAGATE, SELL),
                        until=day("2025-12-31"),
                        sell_off=date(2026, 6, 30),
                    ),
                )
            ),
            SELL,
        ),
        CLEAR,
    ),
    case(
        "B17-ppaf",
        with_right(
            us_patent(
                number=None,
                granted=None,
                filed=None,
                events=(RightEvent(EventKind.ANNOUNCED, ANY_DAY),),
            ),
            place="US",
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B17-private-in-the-uk",
        with_right(patent(granted=None, number=None)),
        CONDITIONAL,
    ),
    case(
        "B17-granted-later",
        with_right(us_patent(granted=day("2026-09-01")), place="US"),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B17-label-mark-alone",
        dossier(ask(PROPAGATE, place="US"), rose(acquired=Acquisition(pending_mark="US"))),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B18-refused",
        with_right(patent(granted=None, events=event(EventKind.REFUSED, "2020-01-01")), SELL),
        CLEAR,
    ),
    case(
        "B19-here-before-the-filing",
        with_right(
            us_patent(), place="US", source=rose(acquired=Acquisition(on=day("2010-01-01")))
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B20-in-force-on-the-last-day",
        with_right(patent(granted=day("2001-05-01")), SELL, lot=lot(TRADE)),
        BARRED,
        row="B1",
    ),
    case(
        "B21-between-earliest-and-latest",
        with_right(patent(granted=day("2000-05-01"), group=None), SELL, lot=lot(TRADE)),
        UNKNOWN,
        GAP,
    ),
    case(
        "B22-after-the-latest",
        with_right(us_patent(filed=day("2004-01-05"), granted=day("2005-01-04")), place="US"),
        CLEAR,
    ),
    case(
        "B23-us-adjustment-not-recorded",
        with_right(
            us_patent(filed=day("2005-01-05"), granted=day("2007-01-02"), adjust_days=None),
            place="US",
        ),
        UNKNOWN,
        GAP,
        row="B21",
    ),
    case(
        "B24-eu-group-not-recorded",
        with_right(
            patent(EU, "EU", granted=day("2000-05-01"), group=None),
            SELL,
            place="NL",
            lot=lot(TRADE),
        ),
        UNKNOWN,
        GAP,
        row="B21",
    ),
    case(
        "B25-stated-by-the-register",
        with_right(
            patent(
                stated_end=day("2020-01-01"),
                end_source="register",
                end_checked=date(2021, 1, 1),
            ),
            SELL,
            lot=lot(TRADE),
        ),
        CLEAR,
    ),
    case(
        "B25-predicted-is-no-statement",
        with_right(
            patent(
                stated_end=day("2026-01-01"),
                end_source="register",
                end_checked=date(2021, 1, 1),
            ),
            SELL,
            lot=lot(TRADE),
        ),
        UNKNOWN,
        GAP,
        row="B21",
    ),
    case(
        "B26-lapsed",
        with_right(
            patent(events=event(EventKind.LAPSED, "2020-01-01", final=False)),
            SELL,
            lot=lot(TRADE),
        ),
        UNKNOWN,
        GAP,
    ),
    case(
        "B27-surrendered",
        with_right(patent(events=event(EventKind.SURRENDERED, "2020-01-01")), SELL),
        CLEAR,
    ),
    case(
        "B28-annulled",
        with_right(patent(events=event(EventKind.ANNULLED, "2025-12-01")), SELL),
        CLEAR,
    ),
    case(
        "B28-not-final",
        with_right(
            patent(events=event(EventKind.ANNULLED, "2025-12-01", final=False)),
            SELL,
            lot=lot(TRADE),
        ),
        BARRED,
        row="B1",
    ),
    case(
        "B29-one-right-cleared-leaves-the-other-kinds",
        with_right(us_patent(filed=day("2004-01-05"), granted=day("2005-01-04")), place="US"),
        UNKNOWN,
        GAP,
        row="B36",
    ),
    case(
        "B30-made-without-leave",
        with_right(patent(**ENDED_UK), SELL, lot=lot(TRADE, "2018-05-14")),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B30-keep",
        with_right(patent(**ENDED_UK), KEEP, lot=lot(TRADE, "2018-05-14"), asked=(Asked(CHILD),)),
        CLEAR,
    ),
    case(
        "B30-copies-after-the-end",
        with_right(
            patent(**ENDED_UK), PROPAGATE, lot=lot(TRADE, "2018-05-14"), asked=(Asked(CHILD),)
        ),
        CLEAR,
    ),
    case(
        "B31-without-grounds-as-before",
        dossier(ask(PROPAGATE, place="US"), mine(names=(ROSE, MINT)), rights=(us_patent(),)),
        BARRED,
        row="B1",
    ),
    case(
        "B31-with-grounds",
        dossier(
            ask(PROPAGATE, place="US"),
            mine(names=(ROSE, replace(MINT, grounds=True))),
            rights=(us_patent(),),
        ),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B31-confirmed",
        dossier(
            ask(PROPAGATE, place="US"),
            mine(names=(ROSE, replace(MINT, grounds=True, confirmed=True))),
            rights=(us_patent(),),
        ),
        CLEAR,
    ),
    case("B32-elsewhere", with_right(us_patent(), SELL), CLEAR),
    case(
        "B33-eu-right-lives-on-in-the-uk",
        with_right(patent(EU, "EU"), SELL, lot=lot(TRADE)),
        BARRED,
        row="B1",
    ),
    case(
        "B33-not-after-2020",
        with_right(patent(EU, "EU", granted=day("2022-01-04")), SELL, lot=lot(TRADE)),
        CLEAR,
        row="B32",
    ),
]


@pytest.mark.parametrize(("asked", "row", "level", "unknown"), RIGHTS)
def test_rights_on_record(asked, row, level, unknown):
    check(asked, row, level, unknown)


# --- no right on record --------------------------------------------------------------------------


def look(on="2026-01-01", territory="GB", **more):
    return LookUp(400, "rosa peace", territory, day(on), **more)


def named(name, act=SELL, *, lookups=(), free=(), **more):
    plant = {k: more.pop(k) for k in ("acquired", "since", "how") if k in more}
    return dossier(ask(act, **more), mine(names=(name,), **plant), lookups=lookups, free=free)


def since(year, source="a neighbour"):
    return (Since(day(f"{year}-01-01/{year}-12-31"), source),)


FORBIDS = Acquisition(do_not_propagate=True)
UNNAMED = Name("", Identity.UNKNOWN)
SPECIES = replace(MINT, from_seed=False)

NO_RIGHT = [
    case("B34-found-none", named(ROSE, lookups=(look(),)), CLEAR),
    case("B34-stale", named(ROSE, lookups=(look("2024-01-01"),)), CONDITIONAL),
    case("B34-a-register-left-out", named(ROSE, lookups=(look(complete=False),)), CONDITIONAL),
    case(
        "B34-us-secret-at-first",
        named(ROSE, place="US", lookups=(look(territory="US", first_sold=day("2024-06-01")),)),
        CONDITIONAL,
    ),
    case(
        "B34-us-on-sale-long",
        named(ROSE, place="US", lookups=(look(territory="US", first_sold=day("2020-06-01")),)),
        CLEAR,
    ),
    case(
        "B34-of-another-territory",
        named(ROSE, lookups=(look(territory="US"),)),
        UNKNOWN,
        GAP,
        row="B36",
    ),
    case(
        "B35-under-a-brand",
        named(ROSE, lookups=(look(by_denomination=False),)),
        UNKNOWN,
        GAP,
    ),
    case("B36-trade", named(ROSE), UNKNOWN, GAP),
    *(
        case(f"B36-private-{place}", named(ROSE, PROPAGATE, place=place), CONDITIONAL)
        for place in ("NL", "GB", "CA", "AU", "NZ", "CH")
    ),
    *(
        case(f"B36-private-{place}", named(ROSE, PROPAGATE, place=place), UNKNOWN, GAP)
        for place in ("US", "JP")
    ),
    *(
        case(f"B37-{place}", named(ROSE, place=place, since=since(2026 - years - 1)), CLEAR)
        for place, years in (
            ("US", 42),
            ("CA", 42),
            ("AU", 42),
            ("NZ", 42),
            ("GB", 47),
            ("CH", 47),
            ("NL", 52),
            ("JP", 52),
        )
    ),
    case("B37-not-yet", named(ROSE, since=since(1980)), UNKNOWN, GAP, row="B36"),
    case("B37-not-named", named(UNNAMED, since=since(1970)), CLEAR),
    case("B38-no-source", named(ROSE, since=since(1950, source=None)), UNKNOWN, GAP),
    case(
        "B39-stated-free",
        named(ROSE, free=(FreeStatement(500, "rosa peace", day("2020-01-01")),)),
        CLEAR,
    ),
    case(
        "B39-with-a-pledge",
        named(
            ROSE,
            free=(FreeStatement(500, "rosa peace", day("2020-01-01"), pledge="keep it free"),),
        ),
        CONDITIONAL,
    ),
    case("B40-species-from-seed", named(MINT), CLEAR),
    case("B40-no-cultivar-with-grounds", named(replace(SPECIES, no_cultivar=True)), CLEAR),
    case("B41-private", named(SPECIES, PROPAGATE), CLEAR),
    case("B41-trade", named(SPECIES), CONDITIONAL),
    case("B42-us", named(ROSE, PROPAGATE, place="US", acquired=FORBIDS), UNKNOWN, SIGN),
    case("B42-private-uk", named(ROSE, PROPAGATE, acquired=FORBIDS), CONDITIONAL),
    case(
        "B42-over-a-look-up",
        named(ROSE, acquired=FORBIDS, lookups=(look(),)),
        UNKNOWN,
        SIGN,
    ),
    case(
        "B42-answered",
        named(ROSE, acquired=replace(FORBIDS, none_answered=date(2026, 1, 1))),
        CONDITIONAL,
    ),
    case(
        "B43-notice",
        named(MINT, GIVE, purpose=PRIVATE, acquired=Acquisition(notice="U.S. Protected Variety")),
        CONDITIONAL,
    ),
    case("B44-sell", named(replace(ROSE, brand="GLOW")), CONDITIONAL),
    case("B44-propagate", named(replace(ROSE, brand="GLOW"), PROPAGATE), NONE),
    case("B44-private-gift", named(replace(ROSE, brand="GLOW"), GIVE, purpose=PRIVATE), NONE),
    case("B45-only-the-brand", named(Name("glow", Identity.BRAND)), UNKNOWN, GAP),
    case("B46-keep-needs-nothing", named(UNNAMED, KEEP), NONE, row="C12"),
    case(
        "B46-copy-without-licence-under-a-us-patent",
        with_right(us_patent(), KEEP, place="US", asked=(Asked(CHILD),)),
        UNKNOWN,
        SIGN,
    ),
    case("B46-asked-back", dossier(ask(KEEP), janes(consent(no(KEEP)))), BARRED),
    case("C11-label-lost", named(Name("", Identity.LABEL_LOST)), UNKNOWN, GAP),
    case("C12-trade", named(UNNAMED), UNKNOWN, GAP),
    case("C12-us-propagate", named(UNNAMED, PROPAGATE, place="US"), UNKNOWN, GAP),
    case("C12-private", named(UNNAMED, PROPAGATE), CONDITIONAL),
    case("C12-doubtful", named(replace(ROSE, identity=Identity.DOUBTFUL)), UNKNOWN, GAP),
    case("C12-genus-alone", named(Name("rosa", Identity.GENUS)), UNKNOWN, GAP),
    case(
        "C12-never-lifts-a-recorded-right",
        dossier(ask(PROPAGATE, place="US"), mine(names=(ROSE, UNNAMED)), rights=(us_patent(),)),
        BARRED,
        row="B1",
    ),
    case(
        "C12-own-seedling-is-not-unknown",
        dossier(ask(SELL), rose(), role=EdgeRole.SEED_PARENT),
        NONE,
    ),
    case(
        "C12-own-line-inside-an-unknown-clone",
        dossier(ask(SELL), mine(names=(UNNAMED,)), child=child(SELECTION)),
        UNKNOWN,
        GAP,
    ),
    case(
        "C12-an-own-selection-is-not-unknown",
        dossier(
            ask(SELL),
            mine(names=(UNNAMED,)),
            child=child(SELECTION),
            role=EdgeRole.SEED_PARENT,
        ),
        CLEAR,
        row="B13",
    ),
    case(
        "B36-at-the-destination-too",
        named(ROSE, GIVE, purpose=PRIVATE, to=Place("JP"), lookups=(look(),)),
        UNKNOWN,
        GAP,
    ),
    case("C13-mix-up", named(Name("x", Identity.MIX_UP), PROPAGATE), UNKNOWN, SIGN),
    case(
        "C13-determined-again",
        dossier(ask(SELL), mine(names=(Name("x", Identity.MIX_UP),)), child=child(MINT)),
        NONE,
    ),
    case(
        "C14-a-better-name-brings-the-right-in",
        dossier(ask(SELL), mine(names=(MINT, ROSE)), rights=(patent(),), lot=lot(TRADE)),
        BARRED,
        row="B1",
    ),
    case(
        "C21-tubers-have-no-us-plant-patent",
        dossier(
            ask(SELL, place="US"),
            mine(
                names=(Name("rosa peace", Identity.CULTIVAR, taxon=Taxon("solanum", "tuberosum")),)
            ),
            rights=(patent(US_UP, "US", **ENDED_UK), replace(patent(US_CERT, "US"), id=301)),
        ),
        NONE,
        row="B36",
    ),
]


@pytest.mark.parametrize(("asked", "row", "level", "unknown"), NO_RIGHT)
def test_no_right_on_record(asked, row, level, unknown):
    check(asked, row, level, unknown)


# --- terms, origin, restrictions, holds ----------------------------------------------------------


def terms(act, *, agreed=True, release=None, **more):
    return dossier(ask(act), mine(how=How.BOUGHT, terms=(Terms(600, agreed, release),)), **more)


def wild(act, *, allowed=(), protected=None, **more):
    origin = Origin(Provenance.WILD, frozenset(allowed), protected=protected)
    return dossier(ask(act, **more), mine(how=How.WILD, origin=origin))


KNOTWEED = Name("fallopia japonica", Identity.SPECIES, taxon=Taxon("fallopia", "japonica"))
COMPACTA = Name(
    "fallopia compacta",
    Identity.CULTIVAR,
    taxon=Taxon("fallopia", "japonica", key="fallopia japonica compacta"),
)
HYBRID = Name(
    "fallopia bohemica",
    Identity.SPECIES,
    taxon=Taxon(
        "fallopia",
        "bohemica",
        hybrid=True,
        parents=("fallopia japonica", "fallopia sachalinensis"),
    ),
)


def rule(*, kind=RuleKind.WEED, species="japonica", territory="GB", effect=Effect.BARS, **more):
    acts = more.pop("acts", tuple((act, effect) for act in (PROPAGATE, GIVE, SWAP, SELL)))
    return Restriction(
        700,
        kind,
        genus="fallopia",
        species=species,
        territory=territory,
        acts=acts,
        citation="the list of the place",
        **more,
    )


def ruled(restriction, name=KNOTWEED, act=SELL, **more):
    plant = {k: more.pop(k) for k in ("places",) if k in more}
    lists = {k: more.pop(k) for k in ("lists", "demands") if k in more}
    return dossier(
        ask(act, **more),
        mine(names=(name,), **plant),
        asked=(Asked(SOURCE),),
        restrictions=(restriction,) if restriction else (),
        **lists,
    )


def demand(about, territory, *, permit=None, taxon=""):
    return Demand(800, about, territory, "what it asks", "its ministry", permit, taxon)


def order(**more):
    facts = {"places": frozenset({50}), "citation": "the order", "territory": "GB", **more}
    return Restriction(701, RuleKind.QUARANTINE, **facts)


def held(act=SELL, *, asked=None, question=None, plants=None, **more):
    hold = Hold(800, **{"node": SOURCE, **more})
    source = plants or mine()
    return dossier(question or ask(act), source, asked=asked or (Asked(CHILD),), holds=(hold,))


TERMS = [
    case("C1-propagate", terms(PROPAGATE), BARRED),
    case("C1-release-barred", terms(SELL, release=True), BARRED),
    case("C1-silent-on-release", terms(SELL), UNKNOWN, SIGN),
    case("C1-the-plant-itself", terms(SELL, asked=(Asked(SOURCE),)), NONE),
    case("C2-earlier-holder", terms(PROPAGATE, agreed=False), UNKNOWN, SIGN),
    case("C3-nothing-said", dossier(ask(PROPAGATE), mine(how=How.BOUGHT)), CLEAR),
    case("C5-society-sale", dossier(ask(PROPAGATE), mine(how=How.SOCIETY_SALE)), CLEAR),
    case("C6-nothing-says-wild", dossier(ask(SELL), mine()), NONE),
    case("C7-permit", wild(SELL, allowed=(SELL,)), CLEAR),
    case("C8-none-recorded", wild(SELL), UNKNOWN, GAP),
    case("C8-taking-listed", wild(PROPAGATE, protected="WCA 1981 Sch. 8"), BARRED),
    case("C8-sale-listed", wild(SELL, protected="WCA 1981 Sch. 8"), BARRED),
    case("C8-barter-is-sale", wild(SWAP, purpose=PRIVATE, protected="WCA 1981 Sch. 8"), BARRED),
    case(
        "C9-trade",
        dossier(ask(SELL), mine(origin=Origin(Provenance.NOT_KNOWN))),
        UNKNOWN,
        GAP,
    ),
    case(
        "C9-private",
        dossier(ask(PROPAGATE), mine(origin=Origin(Provenance.NOT_KNOWN))),
        CONDITIONAL,
    ),
    case(
        "C9-does-not-stack-on-A2",
        dossier(ask(SELL), janes(origin=Origin(Provenance.NOT_KNOWN))),
        NONE,
    ),
    case(
        "C10-grown-from-bought-fruit", dossier(ask(SELL), mine(owners=(), how=How.PRODUCE)), CLEAR
    ),
    case("C15-listed", ruled(rule()), BARRED),
    case("C15-permit", ruled(rule(effect=Effect.PERMIT)), CONDITIONAL),
    case("C15-act-not-listed", ruled(rule(), act=KEEP), NONE),
    case("C15-over", ruled(rule(until=day("2020-01-01"))), NONE),
    case(
        "C15-genus-alone-known",
        ruled(rule(), Name("f", Identity.GENUS, taxon=Taxon("fallopia"))),
        UNKNOWN,
        GAP,
    ),
    case("C16-cultivar", ruled(rule(), COMPACTA), BARRED),
    case(
        "C16-exempt-by-name",
        ruled(rule(exempt=frozenset({"fallopia japonica compacta"})), COMPACTA),
        CLEAR,
    ),
    case(
        "C16-hybrid-eu",
        ruled(rule(kind=RuleKind.EU_INVASIVE, territory="EU"), HYBRID, place="NL"),
        BARRED,
    ),
    case("C16-hybrid-elsewhere", ruled(rule(), HYBRID), UNKNOWN, GAP),
    case("C17-genus", ruled(rule(species="")), BARRED),
    case("C18-another-place", ruled(rule(territory="US")), NONE, row="C15"),
    case(
        "C18-released-to-there",
        ruled(rule(territory="US"), to=Place("US")),
        BARRED,
        row="C15",
    ),
    case("C19-trade", ruled(None, lists={}), CONDITIONAL),
    case("C19-old-list", ruled(None, lists={"GB": date(2023, 1, 1)}), CONDITIONAL),
    case("C19-private-shown", ruled(None, act=GIVE, purpose=PRIVATE, lists={}), CLEAR),
    case("C20-acts-not-recorded", ruled(order(), places=(50,)), BARRED),
    case("C20-propagate", ruled(order(), act=PROPAGATE, places=(50,)), UNKNOWN, GAP),
    case("C20-elsewhere", ruled(order(), places=(51,)), NONE),
    case(
        "C20-no-host",
        ruled(order(not_hosts=frozenset({"fallopia japonica"})), places=(50,)),
        CLEAR,
    ),
    case(
        "C20-as-it-lists",
        ruled(order(acts=((SELL, Effect.PERMIT),)), places=(50,)),
        CONDITIONAL,
    ),
    case(
        "C22-seed-potatoes",
        ruled(None, Name("p", Identity.CULTIVAR, taxon=Taxon("solanum", "tuberosum"))),
        UNKNOWN,
        GAP,
    ),
    case(
        "C22-duties-on-record",
        ruled(
            None,
            Name("p", Identity.CULTIVAR, taxon=Taxon("solanum", "tuberosum")),
            demands=(demand(About.CROP, "GB", taxon="solanum tuberosum"),),
        ),
        CONDITIONAL,
    ),
    case(
        "C22-duties-of-another-crop",
        ruled(
            None,
            Name("p", Identity.CULTIVAR, taxon=Taxon("solanum", "tuberosum")),
            demands=(demand(About.CROP, "GB", taxon="allium cepa"),),
        ),
        UNKNOWN,
        GAP,
    ),
    case("C23-line", held(), BARRED),
    case("C23-without-descent", held(descent=False), NONE),
    case("C23-propagate-only", held(stops=frozenset({Stops.PROPAGATING})), NONE),
    case(
        "C23-place",
        held(node=None, place=50, asked=(Asked(SOURCE),), plants=mine(places=(50,))),
        BARRED,
    ),
    case("C23-batch", held(node=None, accession=9, plants=mine(accession=9)), BARRED),
    case("C23-move", held(MOVE), BARRED),
    case("C23-end", held(END), BARRED),
    case(
        "C23-destroyed-under-an-order",
        held(question=ask(END, order="order 12", witness=True)),
        CLEAR,
    ),
    case("C23-lifted", held(lifted=day("2026-01-01")), NONE),
]


@pytest.mark.parametrize(("asked", "row", "level", "unknown"), TERMS)
def test_terms_origin_rules_and_holds(asked, row, level, unknown):
    check(asked, row, level, unknown)


# --- lines crossed -------------------------------------------------------------------------------


def sent(act=GIVE, *, place="GB", to="US", papers=(), source=None, rights=(), demands=(), **more):
    more.setdefault("purpose", PRIVATE)
    question = ask(
        act,
        place=place,
        to=to if isinstance(to, Place) else Place(to),
        papers=frozenset(papers),
        **more,
    )
    return dossier(question, source, rights=rights, demands=demands)


def state(code):
    return Place("US", code)


HOST = Restriction(
    702,
    RuleKind.QUARANTINE,
    territory="US",
    region="CA",
    hosts=frozenset({"mentha aquatica"}),
)

LINES = [
    case("E1-no-certificate", sent(), UNKNOWN, GAP),
    case("E1-certificate", sent(papers=(Paper.PHYTOSANITARY,)), CONDITIONAL),
    case(
        "E1-permit-asked",
        sent(papers=(Paper.PHYTOSANITARY,), demands=(demand(About.PLANTS, "US", permit=True),)),
        UNKNOWN,
        GAP,
    ),
    case(
        "E1-permit-asked-and-there",
        sent(
            papers=(Paper.PHYTOSANITARY, Paper.IMPORT_PERMIT),
            demands=(demand(About.PLANTS, "US", permit=True),),
        ),
        CONDITIONAL,
    ),
    case(
        "E1-permit-asked-by-the-union",
        sent(
            to="FR",
            papers=(Paper.PHYTOSANITARY,),
            demands=(demand(About.PLANTS, "EU", permit=True),),
        ),
        UNKNOWN,
        GAP,
    ),
    case(
        "E1-no-permit-asked",
        sent(papers=(Paper.PHYTOSANITARY,), demands=(demand(About.PLANTS, "US", permit=False),)),
        CONDITIONAL,
    ),
    case("E1-gb-to-ni", sent(to=Place("GB", "NIR")), UNKNOWN, GAP),
    case("E1-inside-the-country", sent(to="GB"), NONE),
    case("E1-export-nowhere-said", dossier(ask(EXPORT)), UNKNOWN, GAP),
    case("E2-seed", sent(goods=Goods.SEED), UNKNOWN, GAP),
    case(
        "E2-rule-recorded",
        sent(goods=Goods.SEED, demands=(demand(About.SEED, "US"),)),
        CONDITIONAL,
    ),
    case(
        "E2-rule-asks-for-a-permit",
        sent(goods=Goods.SEED, demands=(demand(About.SEED, "US", permit=True),)),
        UNKNOWN,
        GAP,
    ),
    case(
        "E2-rule-of-another-country",
        sent(goods=Goods.SEED, demands=(demand(About.SEED, "JP"),)),
        UNKNOWN,
        GAP,
    ),
    case("E3-not-recorded", sent(), UNKNOWN, GAP),
    case("E3-listed", sent(source=mine(cites=Cites.LISTED)), BARRED),
    case(
        "E3-permit",
        sent(source=mine(cites=Cites.LISTED), papers=(Paper.CITES_PERMIT,)),
        CONDITIONAL,
    ),
    case("E3-not-listed", sent(source=mine(cites=Cites.NOT_LISTED)), NONE),
    case("E4-import-listed", sent(source=rose(), rights=(us_patent(),)), BARRED),
    case(
        "E4-private-where-free",
        sent(place="US", to="NL", source=rose(), rights=(patent(EU, "EU"),)),
        UNKNOWN,
        GAP,
    ),
    case(
        "E4-regime-not-listing-import",
        sent(to="JP", source=rose(), rights=(patent(Kind.OTHER, "JP"),)),
        UNKNOWN,
        GAP,
    ),
    case("E5-distance-sale", sent(SELL, to="GB", at_distance=True), CONDITIONAL),
    case("E5-to-a-trader", sent(to="GB", to_trader=True), CONDITIONAL),
    case("E5-in-person", sent(SELL, to="GB"), NONE),
    case("E6-trade", sent(SELL, place=state("OR"), to=state("CA")), CONDITIONAL),
    case("E6-private", sent(place=state("OR"), to=state("CA")), NONE),
    case(
        "E6-host",
        replace(sent(place=state("OR"), to=state("NV")), restrictions=(HOST,)),
        UNKNOWN,
        GAP,
    ),
    case("E7-standing-line", dossier(ask(SELL)), CLEAR),
]


@pytest.mark.parametrize(("asked", "row", "level", "unknown"), LINES)
def test_lines_crossed(asked, row, level, unknown):
    check(asked, row, level, unknown)


# --- across plants -------------------------------------------------------------------------------


def chain(*consents, generations=2, **more):
    """Jane's plant, and a line of plants each raised from a cutting of the one before."""
    plants = {SOURCE: janes(*consents)}
    lots, edges = {}, []
    above = SOURCE
    for n in range(generations):
        lot_id, plant_id = 10 + 2 * n, 11 + 2 * n
        lots[lot_id] = Lot(lot_id, Span.on(TAKEN))
        plants[plant_id] = Plant(plant_id)
        edges += [Edge(above, lot_id, EdgeRole.SOURCE), Edge(lot_id, plant_id, EdgeRole.RAISED)]
        above = plant_id
    question = more.pop("question", None) or ask(SELL)
    return dossier(
        question,
        asked=(Asked(above),),
        plants=plants,
        lots=lots,
        edges=tuple(edges),
    )


@pytest.mark.parametrize("generations", [2, 5, 400], ids="verdict-A14-{}-generations".format)
def test_a_consent_binds_through_generations_and_sits_where_it_was_given(generations):
    verdict = judge(chain(consent(yes(PROPAGATE), no(SELL)), generations=generations))
    worst = verdict.findings[0]
    assert (worst.row, worst.level, worst.plant) == ("A6", BARRED, SOURCE)


def siblings(n, *consents, ended=()):
    base = sold(*consents)
    plants = {**base.plants}
    for k in range(n):
        gone = Ended("died", day("2026-02-01")) if k in ended else None
        plants[CHILD + k] = Plant(CHILD + k, label=f"26-0001-{k + 1:03}", ended=gone)
    edges = (
        base.edges[0],
        *(Edge(LOT, CHILD + k, EdgeRole.RAISED) for k in range(n)),
    )
    asked = tuple(Asked(CHILD + k) for k in range(n))
    return replace(base, plants=plants, edges=edges, asked=asked)


@pytest.mark.parametrize(
    ("used", "level", "row"),
    [
        pytest.param(0, CONDITIONAL, "A3", id="verdict-D2-three-of-five"),
        pytest.param(2, CONDITIONAL, "A12", id="verdict-D2-the-last-three"),
        pytest.param(3, BARRED, "A11", id="verdict-D2-one-too-many"),
    ],
)
def test_numbers_are_counted_over_the_request(used, level, row):
    verdict = judge(siblings(3, limited(5, used=used)))
    assert (verdict.findings[0].row, verdict.findings[0].level) == (row, level)


M9, SUCKERS, SUCKERED = 30, 31, 32
QUINCE = Name("cydonia gate", Identity.CULTIVAR, taxon=Taxon("cydonia", key="cydonia gate"))


def tree_of_janes(question, asked, *consents, rights=(), **more):
    """Jane's rose 'Peace' on the rootstock 'Gate' that came with it, and a sucker of that."""
    return dossier(
        question,
        asked=asked,
        plants={
            SOURCE: janes(*consents, names=(ROSE,), **more),
            M9: Plant(M9, names=(QUINCE,)),
            SUCKERED: Plant(SUCKERED),
        },
        lots={SUCKERS: Lot(SUCKERS, Span.on(TAKEN))},
        edges=(
            Edge(M9, SOURCE, EdgeRole.ROOTSTOCK),
            Edge(M9, SUCKERS, EdgeRole.SOURCE),
            Edge(SOURCE, SUCKERS, EdgeRole.SUCKER_OF),
            Edge(SUCKERS, SUCKERED, EdgeRole.RAISED),
        ),
        rights=rights,
    )


TAKING = (Asked(SOURCE, way=Way.SUCKER), Asked(M9))


@pytest.mark.parametrize(
    ("question", "asked", "keys", "row", "level"),
    [
        pytest.param(
            ask(PROPAGATE), TAKING, ("rosa peace",), "B2", None, id="verdict-D3-sucker-not-the-top"
        ),
        pytest.param(
            ask(PROPAGATE),
            TAKING,
            ("cydonia gate",),
            "B2",
            CONDITIONAL,
            id="verdict-D3-sucker-is-the-rootstock",
        ),
        pytest.param(
            ask(SELL),
            (Asked(SUCKERED),),
            ("rosa peace",),
            "B5",
            None,
            id="verdict-D3-sucker-sold-is-not-the-top",
        ),
        pytest.param(
            ask(SELL),
            (Asked(SUCKERED),),
            ("cydonia gate",),
            "B5",
            BARRED,
            id="verdict-D3-sucker-sold-is-the-rootstock",
        ),
    ],
)
def test_rights_on_a_sucker_are_its_rootstocks(question, asked, keys, row, level):
    found = judge(tree_of_janes(question, asked, consent(yes(PROPAGATE, SELL)), rights=(
        patent(keys=keys),
    )))  # fmt: skip
    assert [f.level for f in found.findings if f.row == row] == ([] if level is None else [level])


def test_leave_for_a_sucker_is_asked_of_the_tree_it_is_cut_from():
    """And not of the rootstock, which is no plant by itself; nor do the top's mothers speak."""
    for question, asked in ((ask(PROPAGATE), TAKING), (ask(SELL), (Asked(SUCKERED),))):
        no_leave = judge(tree_of_janes(question, asked))
        assert [(f.row, f.plant) for f in no_leave.findings if f.row == "A2"] == [("A2", SOURCE)]
        refused = judge(tree_of_janes(question, asked, consent(no(PROPAGATE, SELL))))
        assert (refused.findings[0].row, refused.level) == ("A6", BARRED)


def test_a_rootstock_with_leave_of_its_own_is_asked_too():
    base = tree_of_janes(ask(SELL), (Asked(SUCKERED),), consent(yes(PROPAGATE, SELL)))
    stock = replace(base.plants[M9], consents=(consent(no(SELL), id=101, person=8),))
    verdict = judge(replace(base, plants={**base.plants, M9: stock}))
    assert (verdict.findings[0].plant, verdict.level) == (M9, BARRED)


def test_a_sucker_of_a_tree_without_its_rootstock_on_record_has_no_name():
    base = tree_of_janes(ask(PROPAGATE), TAKING[:1], consent(yes(PROPAGATE)))
    verdict = judge(replace(base, edges=()))
    assert {f.row for f in verdict.findings} >= {"A3", "C12"}


@pytest.mark.parametrize(
    ("n", "level"),
    [
        pytest.param(5, CONDITIONAL, id="verdict-D2-ten-in-two-ways"),
        pytest.param(6, BARRED, id="verdict-D2-twelve-in-two-ways"),
    ],
)
def test_numbers_are_counted_whatever_the_way_each_plant_serves_in(n, level):
    cuttings = consent(yes(PROPAGATE, limit=Limit(10, Unit.CUTTINGS)))
    base = siblings(2, cuttings)
    both = replace(
        base,
        question=ask(PROPAGATE),
        asked=(Asked(CHILD, n), Asked(CHILD + 1, n, Way.DIVISION)),
    )
    found = next(f for f in judge(both).findings if f.row in {"A11", "A12"})
    assert found.level is level


@pytest.mark.parametrize("held", [0, 1])
def test_a_hold_on_one_of_several_pots_stops_that_one(held):
    """Row C23; pots without facts of their own are judged as one, but not those on hold."""
    base = siblings(2, limited(5))
    holds = (Hold(900, node=CHILD + held),)
    verdict = judge(replace(base, holds=holds))
    stopped = [any(f.row == "C23" for f in plant.findings) for plant in verdict.plants]
    assert stopped == [held == 0, held == 1]


def test_the_request_is_the_worst_of_its_plants():
    """Row D1."""
    base = chain(consent(yes(PROPAGATE), no(SELL)), generations=1)
    own = mine(id=90, names=(MINT,))
    both = replace(base, plants={**base.plants, 90: own}, asked=(*base.asked, Asked(90)))
    verdict = judge(both)
    assert [p.level for p in verdict.plants] == [BARRED, CLEAR]
    assert verdict.level is BARRED


ROOT, TOP, GRAFT, TREE, CUTTING, CUT = 20, 21, 22, 23, 24, 25


def grafted(question, asked):
    """An own top on a rootstock of Jane's that may be grown and not sold."""
    return dossier(
        question,
        asked=(Asked(asked),),
        plants={
            ROOT: janes(consent(yes(PROPAGATE), no(SELL)), id=ROOT),
            TOP: mine(id=TOP),
            TREE: Plant(TREE),
            CUT: Plant(CUT),
        },
        lots={GRAFT: Lot(GRAFT, Span.on(TAKEN)), CUTTING: Lot(CUTTING, Span.on(TODAY))},
        edges=(
            Edge(TOP, GRAFT, EdgeRole.SCION),
            Edge(ROOT, GRAFT, EdgeRole.ROOTSTOCK),
            Edge(GRAFT, TREE, EdgeRole.RAISED),
            Edge(TREE, CUTTING, EdgeRole.SOURCE),
            Edge(CUTTING, CUT, EdgeRole.RAISED),
        ),
    )


@pytest.mark.parametrize(
    ("question", "asked", "level"),
    [
        pytest.param(ask(SELL), TREE, BARRED, id="verdict-D3-selling-the-tree-is-both"),
        pytest.param(ask(PROPAGATE), TREE, CLEAR, id="verdict-D3-cuttings-of-the-top-are-not"),
        pytest.param(ask(SELL), CUT, CLEAR, id="verdict-D3-nor-is-a-plant-of-the-top"),
    ],
)
def test_a_rootstock_binds_acts_on_the_rootstock(question, asked, level):
    assert judge(grafted(question, asked)).level is level


def test_a_standing_trunk_is_judged_on_the_day_its_top_leaves():
    """A top on a standing plant: the trunk is joined to it without a lot of its own."""
    trunk = mine(id=ROOT, owners=(Owner(None, day("2024-01-01")),))
    edges = (
        Edge(SOURCE, LOT, EdgeRole.SCION),
        Edge(LOT, CHILD, EdgeRole.RAISED),
        Edge(ROOT, CHILD, EdgeRole.PART_OF),
        Edge(ROOT, CHILD, EdgeRole.ROOTSTOCK),
    )
    base = dossier(ask(SELL), edges=edges)
    verdict = judge(replace(base, plants={**base.plants, ROOT: trunk}))
    assert {f.row for f in verdict.findings if f.plant == ROOT} == {"A1", "B40"}


def test_the_name_of_a_rootstock_is_looked_at_when_the_tree_leaves():
    """Row D3, as to rights: two names, two answers."""
    tree = grafted(ask(SELL), TREE)
    quince = replace(tree.plants[ROOT], names=(ROSE,), consents=(consent(yes(SELL)),))
    verdict = judge(replace(tree, plants={**tree.plants, ROOT: quince}))
    assert [f.plant for f in verdict.findings if f.row == "B36"] == [ROOT]
    assert [f.plant for f in verdict.findings if f.row == "B40"] == [TOP]


def test_one_of_several_parents_takes_the_worst_and_shows_each():
    """Row C24."""
    other = 9
    base = sold(consent(yes(PROPAGATE, SELL)))
    refused = janes(consent(no(SELL), id=101), id=other)
    edges = (
        Edge(SOURCE, LOT, EdgeRole.SOURCE, choice=1),
        Edge(other, LOT, EdgeRole.SOURCE, choice=1),
        base.edges[1],
    )
    verdict = judge(replace(base, plants={**base.plants, other: refused}, edges=edges))
    shown = {f.plant: (f.row, f.certain) for f in verdict.findings if f.row in {"A3", "A6"}}
    assert shown == {SOURCE: ("A3", False), other: ("A6", False)}
    assert verdict.level is BARRED


def test_in_a_group_what_is_gone_is_left_out_and_named():
    """Row C25."""
    verdict = judge(siblings(20, limited(17), ended={3, 4, 5}))
    assert len(verdict.plants) == 17
    assert [g.label for g in verdict.gone] == ["26-0001-004", "26-0001-005", "26-0001-006"]
    assert verdict.findings[0].row == "A12"  # 17 leave, not 20


def test_a_plant_asked_alone_that_is_gone_makes_the_call_wrong():
    """Row C25."""
    with pytest.raises(PlantsGone) as wrong:
        judge(siblings(1, ended={0}))
    assert wrong.value.gone == (("26-0001-001", "died", date(2026, 2, 1)),)


@pytest.mark.parametrize(
    ("asked", "row", "changes"),
    [
        pytest.param(
            with_right(patent(), SELL, lot=lot(TRADE)),
            "B1",
            date(2040, 1, 7),
            id="verdict-D4-the-day-after-the-end",
        ),
        pytest.param(
            named(ROSE, lookups=(look("2026-01-01"),)),
            "B34",
            date(2028, 1, 2),
            id="verdict-D4-when-a-look-up-is-stale",
        ),
        pytest.param(
            named(ROSE, since=since(1985)),
            "B36",
            date(2032, 12, 31),
            id="verdict-D4-when-the-sum-of-years-is-full",
        ),
        pytest.param(
            sold(consent(yes(PROPAGATE, SELL), until=day("2026-12-31"))),
            "A3",
            date(2027, 1, 1),
            id="verdict-D4-when-a-leave-ends",
        ),
    ],
)
def test_a_finding_says_from_when_it_would_change(asked, row, changes):
    found = next(f for f in judge(asked).findings if f.row == row)
    assert found.changes_on == changes


def test_an_older_no_stays_visible():
    verdict = judge(
        sold(
            consent(yes(PROPAGATE), no(SELL), id=100),
            consent(yes(SELL), id=101, given="2025-05-02", recorded="2026-01-01"),
        )
    )
    found = next(f for f in verdict.findings if f.row == "A3")
    assert found.field("older_no") == 100


@pytest.mark.parametrize(
    ("question", "source", "purpose"),
    [
        (ask(SELL, purpose=PRIVATE), None, TRADE),  # sell is always trade
        (ask(GIVE), None, TRADE),  # unless stated private for this act
        (ask(GIVE, purpose=PRIVATE), None, PRIVATE),
        (ask(PROPAGATE), None, PRIVATE),
        (ask(PROPAGATE, grower_trades=True), None, TRADE),
        (ask(PROPAGATE), mine(for_release=True), TRADE),
        (ask(PROPAGATE, purpose=PRIVATE), mine(ground=Ground.GROUP), TRADE),  # row A21
    ],
)
def test_the_purpose_under_which_an_act_is_judged(question, source, purpose):
    assert judge(dossier(question, source)).purpose is purpose


def test_moving_the_recorded_day_of_an_act_never_turns_a_no_off():
    """A no of June is heard by an act that is said to lie in May or June."""
    june_no = consent(no(PROPAGATE), given="2026-06-10", recorded="2026-06-10")
    verdict = judge(taken(june_no, on="2026-05-01/2026-06-30"))
    assert verdict.level is BARRED


# --- what goes on --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("level", "unknown", "act", "purpose", "need"),
    [
        (CLEAR, None, SELL, TRADE, Need.GOES_ON),
        (CONDITIONAL, None, SELL, TRADE, Need.GOES_ON),
        (UNKNOWN, GAP, PROPAGATE, PRIVATE, Need.NOTE_OPEN),
        (UNKNOWN, GAP, PROPAGATE, TRADE, Need.NOTE_OPEN),
        (UNKNOWN, GAP, GIVE, PRIVATE, Need.NOTE_OPEN),
        (UNKNOWN, GAP, GIVE, TRADE, Need.REASON),
        (UNKNOWN, GAP, SELL, TRADE, Need.REASON),
        (UNKNOWN, SIGN, PROPAGATE, PRIVATE, Need.REASON),
        (UNKNOWN, SIGN, GIVE, PRIVATE, Need.REASON),
        (BARRED, None, PROPAGATE, PRIVATE, Need.REASON),
        (BARRED, None, SELL, TRADE, Need.REASON),
    ],
)
def test_what_it_takes_to_go_on(level, unknown, act, purpose, need):
    assert needs(level, unknown, act, purpose) is need
    assert needs(level, unknown, act, purpose, history=True) is Need.GOES_ON
