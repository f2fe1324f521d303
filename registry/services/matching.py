"""Orphans: a pot without its tag, a tag without its pot, and what they could belong to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.names import search_keys
from registry.domain.numbers import whole
from registry.errors import EmptyName, NotAPlant, TagUnknown
from registry.services import identity, making, people
from registry.services.naming import names_of
from registry.services.resolve import Target
from registry.storage import lineage_queries as lineage
from registry.storage import search
from registry.storage.models import Node, Note, Place, Plant, Stay, StrayTag, Trait
from registry.storage.transaction import Recording

MOST_LOOKED_AT = 500
MOST_OFFERED = 20


@dataclass(frozen=True, slots=True)
class Orphan:
    """A pot or a tag that was found on its own.

    Attributes:
        kind: `pot` or `tag`.
        code: Of the pot's record; of a tag, `tag` and its number.
        words: What the pot looks like, or what the tag says.
        place: Where it was found.
        on: When.
    """

    kind: str
    code: str
    words: str
    place: str | None
    on: FuzzyDate | None


@dataclass(frozen=True, slots=True)
class Candidate:
    """A plant that an orphan could belong to, and what speaks for it."""

    node_id: int
    code: str
    name: str
    place: str | None
    why: tuple[str, ...]


def add_pot(rec: Recording, words: str, *, on: FuzzyDate, place: str | None) -> Orphan:
    """Record a pot that was found without a tag: a plant without a name or a parent.

    Raises:
        EmptyName: nothing was said about it.
    """
    if not words.strip():
        raise EmptyName("an orphan")
    place_id = people.place_named(rec, place) if place else None
    accession = making.next_accession(rec, "founder")
    plant = making.make_plant(rec, accession, how="found", place_id=place_id)
    if place_id is not None:
        making.stay(rec, place_id, node_id=plant.node_id, from_=on)
    rec.add(Trait(node_id=plant.node_id, kind="orphan", on=on))
    rec.add(Note(node_id=plant.node_id, text=words.strip(), on=on))
    rec.flush()
    code = rec.session.get_one(Node, plant.node_id).code
    rec.last = [code]
    return Orphan("pot", code, words.strip(), place, on)


def add_tag(rec: Recording, words: str, *, on: FuzzyDate, place: str | None) -> Orphan:
    """Record a tag that was found without its plant.

    Raises:
        EmptyName: it says nothing.
    """
    if not words.strip():
        raise EmptyName("a tag")
    place_id = people.place_named(rec, place) if place else None
    tag = rec.add(StrayTag(text=words.strip(), place_id=place_id, on=on))
    rec.flush()
    return Orphan("tag", f"tag {tag.id}", tag.text, place, on)


_POTS = text(
    """
    SELECT node.id, trait.on_edtf, place.name, (
        SELECT group_concat(note.text, '; ') FROM note
        WHERE note.node_id = node.id AND note.void_seq IS NULL)
    FROM trait JOIN node ON node.id = trait.node_id
    JOIN plant ON plant.node_id = node.id LEFT JOIN place ON place.id = plant.place_id
    WHERE trait.kind = 'orphan' AND trait.void_seq IS NULL AND plant.void_seq IS NULL
      AND plant.status IN ('alive', 'unsure')
      AND NOT EXISTS (SELECT 1 FROM edge WHERE edge.child_id = node.id AND edge.void_seq IS NULL)
    ORDER BY node.id
    """
)


def orphans(session: Session) -> tuple[Orphan, ...]:
    """Pots without a parent and tags without a plant, that are still waiting for theirs."""
    found = []
    for node_id, _, place, words in session.execute(_POTS):
        trait = session.scalars(
            select(Trait).where(Trait.node_id == node_id, Trait.kind == "orphan")
        ).first()
        code = session.get_one(Node, node_id).code
        found.append(Orphan("pot", code, words or "", place, trait.on if trait else None))
    for tag in session.scalars(
        select(StrayTag)
        .where(StrayTag.node_id.is_(None), StrayTag.void_seq.is_(None))
        .order_by(StrayTag.id)
    ):
        found.append(_tag_shown(session, tag))
    return tuple(found)


def _tag_shown(session: Session, tag: StrayTag) -> Orphan:
    place = session.get(Place, tag.place_id) if tag.place_id else None
    return Orphan("tag", f"tag {tag.id}", tag.text, place.name if place else None, tag.on)


def stray_tag(session: Session, typed: str) -> StrayTag | None:
    """The tag that `tag 3` means; None where the text means no tag.

    Raises:
        TagUnknown: there is no such tag, or it has its plant.
    """
    head, _, number = typed.strip().partition(" ")
    key = whole(number)
    if head.casefold() != "tag" or key is None:
        return None
    tag = session.get(StrayTag, key)
    if tag is None or tag.void_seq is not None or tag.node_id is not None:
        raise TagUnknown(typed)
    return tag


def candidates_for_tag(session: Session, tag: StrayTag) -> tuple[Candidate, ...]:
    """Living plants that a tag could be of, those with most for them first."""
    return _candidates(session, tag.text, tag.place_id, tag.on, frozenset())


def candidates_for_pot(session: Session, node_id: int) -> tuple[Candidate, ...]:
    """Living plants that a pot could be, or could be from."""
    plant = session.get(Plant, node_id)
    if plant is None:
        raise NotAPlant(session.get_one(Node, node_id).code)
    words = session.scalars(
        select(Note.text).where(Note.node_id == node_id, Note.void_seq.is_(None))
    ).all()
    said = " ".join([plant.received_as or "", *(word for word in words if word)])
    return _candidates(session, said, plant.place_id, plant.got, frozenset({node_id}))


def _candidates(
    session: Session,
    words: str,
    place_id: int | None,
    on: FuzzyDate | None,
    without: frozenset[int],
) -> tuple[Candidate, ...]:
    """Plants by what speaks for them: words in common, the same place, a tag that is missing.

    A plant that came into being after the orphan was found cannot be meant.
    """
    why: dict[int, list[str]] = {}
    connection = session.connection()
    for word in dict.fromkeys(search_keys(words)):
        if len(word) > 1:
            for node in search.find(connection, word, MOST_LOOKED_AT):
                why.setdefault(node, []).append(word)
    for node in _at(session, place_id):
        why.setdefault(node, []).append("stands there")
    for node, until in _once_at(session, place_id):
        why.setdefault(node, []).append(f"stood there until {until.display()}")
    for node in session.scalars(
        select(Trait.node_id).where(Trait.kind == "no tag", Trait.void_seq.is_(None))
    ):
        why.setdefault(node, []).append("its tag is missing")
    rows = lineage.nodes(session, set(why) - without)
    orphaned = set(
        session.scalars(
            select(Trait.node_id).where(Trait.kind == "orphan", Trait.void_seq.is_(None))
        )
    )
    kept = [
        node
        for node, row in rows.items()
        if row.kind == "plant"
        and row.status in ("alive", "unsure")
        and node not in orphaned
        and not _came_after(session, node, on)
    ]
    kept.sort(key=lambda node: (-len(why[node]), node))
    names = names_of(session, kept[:MOST_OFFERED])
    return tuple(
        Candidate(node, rows[node].code, names[node].shown, _place(session, node), tuple(why[node]))
        for node in kept[:MOST_OFFERED]
    )


def _at(session: Session, place_id: int | None) -> Sequence[int]:
    if place_id is None:
        return []
    return session.scalars(
        select(Plant.node_id)
        .where(Plant.place_id == place_id, Plant.status == "alive", Plant.void_seq.is_(None))
        .limit(MOST_LOOKED_AT)
    ).all()


def _once_at(session: Session, place_id: int | None) -> list[tuple[int, FuzzyDate]]:
    """Plants that have left a place, and when: their tags may have stayed there."""
    if place_id is None:
        return []
    stays = session.scalars(
        select(Stay)
        .where(Stay.place_id == place_id, Stay.node_id.is_not(None), Stay.void_seq.is_(None))
        .order_by(Stay.id.desc())
        .limit(MOST_LOOKED_AT)
    )
    left = ((stay.node_id, stay.until) for stay in stays)
    return [(node, until) for node, until in left if node is not None and until is not None]


def _came_after(session: Session, node_id: int, on: FuzzyDate | None) -> bool:
    born = session.get_one(Node, node_id).born
    return born is not None and on is not None and on.certainly_before(born)


def _place(session: Session, node_id: int) -> str | None:
    plant = session.get_one(Plant, node_id)
    return session.get_one(Place, plant.place_id).name if plant.place_id else None


def bind_stray(rec: Recording, tag: StrayTag, target: Target) -> str:
    """A tag that was found is a plant's; the plant's tag is not missing any more."""
    node_id = identity.subject(target)
    tag.node_id = node_id
    identity.unmark(rec, target, "no tag")
    return rec.session.get_one(Node, node_id).code


def parents_of_orphan(rec: Recording, target: Target, parents: Sequence[Target]) -> str:
    """A plant came from what is named, or from one of them; its own name, if it has one, stays.

    Raises:
        NotAPlant: the pot's reference means no single plant, or a parent's neither plant nor lot.
    """
    node_id = identity.subject(target)
    identity.may_come_from(rec, node_id, identity.any_of(parents))
    code = rec.session.get_one(Node, node_id).code
    rec.last = [code]
    return code
