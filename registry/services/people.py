"""People and places: found by name however it is typed, made when they are new.

A person's details stand apart from the record, with a salt of their own; the record holds their
hash.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.names import calling_key
from registry.domain.numbers import whole
from registry.errors import EmptyName, PersonsAlike, PersonUnknown, PlaceExists, PlaceUnknown
from registry.ids import new_salt
from registry.services.naming import names_of
from registry.services.rows import registry_row
from registry.storage.models import Node, Ownership, Person, PersonDetail, Place, Plant
from registry.storage.sealing import detail_hash
from registry.storage.transaction import Recording

ME = "me"
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose a plant is, as far as was said.

    Attributes:
        known: False where nobody said, or the owner is not known.
        person_id: The person; None is the grower, if `known`.
        name: As said.
        made: True if the person was made by saying so.
        said: False where nobody said anything; `unknown` is something said.
    """

    known: bool
    person_id: int | None = None
    name: str | None = None
    made: bool = False
    said: bool = True


@dataclass(frozen=True, slots=True)
class PersonShown:
    """A person as a list shows them; `called` tells apart those who share a name."""

    id: int
    name: str
    called: str
    contact: str | None
    trade: bool
    grower: bool


def owner_named(rec: Recording, said: str | None) -> Owner:
    """The owner that is meant: `me`, `unknown`, or a person, who is made if new.

    Raises:
        PersonsAlike: two people have that name.
    """
    if said is None or said.strip().casefold() == UNKNOWN:
        return Owner(known=False, said=said is not None)
    if said.strip().casefold() == ME:
        return Owner(known=True)
    found = find_person(rec.session, said)
    if found is not None:
        grower = found == registry_row(rec.session).grower_id
        return Owner(known=True, person_id=None if grower else found, name=said)
    return Owner(known=True, person_id=add_person(rec, said), name=said.strip(), made=True)


def find_person(session: Session, name: str) -> int | None:
    """The person of that name, or None; `Name #2` means the second of two who share it.

    Raises:
        EmptyName: nothing was typed.
        PersonsAlike: two people share it.
        PersonUnknown: there is no such second one.
    """
    typed, _, which = name.partition("#")
    if not calling_key(typed):
        raise EmptyName("a person")
    ids = session.scalars(
        select(PersonDetail.person_id)
        .join(Person, Person.id == PersonDetail.person_id)
        .where(PersonDetail.key == calling_key(typed), Person.void_seq.is_(None))
        .order_by(PersonDetail.person_id)
    ).all()
    if which.strip().isdigit():
        number = whole(which) or 0
        if not 1 <= number <= len(ids):
            raise PersonUnknown(name.strip(), tuple(person_name(session, i) for i in ids))
        return ids[number - 1]
    if len(ids) > 1:
        contacts = tuple(session.get_one(PersonDetail, i).contact or "" for i in ids)
        raise PersonsAlike(typed.strip(), contacts)
    return ids[0] if ids else None


def person_named(session: Session, name: str) -> int:
    """The person of that name.

    Raises:
        PersonUnknown: nobody has it, naming those that come near.
        PersonsAlike: two people share it.
    """
    found = find_person(session, name)
    if found is None:
        words = set(calling_key(name).split())
        near = tuple(
            detail.name
            for detail in session.scalars(select(PersonDetail).order_by(PersonDetail.name))
            if words & set(detail.key.split())
        )
        raise PersonUnknown(name, near)
    return found


def recorder(session: Session, name: str) -> int | None:
    """The person who records, by name; the grower is None, as everywhere in the record.

    Raises:
        PersonUnknown, PersonsAlike: as for `person_named`.
    """
    found = person_named(session, name)
    return None if found == registry_row(session).grower_id else found


def add_person(
    rec: Recording,
    name: str,
    *,
    contact: str | None = None,
    trade: bool = False,
    share: bool = False,
) -> int:
    """Record a person; a second one of the same name is somebody else.

    Raises:
        EmptyName: nothing was typed.
    """
    if not calling_key(name):
        raise EmptyName("a person")
    salt = new_salt()
    shown = name.strip()
    hashed = detail_hash(salt, name=shown, contact=contact, share=share)
    person = rec.add(Person(uuid=rec.new_id(), trade=trade, detail_hash=hashed))
    rec.flush()
    rec.add(
        PersonDetail(
            person_id=person.id,
            salt=salt,
            name=shown,
            key=calling_key(shown),
            contact=contact,
            share=share,
        )
    )
    rec.flush()
    return person.id


def person_name(session: Session, person_id: int | None) -> str:
    """A person's name; None is the grower."""
    wanted = registry_row(session).grower_id if person_id is None else person_id
    detail = session.get(PersonDetail, wanted)
    return detail.name if detail is not None else "(details blanked)"


def contact_of(session: Session, person_id: int) -> str | None:
    """How to reach a person, where that is on record."""
    detail = session.get(PersonDetail, person_id)
    return detail.contact if detail is not None else None


def mark_of(person_id: int) -> str:
    """What stands for a person's name in words that the chain keeps."""
    return f"⟦person {person_id}⟧"


_MARKED = re.compile(r"⟦person (\d+)⟧")


