"""The tables. Rows stay in `storage` and `services`; the domain gets small frozen values.

Facts are added, never edited: what is put right gets `void_seq` and a new row beside it.
The few cached columns that are updated are named in docs/architecture.md.
"""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index, LargeBinary, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from registry.domain.dates import FuzzyDate
from registry.storage.base import Base, Fact, Structure, dated, live_index

OUTSIDE = {"chain": False}
"""Marks tables and columns that the chain does not hold: derived, sealed, or the chain itself."""


def exactly_one(*columns: str) -> str:
    """SQL that is true where exactly one of `columns` is filled."""
    return " + ".join(f"({c} IS NOT NULL)" for c in columns) + " = 1"


# --- the registry, its people and places ---------------------------------------------------------


class Registry(Base):
    """The one row about the registry itself."""

    __tablename__ = "registry"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    uuid: Mapped[UUID] = mapped_column(unique=True)
    format: Mapped[int]
    number_width: Mapped[int]
    plant_width: Mapped[int]
    grower_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    country: Mapped[str]
    region: Mapped[str | None]
    hemisphere: Mapped[str]
    currency: Mapped[str | None]
    began: Mapped[date]
    settings: Mapped[dict[str, Any]]


class Person(Fact, Base):
    """Somebody; the details stand apart in `PersonDetail`, here is only their hash."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    uuid: Mapped[UUID] = mapped_column(unique=True)
    trade: Mapped[bool] = mapped_column(default=False)
    detail_hash: Mapped[str]


class PersonDetail(Base):
    """A person's details and their salt, outside the chain, so that they can be blanked."""

    __tablename__ = "person_detail"
    __table_args__ = ({"info": OUTSIDE},)

    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True)
    salt: Mapped[bytes] = mapped_column(LargeBinary)
    name: Mapped[str]
    key: Mapped[str] = mapped_column(index=True)
    contact: Mapped[str | None]
    share: Mapped[bool] = mapped_column(default=False)


class Sealed(Base):
    """Free text marked personal, with a salt of its own, outside the chain."""

    __tablename__ = "sealed"
    __table_args__ = ({"info": OUTSIDE},)

    id: Mapped[int] = mapped_column(primary_key=True)
    salt: Mapped[bytes] = mapped_column(LargeBinary)
    value: Mapped[str]
    hash: Mapped[str]


