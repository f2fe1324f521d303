"""The layers put together: what all the findings come to, and what it takes to go on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from registry.domain.verdict import (
    consent,
    hold,
    identity,
    lines,
    origin,
    restriction,
    terms,
    variety,
)
from registry.domain.verdict.facts import RELEASES, Act, Asked, Dossier, Purpose
from registry.domain.verdict.findings import (
    Finding,
    Gone,
    Level,
    Need,
    PlantVerdict,
    RecordKind,
    Unknown,
    Verdict,
)
from registry.domain.verdict.walk import Case, Manner, Subject
from registry.errors import PlantsGone

_LAYERS: tuple[Callable[[Case, Subject], Iterator[Finding]], ...] = (
    consent.findings,
    variety.findings,
    identity.findings,
    terms.findings,
    origin.findings,
    restriction.findings,
    hold.findings,
    lines.findings,
)

# Findings of a missing leave: the origin of the same plant is not asked on top of it (C9).
_NO_LEAVE = frozenset({"A2", "A2b", "A20", "A21"})


def judge(dossier: Dossier) -> Verdict:
    """The verdict on every asked plant and on the request as a whole (D1).

    Plants that have ended are left out of a group and named in `gone` (C25).

    Raises:
        PlantsGone: every asked plant has ended.
    """
    case = Case(dossier)
    gone = tuple(_gone(case))
    ended = {g.node for g in gone}
    asked = [a for a in dossier.asked if a.node not in ended]
    if gone and not asked:
        raise PlantsGone(tuple((g.label, g.ended.how, g.ended.on.last) for g in gone))
    subjects = [case.subject(a) for a in asked]
    if _is_limited(case):
        _count(case, asked, subjects)
    # Siblings share a subject, and with it findings, level and unknown.
    judged = {key: _judged(case, s) for key, s in {id(s): s for s in subjects}.items()}
    plants = tuple(
        PlantVerdict(a.node, *judged[id(subject)])
        for a, subject in zip(asked, subjects, strict=True)
    )
    found = tuple(sorted(_once(plants), key=lambda f: f.rank))
    trade = any(subject.purpose is Purpose.TRADE for subject in subjects)
    level, unknown = worst(found)
    return Verdict(
        act=dossier.question.act,
        purpose=Purpose.TRADE if trade else Purpose.PRIVATE,
        level=level,
        unknown=unknown,
        findings=found,
        plants=plants,
        gone=gone,
    )


def worst(findings: Iterable[Finding]) -> tuple[Level, Unknown | None]:
    """The worst level; for an unknown, a sign before a gap.

    >>> worst([])
    (<Level.CLEAR: 3>, None)
    """
    first = min(findings, key=lambda f: f.rank, default=None)
    return (Level.CLEAR, None) if first is None else (first.level, first.unknown)


def _gone(case: Case) -> Iterator[Gone]:
    """C25: asked plants that have ended."""
    for asked in case.dossier.asked:
        plant = case.plant(asked.node)
        if plant is not None and plant.ended is not None:
            yield Gone(plant.id, plant.label, plant.ended)


def _is_limited(case: Case) -> bool:
    """Whether any leave or licence on record allows a number only."""
    records = [case.plant(node) or case.lot(node) for node in case.telling]
    held = [consent for one in records if one is not None for consent in one.consents]
    held += [licence for right in case.dossier.rights for licence in right.licences]
    return any(word.limit is not None for consent in held for word in consent.words)


def _count(case: Case, asked: list[Asked], subjects: list[Subject]) -> None:
    """D2: numbers against a limit are counted over the request, by source plant and by right."""
    totals: dict[tuple[RecordKind, int], int | None] = {}
    by_subject: dict[int, list[int | None]] = {}
    for one, subject in zip(asked, subjects, strict=True):
        by_subject.setdefault(id(subject), []).append(one.n)
    for subject in {id(s): s for s in subjects}.values():
        numbers = by_subject[id(subject)]
        n = None if None in numbers else sum(x for x in numbers if x is not None)
        for key in _counted_under(case, subject):
            known = totals.get(key, 0)
            totals[key] = None if n is None or known is None else known + n
    case.asked_of.update(totals)


def _counted_under(case: Case, subject: Subject) -> set[tuple[RecordKind, int]]:
    keys = {tag.name.key for tag in variety.tags(case, subject)}
    # Pollen is no piece of what a consent counts (A19).
    under = {(RecordKind.CONSENT, r.node) for r in subject.line if r.manner < Manner.POLLEN}
    return under | {
        (RecordKind.RIGHT, right.id) for right in case.dossier.rights if keys & right.keys
    }


def _judged(case: Case, subject: Subject) -> tuple[Level, Unknown | None, tuple[Finding, ...]]:
    """Level, unknown and findings of a subject."""
    found = _findings(case, subject)
    return (*worst(found), found)


def _findings(case: Case, subject: Subject) -> tuple[Finding, ...]:
    found = tuple(dict.fromkeys(f for layer in _LAYERS for f in layer(case, subject)))
    no_leave = {f.plant for f in found if f.row in _NO_LEAVE}
    kept = [f for f in found if not (f.row == "C9" and f.plant in no_leave)]
    return tuple(sorted(_certain_first(kept), key=lambda f: f.rank))


def _certain_first(findings: list[Finding]) -> list[Finding]:
    """Drops what is found again, the same but uncertain."""
    certain = {(f.row, f.plant, f.record, f.level) for f in findings if f.certain}
    return [f for f in findings if f.certain or (f.row, f.plant, f.record, f.level) not in certain]


def _once(plants: tuple[PlantVerdict, ...]) -> Iterator[Finding]:
    """Every finding of the request once; groups of siblings share theirs."""
    groups = {id(p.findings): p.findings for p in plants}
    return iter(dict.fromkeys(f for found in groups.values() for f in found))


# --- what goes on --------------------------------------------------------------------------------


def needs(
    level: Level,
    unknown: Unknown | None,
    act: Act,
    purpose: Purpose,
    *,
    history: bool = False,
) -> Need:
    """What it takes to record `act` under a verdict.

    Acts dated before the registry began are recorded with their verdict and never refused.

    >>> needs(Level.UNKNOWN, Unknown.GAP, Act.SELL, Purpose.TRADE)
    <Need.REASON: 'reason'>
    >>> needs(Level.UNKNOWN, Unknown.GAP, Act.PROPAGATE, Purpose.TRADE)
    <Need.NOTE_OPEN: 'note open'>
    """
    if history or level >= Level.CONDITIONAL:
        return Need.GOES_ON
    if level is Level.BARRED or unknown is Unknown.SIGN:
        return Need.REASON
    trade = act is Act.SELL or (act in RELEASES and purpose is Purpose.TRADE)
    return Need.REASON if trade else Need.NOTE_OPEN