def with_names(session: Session, words: str) -> str:
    """Words that the chain keeps, with people by name as they are called now."""
    return _MARKED.sub(lambda found: person_name(session, int(found[1])), words)


def list_people(session: Session, *, of_name: str | None = None) -> list[PersonShown]:
    """Everybody on record by name, or those who have the name `of_name`, oldest first."""
    grower = registry_row(session).grower_id
    query = (
        select(Person, PersonDetail)
        .join(PersonDetail, PersonDetail.person_id == Person.id)
        .where(Person.void_seq.is_(None))
        .order_by(PersonDetail.key, Person.id)
    )
    if of_name is not None:
        query = query.where(PersonDetail.key == calling_key(of_name))
    rows = session.execute(query).all()
    keys = [detail.key for _, detail in rows]
    shown = []
    for place, (person, detail) in enumerate(rows):
        which = keys[:place].count(detail.key) + 1 if keys.count(detail.key) > 1 else 0
        called = f"{detail.name} #{which}" if which else detail.name
        grows = person.id == grower
        shown.append(
            PersonShown(person.id, detail.name, called, detail.contact, person.trade, grows)
        )
    return shown


@dataclass(frozen=True, slots=True)
class PersonWhole:
    """A person with the plants that are theirs, as (code, name as it is today)."""

    name: str
    contact: str | None
    trade: bool
    plants: tuple[tuple[str, str], ...]


def person_shown(session: Session, person_id: int) -> PersonWhole:
    """One person, with what is theirs."""
    detail = session.get_one(PersonDetail, person_id)
    mine = person_id == registry_row(session).grower_id
    rows = session.execute(
        select(Node.id, Node.code)
        .join(Ownership, Ownership.node_id == Node.id)
        .join(Plant, Plant.node_id == Node.id)
        .where(
            Ownership.person_id.is_(None) if mine else Ownership.person_id == person_id,
            Ownership.void_seq.is_(None),
        )
        .order_by(Node.id)
    ).all()
    names = names_of(session, [node_id for node_id, _ in rows])
    plants = tuple((code, names[node_id].shown) for node_id, code in rows)
    trade = session.get_one(Person, person_id).trade
    return PersonWhole(detail.name, detail.contact, trade, plants)


# --- places --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlaceShown:
    """A place as a list shows it."""

    id: int
    name: str
    within: str | None
    country: str | None
    hidden: bool


def find_place(session: Session, name: str) -> int | None:
    """The place of that name, or None."""
    return session.scalar(
        select(Place.id).where(Place.key == calling_key(name), Place.void_seq.is_(None)).limit(1)
    )


MADE_BESIDE = "made beside"
"""Where a session has what an act put on record by the way: `place hut`, `person Bo Reed`."""


def made_beside(rec: Recording, kind: str, name: str) -> None:
    """Note that an act put a person or a place on record by the way, for the answer to tell."""
    rec.session.info.setdefault(MADE_BESIDE, []).append(f"{kind} {name.strip()}")


def place_named(rec: Recording, name: str) -> int:
    """The place of that name, made if it is new.

    Raises:
        EmptyName: nothing was typed.
    """
    if not calling_key(name):
        raise EmptyName("a place")
    found = find_place(rec.session, name)
    if found is not None:
        return found
    made_beside(rec, "place", name)
    return add_place(rec, name)


def add_place(
    rec: Recording,
    name: str,
    *,
    within: str | None = None,
    country: str | None = None,
    region: str | None = None,
    hidden: bool = False,
) -> int:
    """Record a place, in another if said.

    Raises:
        EmptyName: nothing was typed.
        PlaceExists: there is one of that name already.
    """
    if not calling_key(name):
        raise EmptyName("a place")
    if find_place(rec.session, name) is not None:
        raise PlaceExists(name)
    parent_id = None
    if within is not None:
        parent_id = find_place(rec.session, within)
        if parent_id is None:
            raise PlaceUnknown(within)
    place = rec.add(
        Place(
            name=name.strip(),
            key=calling_key(name),
            parent_id=parent_id,
            country=country,
            region=region,
            hidden=hidden,
        )
    )
    rec.flush()
    return place.id


def rename_place(rec: Recording, name: str, new: str) -> int:
    """Give a place another name; the record keeps the old one.

    Raises:
        EmptyName: nothing was typed.
        PlaceUnknown: there is no such place.
        PlaceExists: the new name is taken.
    """
    if not calling_key(new):
        raise EmptyName("a place")
    found = find_place(rec.session, name)
    if found is None:
        raise PlaceUnknown(name)
    if find_place(rec.session, new) not in (None, found):
        raise PlaceExists(new)
    place = rec.session.get_one(Place, found)
    place.name = new.strip()
    place.key = calling_key(new)
    rec.flush()
    return found


def list_places(session: Session) -> list[PlaceShown]:
    """Every place, by name."""
    rows = session.scalars(select(Place).where(Place.void_seq.is_(None)).order_by(Place.name)).all()
    names = {place.id: place.name for place in rows}
    return [
        PlaceShown(
            place.id, place.name, names.get(place.parent_id or 0), place.country, place.hidden
        )
        for place in rows
    ]