class Blanking(Fact, Base):
    """Private details, or a private text, were emptied for good: when, and why."""

    __tablename__ = "blanking"
    __table_args__ = (CheckConstraint(exactly_one("person_id", "note_id"), name="one_subject"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    note_id: Mapped[int | None] = mapped_column(ForeignKey("note.id"), index=True)
    reason: Mapped[str]


class Place(Fact, Base):
    """A bench, a bed, a garden or a town; a hidden place is never printed."""

    __tablename__ = "place"
    __table_args__ = (
        live_index("uq_place_key_parent", "key", "parent_id", unique=True),
        # SQL holds two empty parents for different, so outermost places need their own rule.
        live_index("uq_place_key_outermost", "key", unique=True, where="parent_id IS NULL"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    key: Mapped[str]
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    country: Mapped[str | None]
    region: Mapped[str | None]
    hidden: Mapped[bool] = mapped_column(default=False)


# --- numbers and the lineage ---------------------------------------------------------------------


class Series(Base):
    """The running number of a year: the next one to give."""

    __tablename__ = "series"

    year: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    next: Mapped[int]


class Accession(Base):
    """One number: a founder's, a batch's, or a blank tag's."""

    __tablename__ = "accession"
    __table_args__ = (UniqueConstraint("year", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    year: Mapped[int]
    number: Mapped[int]
    kind: Mapped[str]
    next_plant: Mapped[int] = mapped_column(default=1)
    next_lot: Mapped[int] = mapped_column(default=1)
    seq: Mapped[int]


class Node(Base):
    """A plant or a lot: the points of the lineage."""

    __tablename__ = "node"
    __table_args__ = (CheckConstraint("kind IN ('plant', 'lot')", name="kind"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    uuid: Mapped[UUID] = mapped_column(unique=True)
    code: Mapped[str] = mapped_column(unique=True)
    accession_id: Mapped[int] = mapped_column(ForeignKey("accession.id"), index=True)
    born: Mapped[FuzzyDate | None] = dated("born")
    seq: Mapped[int] = mapped_column(index=True)


class Plant(Fact, Base):
    """A plant, or the plants that share a pot."""

    __tablename__ = "plant"
    __table_args__ = (
        CheckConstraint("plants >= 1", name="plants"),
        Index("ix_plant_place_status", "place_id", "status"),
    )

    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), primary_key=True)
    received_as: Mapped[str | None]
    received_key: Mapped[str | None] = mapped_column(index=True)
    how: Mapped[str | None]
    source_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    origin: Mapped[str] = mapped_column(default="unsaid")
    since: Mapped[FuzzyDate | None] = dated("since")
    since_source: Mapped[str | None]
    got: Mapped[FuzzyDate | None] = dated("got")
    lent_until: Mapped[FuzzyDate | None] = dated("lent_until")
    position: Mapped[str | None]
    plants: Mapped[int] = mapped_column(default=1)
    pieces: Mapped[int | None]
    pot: Mapped[str | None]
    status: Mapped[str] = mapped_column(default="alive")
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    ended: Mapped[FuzzyDate | None] = dated("ended")
    end_kind: Mapped[str | None]
    end_reason: Mapped[str | None]
    under_order: Mapped[str | None]
    witness_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))


class Batch(Fact, Base):
    """The lots stuck together: one container, one day, one number."""

    __tablename__ = "batch"
    __table_args__ = (CheckConstraint("unsaid >= 0", name="never_negative"),)

    accession_id: Mapped[int] = mapped_column(ForeignKey("accession.id"), primary_key=True)
    stuck: Mapped[FuzzyDate | None] = dated("stuck")
    container: Mapped[str | None]
    unsaid: Mapped[int] = mapped_column(default=0)
    closed_seq: Mapped[int | None]


class Lot(Fact, Base):
    """Material treated alike, from one source on one day; the unit that is counted."""

    __tablename__ = "lot"
    __table_args__ = (
        CheckConstraint("in_bench >= 0", name="never_negative"),
        live_index("uq_lot_batch_letter", "batch_id", "letter", unique=True),
        Index("ix_lot_in_bench", "in_bench"),
    )

    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), primary_key=True)
    batch_id: Mapped[int] = mapped_column(ForeignKey("accession.id"))
    letter: Mapped[str]
    method: Mapped[str]
    wood: Mapped[str | None]
    wood_stage: Mapped[str | None]
    part: Mapped[str | None]
    medium: Mapped[str | None]
    hormone: Mapped[str | None]
    ppm: Mapped[int | None]
    cover: Mapped[str | None]
    taken: Mapped[FuzzyDate | None] = dated("taken")
    stuck: Mapped[FuzzyDate | None] = dated("stuck")
    opening_low: Mapped[int | None]
    opening_high: Mapped[int | None]
    opening_text: Mapped[str]
    opening_kind: Mapped[str]
    in_bench: Mapped[int | None]
    attempt: Mapped[int] = mapped_column(default=1)
    verdict_id: Mapped[int | None] = mapped_column(ForeignKey("verdict_given.id"))


class Edge(Fact, Base):
    """Parent to child. Edges of one child with the same `choice` are 'one of these'."""

    __tablename__ = "edge"
    __table_args__ = (
        CheckConstraint("parent_id <> child_id", name="not_itself"),
        live_index("uq_edge_parent_child_role", "parent_id", "child_id", "role", unique=True),
        live_index("ix_edge_child_parent_role", "child_id", "parent_id", "role"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    parent_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    child_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    role: Mapped[str]
    choice: Mapped[int | None]
    clonal: Mapped[bool]


class Line(Base):
    """Derived: the nearest ancestor with a name of its own; several where parentage is open."""

    __tablename__ = "line"
    __table_args__ = (
        Index("ix_line_root_id_node_id", "root_id", "node_id"),
        {"info": OUTSIDE, "sqlite_with_rowid": False},
    )

    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), primary_key=True)
    root_id: Mapped[int] = mapped_column(ForeignKey("node.id"), primary_key=True)


class Alias(Fact, Base):
    """Another number of a plant, lot or batch, and who gave it; others' numbers do collide."""

    __tablename__ = "alias"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "accession_id"), name="one_owner"),
        Index("ix_alias_key", "key"),
        Index("ix_alias_node_id", "node_id"),
        Index("ix_alias_accession_id", "accession_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    issuer: Mapped[str | None]
    text: Mapped[str]
    key: Mapped[str]


class Stay(Fact, Base):
    """Where a plant or a whole batch stood, from when until when."""

    __tablename__ = "stay"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "accession_id"), name="one_owner"),
        Index("ix_stay_place_id_from_first", "place_id", "from_first"),
        Index("ix_stay_node_id", "node_id"),
        Index("ix_stay_accession_id", "accession_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"))
    from_: Mapped[FuzzyDate | None] = dated("from")
    until: Mapped[FuzzyDate | None] = dated("until")


