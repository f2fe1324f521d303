"""From what a label says to the records it means: the one, or the few that it could be and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.codes import looks_like_code
from registry.domain.names import matching_key
from registry.domain.payload import PayloadKind, PayloadRead, read_payload
from registry.errors import BadCode, CodeReason, CodeUnknown, NotALabel, SeveralMeant, TagNotBound
from registry.labels.text import label_from_json
from registry.services.label_text import NAMES_NOT_COMPARED
from registry.services.naming import names_of
from registry.services.resolve import Target, TargetKind, codes_of, resolve
from registry.services.rows import registry_row
from registry.storage.models import LabelPrint, Node, Place, Plant
from registry.wording import labels as wording

MOST_PLANTS = 50


@dataclass(frozen=True, slots=True)
class Found:
    """A record that a label may stand for.

    Attributes:
        code: Its code.
        kind: plant, lot, batch or group.
        name: What it is called.
        status: Of a plant: alive, died, sold …
        place: Where a plant stands.
    """

    code: str
    kind: str
    name: str
    status: str | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True)
class ReadAnswer:
    """What was read off a label.

    Attributes:
        text: As scanned or typed.
        read_as: code, half-read, plain or address.
        sure: Whether it can be nothing else.
        found: What it is, or all that it could be.
        why: Why it is not sure; empty if it is.
    """

    text: str
    read_as: str
    sure: bool
    found: tuple[Found, ...]
    why: str = ""


def read_text(session: Session, text: str, *, today: date, by_id: int | None = None) -> ReadAnswer:
    """What a typed code, a half-read tag or a scanned text stands for.

    Raises:
        CodeUnknown: shaped like a code, but none that is recorded comes near.
        SeveralMeant: a half-read tag that fits no record.
        TagNotBound: a blank tag that stands on nothing yet.
        NotALabel: a text that is no label's.
        BadCode: plants are picked badly.
    """
    payload = read_payload(text)
    if payload is None or payload.kind is PayloadKind.CODE:
        return _typed(session, text.strip(), today, by_id)
    try:
        answer = _typed(session, payload.code, today, by_id)
    except CodeUnknown as unknown:
        raise NotALabel(text) from unknown
    doubt = _doubt(session, payload, text, answer)
    return ReadAnswer(
        text, payload.kind.value, answer.sure and not doubt, answer.found, answer.why or doubt
    )


def read_texts(
    session: Session, texts: Sequence[str], *, today: date
) -> tuple[tuple[ReadAnswer, ...], tuple[str, ...]]:
    """What each symbol of a picture stands for, and the texts that are no label's of ours.

    Raises:
        NotALabel: none is a label's of ours.
    """
    answers: list[ReadAnswer] = []
    foreign: list[str] = []
    for text in texts:
        try:
            answers.append(read_text(session, text, today=today))
        except (NotALabel, CodeUnknown, SeveralMeant, TagNotBound, BadCode):
            foreign.append(text)
    if not answers:
        raise NotALabel(foreign[0])
    return tuple(answers), tuple(foreign)


def _typed(session: Session, typed: str, today: date, by_id: int | None) -> ReadAnswer:
    half = "_" in typed or "[" in typed
    read_as = "half-read" if half else "code"
    try:
        target = resolve(session, typed, today=today, by_id=by_id)
    except SeveralMeant as several:
        if not several.codes:
            raise
        found = _each(session, several.codes, today)
        return ReadAnswer(typed, read_as, False, found, wording.several_fit(half=half))
    except CodeUnknown as unknown:
        problem = unknown.problem
        shaped = not (isinstance(problem, BadCode) and problem.reason is CodeReason.SHAPE)
        if not unknown.near:
            is_code = shaped and looks_like_code(typed)
            raise (CodeUnknown(typed) if is_code else NotALabel(typed)) from unknown
        found = _each(session, unknown.near, today)
        return ReadAnswer(typed, read_as, False, found, wording.NEAR_MISS)
    if not target.plants and not target.lots:
        raise TagNotBound(codes_of(session, target))
    return ReadAnswer(typed, read_as, True, _found(session, target))


def _each(session: Session, codes: Sequence[str], today: date) -> tuple[Found, ...]:
    return tuple(
        one for code in codes for one in _found(session, resolve(session, code, today=today))
    )


def _found(session: Session, target: Target) -> tuple[Found, ...]:
    """A target as one record, or a group's plants each."""
    if target.kind in (TargetKind.BATCH, TargetKind.LOT):
        names = names_of(session, target.lots)
        shown = " / ".join(dict.fromkeys(name.shown for name in names.values()))
        return (Found(codes_of(session, target), target.kind.value, shown),)
    ids = [*target.plants, *target.lots][:MOST_PLANTS]
    names = names_of(session, ids)
    found = []
    for node_id in ids:
        node = session.get_one(Node, node_id)
        plant = session.get(Plant, node_id)
        place = session.get(Place, plant.place_id) if plant and plant.place_id else None
        found.append(
            Found(
                node.code,
                node.kind,
                names[node_id].shown,
                plant.status if plant else None,
                place.name if place else None,
            )
        )
    return tuple(found)


def _doubt(session: Session, payload: PayloadRead, text: str, answer: ReadAnswer) -> str:
    """Why a scanned label may be another grower's, whose codes look alike; empty if it is ours."""
    if payload.kind is PayloadKind.ADDRESS:
        own = str(registry_row(session).settings.get("site") or "")
        return "" if payload.site == own.rstrip("/").lower() else wording.other_site(payload.site)
    lines = text.strip().splitlines()
    named = lines[1] if len(lines) > 1 and not lines[1].startswith(wording.NOT_NAMES) else ""
    known = {matching_key(one.name) for one in answer.found} | NAMES_NOT_COMPARED
    if matching_key(named) in known or _was_printed(session, payload.code, text.strip()):
        return ""
    return wording.other_name(named, answer.found[0].name if answer.found else "")


def _was_printed(session: Session, code: str, text: str) -> bool:
    """Whether a label of ours said exactly this."""
    rows = session.scalars(
        select(LabelPrint.text)
        .join(Node, Node.id == LabelPrint.node_id)
        .where(Node.code == code, LabelPrint.void_seq.is_(None))
    )
    return any(label_from_json(row).payload == text for row in rows)
