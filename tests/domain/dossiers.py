"""Small dossiers for tests: a stock plant of Jane's, a lot taken from it, and a plant raised."""

from dataclasses import replace
from datetime import date

from registry.domain.rights import RightFacts
from registry.domain.rules.kinds import Group, Kind
from registry.domain.rules.territories import Place
from registry.domain.spans import ANY_DAY, Span
from registry.domain.verdict.facts import (
    RELEASES,
    Act,
    Asked,
    Consent,
    Dossier,
    Edge,
    EdgeRole,
    How,
    Identity,
    Lot,
    Name,
    Owner,
    Plant,
    Question,
    Right,
    Taxon,
    Word,
)

JANE = 7
SOURCE, LOT, CHILD = 1, 2, 3
TODAY = date(2026, 5, 1)
TAKEN = date(2025, 5, 14)

ROSE = Name("rosa peace", Identity.CULTIVAR, taxon=Taxon("rosa", key="rosa peace"))
MINT = Name("mentha aquatica", Identity.SPECIES, taxon=Taxon("mentha", "aquatica"), from_seed=True)


def day(text):
    """A day, or a range written with a slash."""
    first, _, last = text.partition("/")
    return Span(
        date.fromisoformat(first) if first else ANY_DAY.first,
        date.fromisoformat(last or first) if last or "/" not in text else ANY_DAY.last,
    )


def yes(*acts, **more):
    return tuple(Word(act, allowed=True, **more) for act in acts)


def no(*acts):
    return tuple(Word(act, allowed=False) for act in acts)


def consent(*words, person=JANE, given="2025-05-01", recorded="2025-05-01", **more):
    """A consent of Jane's; `words` are tuples from `yes` and `no`."""
    return Consent(
        id=more.pop("id", 100),
        person=person,
        given=day(given),
        recorded=date.fromisoformat(recorded),
        words=tuple(word for part in words for word in part),
        **more,
    )


def janes(*consents, **more):
    """A plant that stands in Jane's garden, free of any question but hers."""
    facts = {
        "id": SOURCE,
        "how": How.STANDING,
        "owners": (Owner(JANE),),
        "names": (MINT,),
        **more,
    }
    return Plant(consents=consents, **facts)


def mine(*consents, **more):
    """A plant of the grower's own."""
    return janes(*consents, **{"owners": (Owner(None),), **more})


def ask(act, *, on="2026-05-01", place="GB", **more):
    place = place if isinstance(place, Place) else Place(place)
    return Question(act, day(on), place, recorded=TODAY, **more)


def dossier(question, source=None, *, lot=None, child=None, asked=None, role=None, **more):
    """The stock plant; for acts other than propagate also a lot of it and a plant raised.

    The plant raised is asked about where plants leave, the stock plant otherwise.
    """
    source = source or mine()
    lot = lot or Lot(LOT, Span.on(TAKEN), entry=40)
    child = child or Plant(CHILD, label="26-0001-001-7")
    node = CHILD if question.act in RELEASES else SOURCE
    edges = (
        Edge(SOURCE, LOT, role or EdgeRole.SOURCE),
        Edge(LOT, CHILD, EdgeRole.RAISED),
    )
    lists = {"GB": TODAY, "EU": TODAY, "US": TODAY, "CA": TODAY, "AU": TODAY, "NZ": TODAY}
    facts = {
        "plants": {SOURCE: source, CHILD: child},
        "lots": {LOT: lot},
        "edges": edges,
        "lists": {**lists, "CH": TODAY, "JP": TODAY},
        **more,
    }
    return Dossier(question, asked or (Asked(node),), **facts)


def patent(kind=Kind.UK_PBR, territory="GB", *, keys=("rosa peace",), licences=(), **facts):
    """A right granted in 2015 on the rose; its plain term runs far beyond today."""
    facts = {
        "number": "1",
        "filed": day("2013-01-01"),
        "granted": day("2015-01-06"),
        "adjust_days": 0,
        "group": Group.OTHER,
        **facts,
    }
    return Right(300, RightFacts(kind, territory=territory, **facts), frozenset(keys), licences)


def us_patent(**facts):
    return patent(Kind.US_PLANT_PATENT, "US", **facts)


def rose(**more):
    """The grower's own rose 'Peace'."""
    return mine(names=(ROSE,), **more)


def renamed(plant, *names):
    return replace(plant, names=(*plant.names, *names))


SELL, GIVE, SWAP, EXPORT = Act.SELL, Act.GIVE, Act.SWAP, Act.EXPORT
PROPAGATE, KEEP, MOVE, END = Act.PROPAGATE, Act.KEEP, Act.MOVE, Act.END