# --- counting ------------------------------------------------------------------------------------


class LedgerEntry(Fact, Base):
    """One movement of a lot's count; signed, never zero.

    A movement out of a batch of several lots where nobody said which lot names the batch instead.
    """

    __tablename__ = "ledger_entry"
    __table_args__ = (
        CheckConstraint("n <> 0", name="not_zero"),
        CheckConstraint(exactly_one("lot_id", "batch_id"), name="one_subject"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.node_id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.accession_id"), index=True)
    kind: Mapped[str]
    n: Mapped[int]
    other_lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.node_id"))
    reason: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class Look(Fact, Base):
    """What stood in the bench when somebody looked: an observation, not a movement."""

    __tablename__ = "look"
    __table_args__ = (CheckConstraint(exactly_one("lot_id", "batch_id"), name="one_subject"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.node_id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.accession_id"), index=True)
    what: Mapped[str]
    low: Mapped[int | None]
    high: Mapped[int | None]
    text: Mapped[str]
    on: Mapped[FuzzyDate | None] = dated("on")


# --- what it is, whose it is, what is allowed ----------------------------------------------------


class Determination(Fact, Base):
    """A dated opinion of what a plant is, by whom, on what grounds, and how sure."""

    __tablename__ = "determination"

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    typed: Mapped[str]
    parts: Mapped[dict[str, Any]]
    printed: Mapped[str]
    key: Mapped[str] = mapped_column(index=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    grounds: Mapped[str | None]
    sure: Mapped[str | None]
    verified: Mapped[str | None]
    starts_line: Mapped[bool] = mapped_column(default=False)
    on: Mapped[FuzzyDate | None] = dated("on")


class Trait(Fact, Base):
    """Something that a plant is beside its name: a chimera, an orphan pot, without its tag."""

    __tablename__ = "trait"
    __table_args__ = (CheckConstraint("kind IN ('chimera', 'orphan', 'no tag')", name="kind"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    kind: Mapped[str]
    on: Mapped[FuzzyDate | None] = dated("on")


class IdentityCheck(Fact, Base):
    """Somebody compared a plant with the name it bears: confirmed, contradicted or unproven.

    `name` is what it was called then.
    """

    __tablename__ = "identity_check"
    __table_args__ = (
        CheckConstraint("outcome IN ('confirmed', 'contradicted', 'unproven')", name="outcome"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    outcome: Mapped[str]
    grounds: Mapped[str | None]
    verified: Mapped[str | None]
    name: Mapped[str | None]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    on: Mapped[FuzzyDate | None] = dated("on")


class SamePlant(Fact, Base):
    """Two records that may be of one plant: they are found together and stay two."""

    __tablename__ = "same_plant"
    __table_args__ = (
        CheckConstraint("one_id < other_id", name="in_order"),
        live_index("uq_same_plant_one_other", "one_id", "other_id", unique=True),
        Index("ix_same_plant_other_id", "other_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    one_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    other_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    on: Mapped[FuzzyDate | None] = dated("on")


class StrayTag(Fact, Base):
    """A tag that was found on its own: what it says, where it lay, and whose it proved to be."""

    __tablename__ = "stray_tag"

    id: Mapped[int] = mapped_column(primary_key=True)
    text: Mapped[str]
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"), index=True)
    on: Mapped[FuzzyDate | None] = dated("on")


class Ownership(Fact, Base):
    """Whose a plant was, and when; no person is the grower, no row is 'not recorded'."""

    __tablename__ = "ownership"

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    from_: Mapped[FuzzyDate | None] = dated("from")
    until: Mapped[FuzzyDate | None] = dated("until")


class Consent(Fact, Base):
    """What an owner (or, on a right, its holder) said, was asked and did not say, or refused."""

    __tablename__ = "consent"
    __table_args__ = (
        CheckConstraint(exactly_one("plant_id", "lot_id", "right_id"), name="one_subject"),
        Index("ix_consent_plant_id", "plant_id"),
        Index("ix_consent_lot_id", "lot_id"),
        Index("ix_consent_right_id", "right_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    as_role: Mapped[str | None]
    plant_id: Mapped[int | None] = mapped_column(ForeignKey("plant.node_id"))
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.node_id"))
    right_id: Mapped[int | None] = mapped_column(ForeignKey("right.id"))
    territory: Mapped[str | None]
    outcome: Mapped[str]
    said: Mapped[str | None]
    by_word: Mapped[str | None]
    covers_taken: Mapped[bool] = mapped_column(default=False)
    with_taking: Mapped[bool] = mapped_column(default=False)
    notice: Mapped[str | None]
    credit: Mapped[str | None]
    pledge: Mapped[str | None]
    from_: Mapped[FuzzyDate | None] = dated("from")
    until: Mapped[FuzzyDate | None] = dated("until")
    withdrawn: Mapped[FuzzyDate | None] = dated("withdrawn")
    sell_off: Mapped[FuzzyDate | None] = dated("sell_off")


class ConsentAct(Base):
    """One act that a consent allows or forbids, with its number and its price."""

    __tablename__ = "consent_act"
    __table_args__ = (CheckConstraint("limit_n > 0", name="limit_positive"),)

    consent_id: Mapped[int] = mapped_column(ForeignKey("consent.id"), primary_key=True)
    act: Mapped[str] = mapped_column(primary_key=True)
    allowed: Mapped[bool]
    limit_n: Mapped[int | None]
    limit_unit: Mapped[str | None]
    limit_per: Mapped[str | None]
    royalty: Mapped[str | None]
    currency: Mapped[str | None]


class ConsentUse(Fact, Base):
    """A number of a consent that an act used up."""

    __tablename__ = "consent_use"
    __table_args__ = (Index("ix_consent_use_consent_id_act", "consent_id", "act"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    consent_id: Mapped[int] = mapped_column(ForeignKey("consent.id"))
    act: Mapped[str]
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    n: Mapped[int | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class Right(Fact, Base):
    """A plant patent, variety certificate or the like: one row for each right and territory."""

    __tablename__ = "right"
    __table_args__ = (Index("ix_right_kind_number", "kind", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    number: Mapped[str | None]
    territory: Mapped[str]
    filed: Mapped[FuzzyDate | None] = dated("filed")
    earliest: Mapped[FuzzyDate | None] = dated("earliest")
    granted: Mapped[FuzzyDate | None] = dated("granted")
    adjust_days: Mapped[int | None]
    disclaimed: Mapped[FuzzyDate | None] = dated("disclaimed")
    stated_end: Mapped[FuzzyDate | None] = dated("stated_end")
    end_source: Mapped[str | None]
    group: Mapped[str | None]
    source: Mapped[str | None]


class RightName(Base):
    """A name under which a right protects: the matching key of a denomination."""

    __tablename__ = "right_name"

    right_id: Mapped[int] = mapped_column(ForeignKey("right.id"), primary_key=True)
    key: Mapped[str] = mapped_column(primary_key=True, index=True)
    name: Mapped[str]


class RightEvent(Fact, Base):
    """A dated change of a right's status."""

    __tablename__ = "right_event"

    id: Mapped[int] = mapped_column(primary_key=True)
    right_id: Mapped[int] = mapped_column(ForeignKey("right.id"), index=True)
    what: Mapped[str]
    final: Mapped[bool] = mapped_column(default=True)
    source: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class RightLookup(Fact, Base):
    """A search of a register: under which name, where, when, and what it found."""

    __tablename__ = "right_lookup"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    key: Mapped[str] = mapped_column(index=True)
    territory: Mapped[str]
    register_: Mapped[str] = mapped_column("where_looked")
    found: Mapped[str]
    complete: Mapped[bool] = mapped_column(default=True)
    pledge: Mapped[str | None]
    first_sold: Mapped[FuzzyDate | None] = dated("first_sold")
    on: Mapped[FuzzyDate | None] = dated("on")


class Restriction(Fact, Base):
    """A rule of a place on a species or genus, or a plant-health order on them or on all plants."""

    __tablename__ = "restriction"
    __table_args__ = (CheckConstraint("rank IN ('species', 'genus', 'all')", name="rank"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    taxon: Mapped[str]
    genus: Mapped[str] = mapped_column(index=True)
    species: Mapped[str]
    rank: Mapped[str]
    territory: Mapped[str]
    region: Mapped[str | None]
    private_too: Mapped[bool] = mapped_column(default=True)
    citation: Mapped[str]
    exempt: Mapped[list[Any]] = mapped_column(Structure)
    since: Mapped[FuzzyDate | None] = dated("since")
    until: Mapped[FuzzyDate | None] = dated("until")


class RestrictionAct(Base):
    """One act that a restriction bars, or allows with a permit."""

    __tablename__ = "restriction_act"
    __table_args__ = (CheckConstraint("effect IN ('bars', 'permit')", name="effect"),)

    restriction_id: Mapped[int] = mapped_column(ForeignKey("restriction.id"), primary_key=True)
    act: Mapped[str] = mapped_column(primary_key=True)
    effect: Mapped[str]


class RestrictionSite(Base):
    """One place that a plant-health order names; without any it holds all over its territory."""

    __tablename__ = "restriction_site"

    restriction_id: Mapped[int] = mapped_column(ForeignKey("restriction.id"), primary_key=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), primary_key=True)


class RestrictionList(Fact, Base):
    """A place's own list that was read from a file on a day."""

    __tablename__ = "restriction_list"

    id: Mapped[int] = mapped_column(primary_key=True)
    territory: Mapped[str]
    name: Mapped[str]
    rows: Mapped[int]
    on: Mapped[FuzzyDate | None] = dated("on")


class Demand(Fact, Base):
    """What a country asks of plants or seed that come in, or of a crop in trade, as it was read."""

    __tablename__ = "demand"
    __table_args__ = (CheckConstraint("about IN ('plants', 'seed', 'crop')", name="about"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    about: Mapped[str]
    territory: Mapped[str]
    taxon: Mapped[str | None]
    permit: Mapped[bool | None]
    said: Mapped[str]
    source: Mapped[str]
    on: Mapped[FuzzyDate | None] = dated("on")


class Particular(Fact, Base):
    """Something that came with a plant or is known of it: a label's words, terms, a supplier."""

    __tablename__ = "particular"

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    what: Mapped[str]
    value: Mapped[str | None]
    said: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class Hold(Fact, Base):
    """A stop on a plant or lot (with what descends from it), a batch, or a place."""

    __tablename__ = "hold"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "accession_id", "place_id"), name="one_subject"),
        Index("ix_hold_node_id", "node_id"),
        Index("ix_hold_accession_id", "accession_id"),
        Index("ix_hold_place_id", "place_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    descent: Mapped[bool] = mapped_column(default=True)
    stops: Mapped[list[Any]] = mapped_column(Structure)
    reason: Mapped[str]
    authority: Mapped[str | None]
    from_: Mapped[FuzzyDate | None] = dated("from")
    lifted: Mapped[FuzzyDate | None] = dated("lifted")
    lifted_seq: Mapped[int | None]


class VerdictGiven(Fact, Base):
    """An answer as it was given, with the reason written against it if there was one."""

    __tablename__ = "verdict_given"

    id: Mapped[int] = mapped_column(primary_key=True)
    act: Mapped[str]
    on: Mapped[FuzzyDate | None] = dated("on")
    place: Mapped[str]
    purpose: Mapped[str]
    level: Mapped[str]
    unknown: Mapped[str | None]
    findings: Mapped[list[Any]] = mapped_column(Structure)
    anyway: Mapped[str | None]
    history: Mapped[bool] = mapped_column(default=False)


class Question(Fact, Base):
    """Something not known yet about a source plant, open until it is settled."""

    __tablename__ = "question"
    __table_args__ = (live_index("ix_question_node_id_row", "node_id", "row"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"))
    verdict_id: Mapped[int | None] = mapped_column(ForeignKey("verdict_given.id"))
    row: Mapped[str]
    asks: Mapped[str | None]
    settled_seq: Mapped[int | None]
    how: Mapped[str | None]


# --- leaving, arriving, labels, papers -----------------------------------------------------------


class Release(Fact, Base):
    """Plants that left on a day: sold, given or swapped, and to whom."""

    __tablename__ = "release"

    id: Mapped[int] = mapped_column(primary_key=True)
    uuid: Mapped[UUID] = mapped_column(unique=True)
    kind: Mapped[str]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    event: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")
    price: Mapped[str | None]
    currency: Mapped[str | None]
    price_for: Mapped[str | None]
    to_place: Mapped[str | None]
    purpose: Mapped[str]


class ReleaseItem(Fact, Base):
    """A plant that left, or a number out of a lot's or batch's pots where nobody said which.

    `name` and `verified` are what its receiver was told.
    """

    __tablename__ = "release_item"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "lot_id", "batch_id"), name="one_subject"),
        CheckConstraint("n >= 1", name="some"),
        live_index("uq_release_item_release_node", "release_id", "node_id", unique=True),
        Index("ix_release_item_node_id", "node_id"),
        Index("ix_release_item_lot_id", "lot_id"),
        Index("ix_release_item_batch_id", "batch_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    release_id: Mapped[int] = mapped_column(ForeignKey("release.id"))
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.node_id"))
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.accession_id"))
    n: Mapped[int] = mapped_column(default=1)
    name: Mapped[str | None]
    verified: Mapped[str | None]
    verdict_id: Mapped[int | None] = mapped_column(ForeignKey("verdict_given.id"))


class Receipt(Fact, Base):
    """Plants that arrived; in a swap, against which release."""

    __tablename__ = "receipt"

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    release_id: Mapped[int | None] = mapped_column(ForeignKey("release.id"))
    on: Mapped[FuzzyDate | None] = dated("on")


class ReceiptItem(Base):
    """One plant of a receipt."""

    __tablename__ = "receipt_item"

    receipt_id: Mapped[int] = mapped_column(ForeignKey("receipt.id"), primary_key=True)
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), primary_key=True, index=True)


class Loss(Fact, Base):
    """Pots of a lot that died or were thrown away, where nobody said which."""

    __tablename__ = "loss"
    __table_args__ = (CheckConstraint("n >= 1", name="some"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.node_id"), index=True)
    how: Mapped[str]
    n: Mapped[int]
    reason: Mapped[str | None]
    under_order: Mapped[str | None]
    witness_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    on: Mapped[FuzzyDate | None] = dated("on")


class LabelPrint(Fact, Base):
    """A label that was ordered, printed or replaced, with its exact text."""

    __tablename__ = "label_print"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "accession_id"), name="one_owner"),
        Index("ix_label_print_node_id", "node_id"),
        Index("ix_label_print_accession_id", "accession_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    stock: Mapped[str]
    payload: Mapped[str]
    text: Mapped[str]
    text_hash: Mapped[str]
    status: Mapped[str]


class Note(Fact, Base):
    """Words about a plant, lot, batch, person or place."""

    __tablename__ = "note"
    __table_args__ = (
        CheckConstraint(
            exactly_one("node_id", "accession_id", "person_id", "place_id"), name="one_subject"
        ),
        Index("ix_note_node_id", "node_id"),
        Index("ix_note_accession_id", "accession_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    text: Mapped[str | None]
    sealed_id: Mapped[int | None]
    sealed_hash: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class Blob(Base):
    """A stored file: its bytes stand outside the chain, their SHA-256 inside it."""

    __tablename__ = "blob"

    sha256: Mapped[str] = mapped_column(primary_key=True)
    size: Mapped[int]
    type: Mapped[str]
    content: Mapped[bytes | None] = mapped_column("bytes", info=OUTSIDE, deferred=True)
    blanked: Mapped[bool] = mapped_column(default=False)


class Attachment(Fact, Base):
    """A stored file as evidence of one record."""

    __tablename__ = "attachment"
    __table_args__ = (
        CheckConstraint(
            exactly_one("node_id", "accession_id", "person_id", "consent_id", "right_id"),
            name="one_subject",
        ),
        Index("ix_attachment_node_id", "node_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    blob_sha256: Mapped[str] = mapped_column(ForeignKey("blob.sha256"))
    filename: Mapped[str]
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    accession_id: Mapped[int | None] = mapped_column(ForeignKey("accession.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    consent_id: Mapped[int | None] = mapped_column(ForeignKey("consent.id"))
    right_id: Mapped[int | None] = mapped_column(ForeignKey("right.id"))


# --- recalls -------------------------------------------------------------------------------------


class Recall(Fact, Base):
    """A search for all that was exposed to something; closed with what was found."""

    __tablename__ = "recall"

    id: Mapped[int] = mapped_column(primary_key=True)
    uuid: Mapped[UUID] = mapped_column(unique=True)
    kind: Mapped[str]
    subject: Mapped[str]
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    on: Mapped[FuzzyDate | None] = dated("on")
    steps: Mapped[int]
    back: Mapped[bool]
    reason: Mapped[str]
    opened: Mapped[FuzzyDate | None] = dated("opened")
    closed: Mapped[FuzzyDate | None] = dated("closed")
    closed_seq: Mapped[int | None]
    finding: Mapped[str | None]


class RecallItem(Fact, Base):
    """A plant or lot that was exposed, or pots that left by count; why, and what widened it."""

    __tablename__ = "recall_item"
    __table_args__ = (
        CheckConstraint(exactly_one("node_id", "release_item_id"), name="one_subject"),
        Index("ix_recall_item_recall_id_line", "recall_id", "line"),
        Index("ix_recall_item_node_id", "node_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    recall_id: Mapped[int] = mapped_column(ForeignKey("recall.id"))
    line: Mapped[int]
    node_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    release_item_id: Mapped[int | None] = mapped_column(ForeignKey("release_item.id"))
    step: Mapped[int]
    why: Mapped[str]
    via_id: Mapped[int | None] = mapped_column(ForeignKey("node.id"))
    widened: Mapped[list[Any]] = mapped_column(Structure)


class RecallTick(Fact, Base):
    """What somebody found of an exposed plant on a day; the entry says who."""

    __tablename__ = "recall_tick"
    __table_args__ = (CheckConstraint("n >= 1", name="some"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("recall_item.id"), index=True)
    what: Mapped[str]
    n: Mapped[int | None]
    note: Mapped[str | None]
    on: Mapped[FuzzyDate | None] = dated("on")


class RecallHold(Fact, Base):
    """A hold that was laid for a recall."""

    __tablename__ = "recall_hold"

    recall_id: Mapped[int] = mapped_column(ForeignKey("recall.id"), primary_key=True)
    hold_id: Mapped[int] = mapped_column(ForeignKey("hold.id"), primary_key=True)


# --- knives and trays ----------------------------------------------------------------------------


class Tool(Base):
    """A knife, secateurs or a tray, under the grower's own name for it; it is never renamed."""

    __tablename__ = "tool"
    __table_args__ = (
        CheckConstraint("kind IN ('tool', 'tray')", name="kind"),
        UniqueConstraint("kind", "key"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    name: Mapped[str]
    key: Mapped[str]
    seq: Mapped[int] = mapped_column(index=True)


class ToolUse(Fact, Base):
    """A plant or lot that was cut with a tool, or set in a tray, on a day.

    `cleaned` says that it was disinfected just before; `sure` is false where the plant is one of
    several that may have been meant.
    """

    __tablename__ = "tool_use"
    __table_args__ = (Index("ix_tool_use_tool_id_on_first", "tool_id", "on_first"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    tool_id: Mapped[int] = mapped_column(ForeignKey("tool.id"))
    node_id: Mapped[int] = mapped_column(ForeignKey("node.id"), index=True)
    cleaned: Mapped[bool] = mapped_column(default=False)
    sure: Mapped[bool] = mapped_column(default=True)
    on: Mapped[FuzzyDate | None] = dated("on")


class ToolCleaning(Fact, Base):
    """A day on which a tool or tray was disinfected."""

    __tablename__ = "tool_cleaning"

    id: Mapped[int] = mapped_column(primary_key=True)
    tool_id: Mapped[int] = mapped_column(ForeignKey("tool.id"), index=True)
    on: Mapped[FuzzyDate | None] = dated("on")


# --- the chain -----------------------------------------------------------------------------------


class ChainHead(Base):
    """The row every writer takes first; the newest entry's number and hash."""

    __tablename__ = "chain_head"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"), {"info": OUTSIDE})

    id: Mapped[int] = mapped_column(primary_key=True)
    seq: Mapped[int]
    hash: Mapped[str]


class ChainEntry(Base):
    """One writing transaction: canonical header and its hash."""

    __tablename__ = "chain_entry"
    __table_args__ = ({"info": OUTSIDE},)

    seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    header: Mapped[str]
    hash: Mapped[str] = mapped_column(unique=True)
    by_id: Mapped[int | None] = mapped_column(index=True)
    request_key: Mapped[str | None] = mapped_column(unique=True)


class ChainPart(Base):
    """Up to a thousand recorded rows of an entry, compressed."""

    __tablename__ = "chain_part"
    __table_args__ = ({"info": OUTSIDE},)

    seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    part: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    body: Mapped[bytes] = mapped_column(LargeBinary)


class Checked(Base):
    """Where the newest whole check of the registry ended, and when it was.

    It stands outside the chain: a check records nothing, and must leave the head as it found it.
    Nobody who could change a row could be kept from changing this one too, which is why a check
    from here on looks first whether the chain still goes through it.
    """

    __tablename__ = "checked"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"), {"info": OUTSIDE})

    id: Mapped[int] = mapped_column(primary_key=True)
    seq: Mapped[int]
    hash: Mapped[str]
    at: Mapped[str]
