"""E. Plants crossing a line, and duties of the place towards buyers."""

from __future__ import annotations

from collections.abc import Iterator

from registry.domain.rights import State, standing
from registry.domain.rules.kinds import KINDS, Listed, Private
from registry.domain.rules.territories import (
    EU,
    Place,
    Regime,
    country_code,
    covers,
    plant_health_area,
    regime,
)
from registry.domain.verdict import licence, variety
from registry.domain.verdict.facts import (
    RELEASES,
    About,
    Act,
    Cites,
    Demand,
    Goods,
    Paper,
    Question,
    RuleKind,
)
from registry.domain.verdict.findings import (
    Ask,
    Finding,
    Level,
    Record,
    RecordKind,
    Settle,
    Unknown,
    Value,
)
from registry.domain.verdict.restriction import demand
from registry.domain.verdict.walk import Case, Relation, Subject

CROSSING = RELEASES | {Act.MOVE}


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """Rows E1 to E7."""
    question = case.dossier.question
    if question.act not in CROSSING:
        return
    if _crosses(question):
        yield from _border(case, subject)
        yield from _cites(case, subject)
        yield from _rights_there(case, subject)
    elif _other_state(question):
        yield from _state_line(case, subject)
    yield from _duties(question, subject)


def _crosses(question: Question) -> bool:
    """Whether plants leave the country, or Great Britain for the EU or Northern Ireland."""
    if question.act is Act.EXPORT:
        return True
    if question.to is None:
        return False
    here, there = question.place, question.to
    if country_code(here.country) != country_code(there.country):
        return True
    return plant_health_area(here) != plant_health_area(there)


def _within_union(question: Question) -> bool:
    return (
        question.to is not None
        and plant_health_area(question.place) == plant_health_area(question.to) == EU
    )


def _border(case: Case, subject: Subject) -> Iterator[Finding]:
    """E1 plants, E2 seed."""
    question = case.dossier.question
    if question.goods is Goods.SEED:
        yield _seed(case, subject)
        return
    citation = "Reg (EU) 2016/2031 Art. 72, 75, 100; 7 CFR 319.37 (from memory)"
    ready = Paper.PHYTOSANITARY in question.papers
    if _within_union(question):
        citation = "Reg (EU) 2016/2031 Art. 79, 81"
        ready = ready or Paper.PASSPORT in question.papers
    known = _asked_there(case, About.PLANTS)
    permit = known is None or _permit_ready(question, known)
    level = Level.CONDITIONAL if ready and permit else Level.UNKNOWN
    yield _finding(
        "E1",
        level,
        subject,
        citation,
        Settle.IMPORT_PERMIT if ready and not permit else Settle.CERTIFICATE,
        fields=(*_to(question), *_said(known), ("certificate", ready), ("permit", permit)),
        known=known,
    )


def _seed(case: Case, subject: Subject) -> Finding:
    """E2: not known until the rule of where it goes is on record; then as it asks."""
    question = case.dossier.question
    known = _asked_there(case, About.SEED)
    ready = known is not None and _permit_ready(question, known)
    return _finding(
        "E2",
        Level.CONDITIONAL if ready else Level.UNKNOWN,
        subject,
        "7 CFR 319; Reg (EU) 2016/2031 Art. 72-73",
        Settle.SEED_RULE if known is None else Settle.IMPORT_PERMIT,
        fields=(*_to(question), *_said(known)),
        known=known,
    )


def _asked_there(case: Case, about: About) -> Demand | None:
    to = case.dossier.question.to
    return None if to is None else demand(case, about, to)


def _permit_ready(question: Question, known: Demand) -> bool:
    return not known.permit or Paper.IMPORT_PERMIT in question.papers


def _said(known: Demand | None) -> tuple[tuple[str, Value], ...]:
    return (
        ("said", None if known is None else known.said),
        ("source", None if known is None else known.source),
        ("permit_asked", None if known is None else known.permit),
    )


def _to(question: Question) -> tuple[tuple[str, Value], ...]:
    there = country_code(question.to.country) if question.to is not None else None
    return (("to", there), ("within_union", _within_union(question)))


def _cites(case: Case, subject: Subject) -> Iterator[Finding]:
    """E3: the status of the nearest plant of the line that has one."""
    question = case.dossier.question
    if question.goods is Goods.SEED or _within_union(question):
        return
    status = next(
        (
            plant.cites
            for r in subject.told
            if (plant := case.plant(r.node)) is not None and plant.cites is not Cites.NOT_RECORDED
        ),
        Cites.NOT_RECORDED,
    )
    citation = "CITES; Reg (EC) 338/97 Art. 3-5; 16 USC 1538(c)(1)"
    if status is Cites.NOT_RECORDED:
        yield _finding("E3", Level.UNKNOWN, subject, citation, Settle.CITES_STATUS)
    elif status is Cites.LISTED:
        ready = Paper.CITES_PERMIT in question.papers
        level = Level.CONDITIONAL if ready else Level.BARRED
        yield _finding("E3", level, subject, citation, Settle.CITES_PERMIT)


