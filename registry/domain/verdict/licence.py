"""Licences: what the holder of a right allows (rows B14 to B16)."""

from __future__ import annotations

from dataclasses import replace

from registry.domain.rights import RightFacts
from registry.domain.rules.kinds import KINDS
from registry.domain.rules.territories import Place, country_code, covers
from registry.domain.spans import Span, add_days
from registry.domain.verdict.consent import (
    Cover,
    asks_for,
    cover,
    limit_of,
    used_of,
    word_terms,
)
from registry.domain.verdict.facts import Act, Consent, Outcome, Right
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
from registry.domain.verdict.walk import Case, Subject


def about(facts: RightFacts) -> tuple[tuple[str, Value], ...]:
    """What the wording needs to name a right: its kind, number and territory."""
    return (
        ("kind", facts.kind.value),
        ("number", facts.number),
        ("territory", country_code(facts.territory or KINDS[facts.kind].regime.value)),
    )


def covering(right: Right, act: Act, day: Span, place: Place) -> Consent | None:
    """The newest licence that covers act, day and place; its number is not looked at."""
    held = [licence for licence in right.licences if _covers(licence, act, day, place)]
    return max(held, key=lambda c: (c.starts.last, c.recorded, c.id), default=None)


def _covers(licence: Consent, act: Act, day: Span, place: Place) -> bool:
    word = licence.word(act)
    if licence.outcome is not Outcome.GIVEN or word is None or not word.allowed:
        return False
    if licence.territory is not None and not covers(licence.territory, place.country):
        return False
    if licence.withdrawn is not None and day.last >= licence.withdrawn.first:
        return False
    return cover(licence, day) is Cover.ALL


def granted(case: Case, subject: Subject, right: Right, place: Place) -> Finding | None:
    """B14: a licence in force for act, place, day and number; None is B15, as if none."""
    question = case.dossier.question
    licence = covering(right, question.act, question.day, place)
    if licence is None:
        return None
    word = licence.word(question.act)
    fields: list[tuple[str, Value]] = word_terms(word) if word else []
    limit = limit_of(licence, question.act)
    if limit is not None:
        used = used_of(licence, limit, question.day)
        asked = case.asked_from(RecordKind.RIGHT, right.id)
        if used is None or used >= limit.n or (asked is not None and used + asked > limit.n):
            return None
        fields += [("left", limit.n - used), ("unit", limit.unit.value)]
    found = _finding(
        "B14",
        Level.CONDITIONAL if fields else Level.CLEAR,
        subject,
        licence,
        right,
        fields=tuple(fields),
    )
    return replace(found, settle=asks_for(word) if word else None)


def made_under_ended(case: Case, subject: Subject, right: Right, place: Place) -> Finding | None:
    """B16: made under a licence that has ended since: the sell-off time, or the licence decides."""
    day = case.dossier.question.day
    for made_in in subject.makings:
        lot = case.lot(made_in)
        if lot is None:
            continue
        licence = covering(right, Act.PROPAGATE, lot.taken, lot.place or place)
        if licence is None or not _has_ended(licence, day):
            continue
        if licence.sell_off is not None and day.last <= licence.sell_off:
            return replace(
                _finding(
                    "B16",
                    Level.CLEAR,
                    subject,
                    licence,
                    right,
                    fields=(("sell_off", licence.sell_off),),
                ),
                changes_on=add_days(licence.sell_off, 1),
            )
        return _finding("B16", Level.UNKNOWN, subject, licence, right, unknown=Unknown.SIGN)
    return None


def _has_ended(licence: Consent, day: Span) -> bool:
    """Whether it ran out, or was taken back, by some possible day."""
    if licence.withdrawn is not None and day.last >= licence.withdrawn.first:
        return True
    return cover(licence, day) is Cover.ENDED


def _finding(
    row: str,
    level: Level,
    subject: Subject,
    licence: Consent,
    right: Right,
    *,
    unknown: Unknown | None = None,
    fields: tuple[tuple[str, Value], ...] = (),
) -> Finding:
    ends = add_days(licence.until.first, 1) if licence.until and row == "B14" else None
    return Finding(
        row=row,
        level=level,
        plant=subject.seat,
        unknown=unknown,
        record=Record(RecordKind.LICENCE, licence.id),
        citation="the holder's leave",
        changes_on=ends,
        settle=Settle.READ_TERMS if unknown else None,
        ask=Ask.HOLDER,
        person=licence.person,
        fields=(*about(right.facts), *fields, ("typed", licence.recorded)),
    )
