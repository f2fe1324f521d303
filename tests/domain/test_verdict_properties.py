"""What holds of every verdict, whatever is on record."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.domain.rights import EventKind, RightEvent, RightFacts
from registry.domain.rules.kinds import Group, Kind
from registry.domain.rules.territories import Place
from registry.domain.spans import Span
from registry.domain.verdict import Level, Purpose, judge
from registry.domain.verdict.facts import (
    RELEASES,
    Acquisition,
    Act,
    Asked,
    Consent,
    Dossier,
    Edge,
    EdgeRole,
    Ground,
    Hold,
    How,
    Identity,
    LookUp,
    Lot,
    Name,
    Origin,
    Outcome,
    Owner,
    Plant,
    Provenance,
    Question,
    Restriction,
    Right,
    Role,
    RuleKind,
    Since,
    Source,
    Taxon,
    Terms,
    Word,
)
from registry.domain.verdict.facts import Effect as RuleEffect
from tests.domain.dossiers import JANE, TODAY

KEYS = ("rosa peace", "mentha aquatica", "")
COUNTRIES = ("US", "GB", "NL", "CA", "CH", "JP")
# One territory for each kind of right; the place of the question decides which bear.
HOMES = {
    Kind.US_PLANT_PATENT: "US",
    Kind.US_UTILITY_PATENT: "US",
    Kind.US_CERTIFICATE: "US",
    Kind.EU_CPVR: "EU",
    Kind.UK_PBR: "GB",
    Kind.CA_PBR: "CA",
    Kind.CH_PVR: "CH",
    Kind.OTHER: "JP",
}

days = st.dates(date(1990, 1, 1), date(2030, 12, 31))
spans = st.builds(lambda a, b: Span(min(a, b), max(a, b)), days, days) | st.builds(Span.on, days)
acts = st.sampled_from([Act.PROPAGATE, *sorted(RELEASES, key=lambda a: a.value)])

words = st.lists(
    st.builds(Word, acts, st.booleans()), max_size=3, unique_by=lambda word: word.act
).map(tuple)
consents = st.builds(
    Consent,
    id=st.integers(1, 99),
    person=st.sampled_from([JANE, 8]),
    role=st.sampled_from([Role.OWNER, Role.AGENT, Role.GIVER]),
    outcome=st.sampled_from(Outcome),
    given=spans,
    recorded=days,
    until=st.none() | spans,
    withdrawn=st.none() | spans,
    words=words,
    seedlings=st.none() | st.booleans(),
)
names = st.builds(
    Name,
    key=st.sampled_from(KEYS),
    identity=st.sampled_from(Identity),
    taxon=st.sampled_from([Taxon(), Taxon("rosa"), Taxon("mentha", "aquatica")]),
    grounds=st.booleans(),
    confirmed=st.booleans(),
)
acquisitions = st.builds(
    Acquisition,
    on=spans,
    source=st.sampled_from(Source),
    territory=st.none() | st.sampled_from(COUNTRIES),
    copy=st.none() | st.booleans(),
    do_not_propagate=st.booleans(),
    notice=st.none() | st.just("notice"),
)
origins = st.builds(Origin, st.sampled_from(Provenance), st.sets(acts, max_size=2).map(frozenset))


def founders(node):
    return st.builds(
        Plant,
        id=st.just(node),
        how=st.none() | st.sampled_from(How),
        ground=st.sampled_from(Ground),
        acquired=st.none() | acquisitions,
        origin=st.none() | origins,
        owners=st.lists(st.builds(Owner, st.sampled_from([None, JANE, 8]), spans), max_size=2).map(
            tuple
        ),
        consents=st.lists(consents, max_size=3).map(tuple),
        names=st.lists(names, max_size=2).map(tuple),
        since=st.lists(st.builds(Since, spans, st.none() | st.just("a neighbour")), max_size=1).map(
            tuple
        ),
        terms=st.lists(
            st.builds(Terms, st.just(1), st.booleans(), st.none() | st.booleans()), max_size=1
        ).map(tuple),
    )


def _right(number, kind, keys, filed, granted, group, events):
    facts = RightFacts(
        kind,
        number="1",
        territory=HOMES[kind],
        filed=filed,
        granted=granted,
        group=group,
        events=events,
    )
    return Right(number, facts, keys)


rights = st.builds(
    _right,
    st.integers(300, 399),
    st.sampled_from(sorted(HOMES, key=lambda k: k.value)),
    st.sets(st.sampled_from(KEYS[:2]), min_size=1).map(frozenset),
    st.none() | spans,
    st.none() | spans,
    st.none() | st.sampled_from(Group),
    st.lists(
        st.builds(RightEvent, st.sampled_from(EventKind), spans, st.booleans()), max_size=1
    ).map(tuple),
)
lookups = st.builds(
    LookUp,
    id=st.integers(400, 499),
    key=st.sampled_from(KEYS[:2]),
    territory=st.sampled_from(COUNTRIES),
    on=spans,
    complete=st.booleans(),
    by_denomination=st.booleans(),
)
questions = st.builds(
    Question,
    act=acts,
    day=spans,
    place=st.sampled_from(COUNTRIES).map(Place),
    purpose=st.none() | st.sampled_from(Purpose),
    recorded=st.just(TODAY),
    to=st.none() | st.sampled_from(COUNTRIES).map(Place),
)
roles = st.sampled_from([EdgeRole.SOURCE, EdgeRole.SCION, EdgeRole.ROOTSTOCK, EdgeRole.SEED_PARENT])
FIRST, SECOND, LOT, CHILD, LOT_2, GRANDCHILD = 1, 2, 3, 4, 5, 6


@st.composite
def dossiers(draw):
    """Two founders, a lot of one or both of them, a plant, and a plant raised from that."""
    question = draw(questions)
    edges = [Edge(FIRST, LOT, draw(roles)), Edge(LOT, CHILD, EdgeRole.RAISED)]
    if draw(st.booleans()):
        edges.append(Edge(SECOND, LOT, draw(roles), draw(st.none() | st.just(1))))
    edges += [Edge(CHILD, LOT_2, EdgeRole.SOURCE), Edge(LOT_2, GRANDCHILD, EdgeRole.RAISED)]
    return Dossier(
        question,
        asked=(Asked(draw(st.sampled_from([FIRST, CHILD, GRANDCHILD]))),),
        plants={
            FIRST: draw(founders(FIRST)),
            SECOND: draw(founders(SECOND)),
            CHILD: Plant(CHILD, names=draw(st.lists(names, max_size=1).map(tuple))),
            GRANDCHILD: Plant(GRANDCHILD),
        },
        lots={
            LOT: Lot(LOT, draw(spans), purpose=draw(st.none() | st.sampled_from(Purpose))),
            LOT_2: Lot(LOT_2, draw(spans), purpose=draw(st.none() | st.sampled_from(Purpose))),
        },
        edges=tuple(edges),
        rights=tuple(draw(st.lists(rights, max_size=2))),
        lookups=tuple(draw(st.lists(lookups, max_size=1))),
        lists=dict.fromkeys(COUNTRIES, TODAY),
    )


def rank(verdict):
    return verdict.level, verdict.unknown is None or verdict.unknown.value == "gap"


examples = settings(max_examples=60, deadline=None, derandomize=True)


@examples
@given(dossiers())
def test_a_hold_never_makes_an_answer_better(dossier):
    held = replace(dossier, holds=(Hold(1, node=FIRST),))
    assert rank(judge(held)) <= rank(judge(dossier))


@examples
@given(dossiers(), st.sampled_from(RuleKind))
def test_a_rule_that_bars_never_makes_an_answer_better(dossier, kind):
    rule = Restriction(
        1,
        kind,
        genus="mentha",
        territory=dossier.question.place.country,
        acts=((dossier.question.act, RuleEffect.BARS),),
    )
    barred = replace(dossier, restrictions=(rule,))
    assert rank(judge(barred)) <= rank(judge(dossier))


@examples
@given(dossiers(), consents)
def test_a_refusal_by_another_person_never_makes_an_answer_better(dossier, consent):
    refusal = replace(
        consent,
        id=999,
        person=77,
        outcome=Outcome.REFUSED,
        words=(),
        role=Role.OWNER,
        seedlings=None,
    )
    first = dossier.plants[FIRST]
    with_no = replace(first, consents=(*first.consents, refusal))
    refused = replace(dossier, plants={**dossier.plants, FIRST: with_no})
    assert judge(refused).level <= judge(dossier).level


def remade(dossier, change):
    """The dossier with every plant changed."""
    plants = {node: change(plant) for node, plant in dossier.plants.items()}
    return replace(dossier, plants=plants)


@examples
@given(dossiers())
def test_forgetting_look_ups_and_years_never_makes_an_answer_better(dossier):
    less = replace(remade(dossier, lambda p: replace(p, since=())), lookups=())
    assert judge(less).level <= judge(dossier).level


@examples
@given(dossiers())
def test_forgetting_every_name_never_turns_an_answer_clear(dossier):
    less = remade(dossier, lambda p: replace(p, names=(), since=()))
    assert judge(less).level is not Level.CLEAR


@examples
@given(dossiers())
def test_forgetting_a_leave_never_makes_an_answer_better(dossier):
    """A leave is a consent that forbids nothing and was not taken back."""
    plain = remade(dossier, lambda p: replace(p, how=None, origin=None))
    less = remade(plain, _without_leave)
    assert judge(less).level <= judge(plain).level


def _without_leave(plant):
    return replace(plant, consents=tuple(c for c in plant.consents if not _is_leave(c)))


def _is_leave(consent):
    given = consent.outcome in {Outcome.GIVEN, Outcome.HANDED_OVER}
    owners = consent.role is not Role.GIVER  # terms of a giver bind an own plant (C4)
    return given and owners and not consent.withdrawn and all(w.allowed for w in consent.words)


@examples
@given(dossiers())
def test_a_day_that_is_less_known_is_never_better_as_to_rights(dossier):
    """Where a rule depends on a day, its cautious end counts."""
    wide = replace(
        dossier,
        question=replace(dossier.question, day=Span(date(1990, 1, 1), dossier.question.day.last)),
    )
    assert _bars(judge(wide)) >= _bars(judge(dossier))


def _bars(verdict):
    """The rights that stand in force against the act."""
    return {f.record for f in verdict.findings if f.row in {"B1", "B3", "B4"} and f.level == 0}


@examples
@given(dossiers(), st.sets(st.sampled_from([1, 4, 6]), min_size=1))
def test_a_group_is_the_worst_of_its_members(dossier, members):
    together = judge(replace(dossier, asked=tuple(Asked(m) for m in sorted(members))))
    alone = [judge(replace(dossier, asked=(Asked(m),))) for m in sorted(members)]
    assert [p.level for p in together.plants] == [v.level for v in alone]
    assert rank(together) == min(map(rank, alone))


@examples
@given(dossiers())
def test_a_descendant_is_never_freer_than_the_clone_it_comes_from(dossier):
    """A plant raised from a cutting of another; a rootstock is no part of the clone (D3)."""
    release = replace(
        dossier,
        edges=tuple(e for e in dossier.edges if e.role is not EdgeRole.ROOTSTOCK),
        question=replace(dossier.question, act=Act.SELL, to=None),
        asked=(Asked(CHILD),),
    )
    parent, copy = judge(release), judge(replace(release, asked=(Asked(GRANDCHILD),)))
    binding = {"A2", "A2b", "A6", "A7", "A13", "A16", "C1", "C2", "C8", "B1", "B4"}
    above = {(f.row, f.plant, f.level) for f in parent.findings if f.row in binding - {"B1", "B4"}}
    below = {(f.row, f.plant, f.level) for f in copy.findings}
    assert above <= below
    if any(f.row in {"B1", "B4"} and f.level is Level.BARRED for f in parent.findings):
        assert any(f.level is Level.BARRED for f in copy.findings)


@pytest.mark.parametrize("act", [Act.PROPAGATE, Act.SELL])
def test_nothing_known_is_never_clear(act):
    """A plant of which nothing is recorded: whose it is and what it is are open."""
    question = Question(act, Span.on(TODAY), Place("GB"), recorded=TODAY)
    verdict = judge(Dossier(question, (Asked(1),), plants={1: Plant(1)}))
    assert verdict.level is Level.UNKNOWN