def _rights_there(case: Case, subject: Subject) -> Iterator[Finding]:
    """E4: a right at the destination, where it is not also the right of the place."""
    question = case.dossier.question
    there = question.to
    if there is None or question.act is Act.MOVE:
        return
    copies = {t.name.key: t for t in variety.tags(case, subject) if t.relation <= Relation.SPORT}
    for right in case.dossier.rights:
        if not covers(right.facts.territory, there.country):
            continue
        if covers(right.facts.territory, question.place.country):
            continue
        tag = next((copies[k] for k in sorted(right.keys) if k in copies), None)
        state = standing(right.facts, question.day)
        if tag is None or state.state not in variety.MAY_COME:
            continue
        if licence.covering(right, question.act, question.day, there) is not None:
            continue
        rule = KINDS[right.facts.kind]
        free = subject.private and rule.private is Private.FREE
        sure = state.state is State.IN_FORCE and rule.lists_import is Listed.YES and not free
        sign = state.state is State.PENDING
        yield Finding(
            row="E4",
            level=Level.BARRED if sure else Level.UNKNOWN,
            plant=tag.node,
            unknown=None if sure else Unknown.SIGN if sign else Unknown.GAP,
            record=Record(RecordKind.RIGHT, right.id),
            citation=rule.citation,
            changes_on=state.changes_on,
            settle=Settle.RECORD_LICENCE,
            ask=Ask.HOLDER,
            certain=tag.certain,
            fields=(*licence.about(right.facts), *_to(question)),
        )


def _other_state(question: Question) -> bool:
    there = question.to
    return (
        there is not None
        and regime(question.place.country) is Regime.US
        and regime(there.country) is Regime.US
        and bool(there.region)
        and there.region != question.place.region
    )


def _state_line(case: Case, subject: Subject) -> Iterator[Finding]:
    """E6: to another state; a host of an order is not known until the order is read."""
    if _is_host(case, subject):
        yield _finding(
            "E6", Level.UNKNOWN, subject, "7 CFR part 301 (from memory)", Settle.READ_ORDER
        )
    elif not subject.private:
        yield _finding(
            "E6",
            Level.CONDITIONAL,
            subject,
            "state nursery-certificate rules (from memory)",
            Settle.NURSERY_CERTIFICATE,
        )


def _is_host(case: Case, subject: Subject) -> bool:
    taxa = {
        text
        for named in case.named(subject.node)
        for text in (named.name.taxon.binomial, named.name.taxon.genus)
        if text
    }
    return any(
        rule.kind is RuleKind.QUARANTINE
        and regime(rule.territory) is Regime.US
        and taxa & rule.hosts
        for rule in case.dossier.restrictions
    )


def _duties(question: Question, subject: Subject) -> Iterator[Finding]:
    """E5 passport and registration in the EU and GB; E7 one standing line, never a level."""
    if question.act not in RELEASES:
        return
    european = regime(question.place.country) in {Regime.EU, Regime.UK}
    distance_sale = question.at_distance and not subject.private
    if european and (distance_sale or question.to_trader):
        yield _finding(
            "E5",
            Level.CONDITIONAL,
            subject,
            "Reg (EU) 2016/2031 Art. 65, 79, 81; S.I. 2020/1482",
            Settle.ASK_DUTIES,
        )
    if question.act is Act.SELL:
        yield Finding(
            row="E7",
            level=Level.CLEAR,
            plant=subject.seat,
            citation="licences to trade in plants differ by place",
            ask=Ask.AUTHORITY,
            fields=(("place", _shown(question.place)),),
        )


def _shown(place: Place) -> str:
    country = country_code(place.country)
    region = (place.region or "").removeprefix(f"{country}-")
    return f"{country}-{region}" if region else country


def _finding(
    row: str,
    level: Level,
    subject: Subject,
    citation: str,
    settle: Settle,
    fields: tuple[tuple[str, Value], ...] = (),
    known: Demand | None = None,
) -> Finding:
    return Finding(
        row=row,
        level=level,
        plant=subject.seat,
        unknown=Unknown.GAP if level is Level.UNKNOWN else None,
        record=None if known is None else Record(RecordKind.DEMAND, known.id),
        citation=citation,
        settle=settle,
        ask=Ask.AUTHORITY,
        fields=fields,
    )
