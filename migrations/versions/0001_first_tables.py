"""The first tables.

Revision 0001, after none.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def where(condition: str) -> dict[str, Any]:
    """The options of an index over the rows that meet `condition`."""
    return {"sqlite_where": sa.text(condition), "postgresql_where": sa.text(condition)}


LIVE = where("void_seq IS NULL")
"""The facts that stand."""


def dated(name: str) -> list[sa.Column[Any]]:
    """A date as said: EDTF text, first and last possible day, the words typed."""
    return [
        sa.Column(f"{name}_edtf", sa.String()),
        sa.Column(f"{name}_first", sa.Date()),
        sa.Column(f"{name}_last", sa.Date()),
        sa.Column(f"{name}_said", sa.String()),
    ]


def fact() -> list[sa.Column[int]]:
    """The entry that recorded a row, and the one that took it back."""
    return [
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("void_seq", sa.Integer(), nullable=True),
    ]


def exactly_one(*columns: str) -> str:
    """SQL that is true where exactly one of `columns` is filled."""
    return " + ".join(f"({column} IS NOT NULL)" for column in columns) + " = 1"


TABLES = (
    "accession",
    "blob",
    "chain_entry",
    "chain_head",
    "chain_part",
    "person",
    "place",
    "right",
    "right_lookup",
    "sealed",
    "series",
    "verdict_given",
    "batch",
    "node",
    "person_detail",
    "registry",
    "release",
    "right_event",
    "right_name",
    "alias",
    "determination",
    "edge",
    "hold",
    "label_print",
    "line",
    "lot",
    "note",
    "ownership",
    "plant",
    "question",
    "receipt",
    "stay",
    "consent",
    "ledger_entry",
    "look",
    "loss",
    "receipt_item",
    "release_item",
    "attachment",
    "consent_act",
    "consent_use",
)
"""Every table, parents before children."""


def upgrade() -> None:
    op.create_table(
        "accession",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("next_plant", sa.Integer(), nullable=False),
        sa.Column("next_lot", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_accession"),
        sa.UniqueConstraint("year", "number", name="uq_accession_year_number"),
    )
    op.create_table(
        "blob",
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("type", sa.String(), nullable=False),
        sa.Column("bytes", sa.LargeBinary()),
        sa.Column("blanked", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_blob"),
    )
    op.create_table(
        "chain_entry",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("header", sa.String(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("request_key", sa.String()),
        sa.PrimaryKeyConstraint("seq", name="pk_chain_entry"),
        sa.UniqueConstraint("hash", name="uq_chain_entry_hash"),
        sa.UniqueConstraint("request_key", name="uq_chain_entry_request_key"),
    )
    op.create_index("ix_chain_entry_by_id", "chain_entry", ["by_id"])
    op.create_table(
        "chain_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_chain_head_one_row")),
        sa.PrimaryKeyConstraint("id", name="pk_chain_head"),
    )
    op.create_table(
        "chain_part",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("part", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("seq", "part", name="pk_chain_part"),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uuid", sa.LargeBinary(length=16), nullable=False),
        sa.Column("trade", sa.Boolean(), nullable=False),
        sa.Column("detail_hash", sa.String(), nullable=False),
        *fact(),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("uuid", name="uq_person_uuid"),
    )
    op.create_index("ix_person_seq", "person", ["seq"])
    op.create_table(
        "place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("parent_id", sa.Integer()),
        sa.Column("country", sa.String()),
        sa.Column("region", sa.String()),
        sa.Column("hidden", sa.Boolean(), nullable=False),
        *fact(),
        sa.ForeignKeyConstraint(["parent_id"], ["place.id"], name="fk_place_parent_id"),
        sa.PrimaryKeyConstraint("id", name="pk_place"),
    )
    op.create_index("ix_place_seq", "place", ["seq"])
    op.create_index(
        "uq_place_key_outermost",
        "place",
        ["key"],
        unique=True,
        **where("void_seq IS NULL AND parent_id IS NULL"),
    )
    op.create_index("uq_place_key_parent", "place", ["key", "parent_id"], unique=True, **LIVE)
    op.create_table(
        "right",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("number", sa.String()),
        sa.Column("territory", sa.String(), nullable=False),
        *dated("filed"),
        *dated("earliest"),
        *dated("granted"),
        sa.Column("adjust_days", sa.Integer()),
        *dated("disclaimed"),
        *dated("stated_end"),
        sa.Column("end_source", sa.String()),
        sa.Column("group", sa.String()),
        sa.Column("source", sa.String()),
        *fact(),
        sa.PrimaryKeyConstraint("id", name="pk_right"),
    )
    op.create_index("ix_right_kind_number", "right", ["kind", "number"])
    op.create_index("ix_right_seq", "right", ["seq"])
    op.create_table(
        "right_lookup",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("territory", sa.String(), nullable=False),
        sa.Column("where_looked", sa.String(), nullable=False),
        sa.Column("found", sa.String(), nullable=False),
        sa.Column("complete", sa.Boolean(), nullable=False),
        *dated("first_sold"),
        *dated("on"),
        *fact(),
        sa.PrimaryKeyConstraint("id", name="pk_right_lookup"),
    )
    op.create_index("ix_right_lookup_key", "right_lookup", ["key"])
    op.create_index("ix_right_lookup_seq", "right_lookup", ["seq"])
    op.create_table(
        "sealed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.LargeBinary(), nullable=False),
        sa.Column("value", sa.String(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sealed"),
    )
    op.create_table(
        "series",
        sa.Column("year", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("next", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("year", name="pk_series"),
    )
    op.create_table(
        "verdict_given",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        *dated("on"),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("level", sa.String(), nullable=False),
        sa.Column("unknown", sa.String()),
        sa.Column("findings", sa.JSON(), nullable=False),
        sa.Column("anyway", sa.String()),
        sa.Column("history", sa.Boolean(), nullable=False),
        *fact(),
        sa.PrimaryKeyConstraint("id", name="pk_verdict_given"),
    )
    op.create_index("ix_verdict_given_seq", "verdict_given", ["seq"])
    op.create_table(
        "batch",
        sa.Column("accession_id", sa.Integer(), nullable=False),
        *dated("stuck"),
        sa.Column("container", sa.String()),
        sa.Column("unsaid", sa.Integer(), nullable=False),
        sa.Column("closed_seq", sa.Integer()),
        *fact(),
        sa.CheckConstraint("unsaid >= 0", name=op.f("ck_batch_never_negative")),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_batch_accession_id"),
        sa.PrimaryKeyConstraint("accession_id", name="pk_batch"),
    )
    op.create_index("ix_batch_seq", "batch", ["seq"])
    op.create_table(
        "node",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("uuid", sa.LargeBinary(length=16), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("accession_id", sa.Integer(), nullable=False),
        *dated("born"),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind IN ('plant', 'lot')", name=op.f("ck_node_kind")),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_node_accession_id"),
        sa.PrimaryKeyConstraint("id", name="pk_node"),
        sa.UniqueConstraint("code", name="uq_node_code"),
        sa.UniqueConstraint("uuid", name="uq_node_uuid"),
    )
    op.create_index("ix_node_accession_id", "node", ["accession_id"])
    op.create_index("ix_node_seq", "node", ["seq"])
    op.create_table(
        "person_detail",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.LargeBinary(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("contact", sa.String()),
        sa.Column("share", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_person_detail_person_id"),
        sa.PrimaryKeyConstraint("person_id", name="pk_person_detail"),
    )
    op.create_index("ix_person_detail_key", "person_detail", ["key"])
    op.create_table(
        "registry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uuid", sa.LargeBinary(length=16), nullable=False),
        sa.Column("format", sa.Integer(), nullable=False),
        sa.Column("number_width", sa.Integer(), nullable=False),
        sa.Column("plant_width", sa.Integer(), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=False),
        sa.Column("country", sa.String(), nullable=False),
        sa.Column("region", sa.String()),
        sa.Column("hemisphere", sa.String(), nullable=False),
        sa.Column("currency", sa.String()),
        sa.Column("began", sa.Date(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_registry_one_row")),
        sa.ForeignKeyConstraint(["grower_id"], ["person.id"], name="fk_registry_grower_id"),
        sa.PrimaryKeyConstraint("id", name="pk_registry"),
        sa.UniqueConstraint("uuid", name="uq_registry_uuid"),
    )
    op.create_table(
        "release",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uuid", sa.LargeBinary(length=16), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        sa.Column("event", sa.String()),
        *dated("on"),
        sa.Column("price", sa.String()),
        sa.Column("currency", sa.String()),
        sa.Column("price_for", sa.String()),
        sa.Column("to_place", sa.String()),
        sa.Column("purpose", sa.String(), nullable=False),
        *fact(),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_release_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_release"),
        sa.UniqueConstraint("uuid", name="uq_release_uuid"),
    )
    op.create_index("ix_release_person_id", "release", ["person_id"])
    op.create_index("ix_release_seq", "release", ["seq"])
    op.create_table(
        "right_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("right_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("final", sa.Boolean(), nullable=False),
        sa.Column("source", sa.String()),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["right_id"], ["right.id"], name="fk_right_event_right_id"),
        sa.PrimaryKeyConstraint("id", name="pk_right_event"),
    )
    op.create_index("ix_right_event_right_id", "right_event", ["right_id"])
    op.create_index("ix_right_event_seq", "right_event", ["seq"])
    op.create_table(
        "right_name",
        sa.Column("right_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["right_id"], ["right.id"], name="fk_right_name_right_id"),
        sa.PrimaryKeyConstraint("right_id", "key", name="pk_right_name"),
    )
    op.create_index("ix_right_name_key", "right_name", ["key"])
    op.create_table(
        "alias",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("issuer", sa.String()),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        *fact(),
        sa.CheckConstraint(exactly_one("node_id", "accession_id"), name=op.f("ck_alias_one_owner")),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_alias_accession_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_alias_node_id"),
        sa.PrimaryKeyConstraint("id", name="pk_alias"),
    )
    op.create_index("ix_alias_accession_id", "alias", ["accession_id"])
    op.create_index("ix_alias_key", "alias", ["key"])
    op.create_index("ix_alias_node_id", "alias", ["node_id"])
    op.create_index("ix_alias_seq", "alias", ["seq"])
    op.create_table(
        "determination",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("typed", sa.String(), nullable=False),
        sa.Column("parts", sa.JSON(), nullable=False),
        sa.Column("printed", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        sa.Column("grounds", sa.String()),
        sa.Column("sure", sa.String()),
        sa.Column("starts_line", sa.Boolean(), nullable=False),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_determination_node_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_determination_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_determination"),
    )
    op.create_index("ix_determination_key", "determination", ["key"])
    op.create_index("ix_determination_node_id", "determination", ["node_id"])
    op.create_index("ix_determination_seq", "determination", ["seq"])
    op.create_table(
        "edge",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("parent_id", sa.Integer(), nullable=False),
        sa.Column("child_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("choice", sa.Integer()),
        sa.Column("clonal", sa.Boolean(), nullable=False),
        *fact(),
        sa.CheckConstraint("parent_id <> child_id", name=op.f("ck_edge_not_itself")),
        sa.ForeignKeyConstraint(["child_id"], ["node.id"], name="fk_edge_child_id"),
        sa.ForeignKeyConstraint(["parent_id"], ["node.id"], name="fk_edge_parent_id"),
        sa.PrimaryKeyConstraint("id", name="pk_edge"),
    )
    op.create_index("ix_edge_child_parent_role", "edge", ["child_id", "parent_id", "role"], **LIVE)
    op.create_index("ix_edge_seq", "edge", ["seq"])
    op.create_index(
        "uq_edge_parent_child_role", "edge", ["parent_id", "child_id", "role"], unique=True, **LIVE
    )
    op.create_table(
        "hold",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("place_id", sa.Integer()),
        sa.Column("descent", sa.Boolean(), nullable=False),
        sa.Column("stops", sa.JSON(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("authority", sa.String()),
        *dated("from"),
        *dated("lifted"),
        sa.Column("lifted_seq", sa.Integer()),
        *fact(),
        sa.CheckConstraint(
            exactly_one("node_id", "accession_id", "place_id"), name=op.f("ck_hold_one_subject")
        ),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_hold_accession_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_hold_node_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_hold_place_id"),
        sa.PrimaryKeyConstraint("id", name="pk_hold"),
    )
    op.create_index("ix_hold_accession_id", "hold", ["accession_id"])
    op.create_index("ix_hold_node_id", "hold", ["node_id"])
    op.create_index("ix_hold_place_id", "hold", ["place_id"])
    op.create_index("ix_hold_seq", "hold", ["seq"])
    op.create_table(
        "label_print",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("stock", sa.String(), nullable=False),
        sa.Column("payload", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("text_hash", sa.String(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        *fact(),
        sa.CheckConstraint(
            exactly_one("node_id", "accession_id"), name=op.f("ck_label_print_one_owner")
        ),
        sa.ForeignKeyConstraint(
            ["accession_id"], ["accession.id"], name="fk_label_print_accession_id"
        ),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_label_print_node_id"),
        sa.PrimaryKeyConstraint("id", name="pk_label_print"),
    )
    op.create_index("ix_label_print_accession_id", "label_print", ["accession_id"])
    op.create_index("ix_label_print_node_id", "label_print", ["node_id"])
    op.create_index("ix_label_print_seq", "label_print", ["seq"])
    op.create_table(
        "line",
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("root_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_line_node_id"),
        sa.ForeignKeyConstraint(["root_id"], ["node.id"], name="fk_line_root_id"),
        sa.PrimaryKeyConstraint("node_id", "root_id", name="pk_line"),
        info={"chain": False},
        sqlite_with_rowid=False,
    )
    op.create_index("ix_line_root_id_node_id", "line", ["root_id", "node_id"])
    op.create_table(
        "lot",
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("letter", sa.String(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("wood", sa.String()),
        sa.Column("wood_stage", sa.String()),
        sa.Column("part", sa.String()),
        sa.Column("medium", sa.String()),
        sa.Column("hormone", sa.String()),
        sa.Column("ppm", sa.Integer()),
        sa.Column("cover", sa.String()),
        *dated("taken"),
        *dated("stuck"),
        sa.Column("opening_low", sa.Integer()),
        sa.Column("opening_high", sa.Integer()),
        sa.Column("opening_text", sa.String(), nullable=False),
        sa.Column("opening_kind", sa.String(), nullable=False),
        sa.Column("in_bench", sa.Integer()),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("verdict_id", sa.Integer()),
        *fact(),
        sa.CheckConstraint("in_bench >= 0", name=op.f("ck_lot_never_negative")),
        sa.ForeignKeyConstraint(["batch_id"], ["accession.id"], name="fk_lot_batch_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_lot_node_id"),
        sa.ForeignKeyConstraint(["verdict_id"], ["verdict_given.id"], name="fk_lot_verdict_id"),
        sa.PrimaryKeyConstraint("node_id", name="pk_lot"),
    )
    op.create_index("ix_lot_in_bench", "lot", ["in_bench"])
    op.create_index("ix_lot_seq", "lot", ["seq"])
    op.create_index("uq_lot_batch_letter", "lot", ["batch_id", "letter"], unique=True, **LIVE)
    op.create_table(
        "note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("person_id", sa.Integer()),
        sa.Column("place_id", sa.Integer()),
        sa.Column("text", sa.String()),
        sa.Column("sealed_id", sa.Integer()),
        sa.Column("sealed_hash", sa.String()),
        *dated("on"),
        *fact(),
        sa.CheckConstraint(
            exactly_one("node_id", "accession_id", "person_id", "place_id"),
            name=op.f("ck_note_one_subject"),
        ),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_note_accession_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_note_node_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_note_person_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_note_place_id"),
        sa.PrimaryKeyConstraint("id", name="pk_note"),
    )
    op.create_index("ix_note_accession_id", "note", ["accession_id"])
    op.create_index("ix_note_node_id", "note", ["node_id"])
    op.create_index("ix_note_seq", "note", ["seq"])
    op.create_table(
        "ownership",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        *dated("from"),
        *dated("until"),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_ownership_node_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_ownership_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_ownership"),
    )
    op.create_index("ix_ownership_node_id", "ownership", ["node_id"])
    op.create_index("ix_ownership_person_id", "ownership", ["person_id"])
    op.create_index("ix_ownership_seq", "ownership", ["seq"])
    op.create_table(
        "plant",
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("received_as", sa.String()),
        sa.Column("received_key", sa.String()),
        sa.Column("how", sa.String()),
        sa.Column("source_id", sa.Integer()),
        sa.Column("origin", sa.String(), nullable=False),
        *dated("since"),
        sa.Column("since_source", sa.String()),
        *dated("got"),
        *dated("lent_until"),
        sa.Column("position", sa.String()),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("pieces", sa.Integer()),
        sa.Column("pot", sa.String()),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("place_id", sa.Integer()),
        *dated("ended"),
        sa.Column("end_kind", sa.String()),
        sa.Column("end_reason", sa.String()),
        sa.Column("witness_id", sa.Integer()),
        *fact(),
        sa.CheckConstraint("plants >= 1", name=op.f("ck_plant_plants")),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_plant_node_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_plant_place_id"),
        sa.ForeignKeyConstraint(["source_id"], ["person.id"], name="fk_plant_source_id"),
        sa.ForeignKeyConstraint(["witness_id"], ["person.id"], name="fk_plant_witness_id"),
        sa.PrimaryKeyConstraint("node_id", name="pk_plant"),
    )
    op.create_index("ix_plant_place_status", "plant", ["place_id", "status"])
    op.create_index("ix_plant_received_key", "plant", ["received_key"])
    op.create_index("ix_plant_seq", "plant", ["seq"])
    op.create_table(
        "question",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("verdict_id", sa.Integer()),
        sa.Column("row", sa.String(), nullable=False),
        sa.Column("asks", sa.String()),
        sa.Column("settled_seq", sa.Integer()),
        sa.Column("how", sa.String()),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_question_node_id"),
        sa.ForeignKeyConstraint(
            ["verdict_id"], ["verdict_given.id"], name="fk_question_verdict_id"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_question"),
    )
    op.create_index("ix_question_node_id_row", "question", ["node_id", "row"], **LIVE)
    op.create_index("ix_question_seq", "question", ["seq"])
    op.create_table(
        "receipt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        sa.Column("release_id", sa.Integer()),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_receipt_person_id"),
        sa.ForeignKeyConstraint(["release_id"], ["release.id"], name="fk_receipt_release_id"),
        sa.PrimaryKeyConstraint("id", name="pk_receipt"),
    )
    op.create_index("ix_receipt_person_id", "receipt", ["person_id"])
    op.create_index("ix_receipt_seq", "receipt", ["seq"])
    op.create_table(
        "stay",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("place_id", sa.Integer(), nullable=False),
        *dated("from"),
        *dated("until"),
        *fact(),
        sa.CheckConstraint(exactly_one("node_id", "accession_id"), name=op.f("ck_stay_one_owner")),
        sa.ForeignKeyConstraint(["accession_id"], ["accession.id"], name="fk_stay_accession_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_stay_node_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_stay_place_id"),
        sa.PrimaryKeyConstraint("id", name="pk_stay"),
    )
    op.create_index("ix_stay_accession_id", "stay", ["accession_id"])
    op.create_index("ix_stay_node_id", "stay", ["node_id"])
    op.create_index("ix_stay_place_id_from_first", "stay", ["place_id", "from_first"])
    op.create_index("ix_stay_seq", "stay", ["seq"])
    op.create_table(
        "consent",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        sa.Column("as_role", sa.String()),
        sa.Column("plant_id", sa.Integer()),
        sa.Column("lot_id", sa.Integer()),
        sa.Column("right_id", sa.Integer()),
        sa.Column("territory", sa.String()),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("said", sa.String()),
        sa.Column("by_word", sa.String()),
        sa.Column("covers_taken", sa.Boolean(), nullable=False),
        sa.Column("with_taking", sa.Boolean(), nullable=False),
        sa.Column("notice", sa.String()),
        *dated("from"),
        *dated("until"),
        *dated("withdrawn"),
        *fact(),
        sa.CheckConstraint(
            exactly_one("plant_id", "lot_id", "right_id"), name=op.f("ck_consent_one_subject")
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.node_id"], name="fk_consent_lot_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_consent_person_id"),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.node_id"], name="fk_consent_plant_id"),
        sa.ForeignKeyConstraint(["right_id"], ["right.id"], name="fk_consent_right_id"),
        sa.PrimaryKeyConstraint("id", name="pk_consent"),
    )
    op.create_index("ix_consent_lot_id", "consent", ["lot_id"])
    op.create_index("ix_consent_person_id", "consent", ["person_id"])
    op.create_index("ix_consent_plant_id", "consent", ["plant_id"])
    op.create_index("ix_consent_right_id", "consent", ["right_id"])
    op.create_index("ix_consent_seq", "consent", ["seq"])
    op.create_table(
        "ledger_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer()),
        sa.Column("batch_id", sa.Integer()),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("other_lot_id", sa.Integer()),
        sa.Column("reason", sa.String()),
        *dated("on"),
        *fact(),
        sa.CheckConstraint(
            exactly_one("lot_id", "batch_id"), name=op.f("ck_ledger_entry_one_subject")
        ),
        sa.CheckConstraint("n <> 0", name=op.f("ck_ledger_entry_not_zero")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.accession_id"], name="fk_ledger_entry_batch_id"
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.node_id"], name="fk_ledger_entry_lot_id"),
        sa.ForeignKeyConstraint(
            ["other_lot_id"], ["lot.node_id"], name="fk_ledger_entry_other_lot_id"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_ledger_entry"),
    )
    op.create_index("ix_ledger_entry_batch_id", "ledger_entry", ["batch_id"])
    op.create_index("ix_ledger_entry_lot_id", "ledger_entry", ["lot_id"])
    op.create_index("ix_ledger_entry_seq", "ledger_entry", ["seq"])
    op.create_table(
        "look",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer()),
        sa.Column("batch_id", sa.Integer()),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("low", sa.Integer()),
        sa.Column("high", sa.Integer()),
        sa.Column("text", sa.String(), nullable=False),
        *dated("on"),
        *fact(),
        sa.CheckConstraint(exactly_one("lot_id", "batch_id"), name=op.f("ck_look_one_subject")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.accession_id"], name="fk_look_batch_id"),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.node_id"], name="fk_look_lot_id"),
        sa.PrimaryKeyConstraint("id", name="pk_look"),
    )
    op.create_index("ix_look_batch_id", "look", ["batch_id"])
    op.create_index("ix_look_lot_id", "look", ["lot_id"])
    op.create_index("ix_look_seq", "look", ["seq"])
    op.create_table(
        "loss",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("how", sa.String(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String()),
        *dated("on"),
        *fact(),
        sa.CheckConstraint("n >= 1", name=op.f("ck_loss_some")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.node_id"], name="fk_loss_lot_id"),
        sa.PrimaryKeyConstraint("id", name="pk_loss"),
    )
    op.create_index("ix_loss_lot_id", "loss", ["lot_id"])
    op.create_index("ix_loss_seq", "loss", ["seq"])
    op.create_table(
        "receipt_item",
        sa.Column("receipt_id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_receipt_item_node_id"),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name="fk_receipt_item_receipt_id"),
        sa.PrimaryKeyConstraint("receipt_id", "node_id", name="pk_receipt_item"),
    )
    op.create_index("ix_receipt_item_node_id", "receipt_item", ["node_id"])
    op.create_table(
        "release_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("release_id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("lot_id", sa.Integer()),
        sa.Column("batch_id", sa.Integer()),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("verdict_id", sa.Integer()),
        *fact(),
        sa.CheckConstraint(
            exactly_one("node_id", "lot_id", "batch_id"), name=op.f("ck_release_item_one_subject")
        ),
        sa.CheckConstraint("n >= 1", name=op.f("ck_release_item_some")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.accession_id"], name="fk_release_item_batch_id"
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.node_id"], name="fk_release_item_lot_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_release_item_node_id"),
        sa.ForeignKeyConstraint(["release_id"], ["release.id"], name="fk_release_item_release_id"),
        sa.ForeignKeyConstraint(
            ["verdict_id"], ["verdict_given.id"], name="fk_release_item_verdict_id"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_release_item"),
    )
    op.create_index("ix_release_item_batch_id", "release_item", ["batch_id"])
    op.create_index("ix_release_item_lot_id", "release_item", ["lot_id"])
    op.create_index("ix_release_item_node_id", "release_item", ["node_id"])
    op.create_index("ix_release_item_seq", "release_item", ["seq"])
    op.create_index(
        "uq_release_item_release_node",
        "release_item",
        ["release_id", "node_id"],
        unique=True,
        **LIVE,
    )
    op.create_table(
        "attachment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blob_sha256", sa.String(), nullable=False),
        sa.Column("filename", sa.String(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("accession_id", sa.Integer()),
        sa.Column("person_id", sa.Integer()),
        sa.Column("consent_id", sa.Integer()),
        sa.Column("right_id", sa.Integer()),
        *fact(),
        sa.CheckConstraint(
            exactly_one("node_id", "accession_id", "person_id", "consent_id", "right_id"),
            name=op.f("ck_attachment_one_subject"),
        ),
        sa.ForeignKeyConstraint(
            ["accession_id"], ["accession.id"], name="fk_attachment_accession_id"
        ),
        sa.ForeignKeyConstraint(["blob_sha256"], ["blob.sha256"], name="fk_attachment_blob_sha256"),
        sa.ForeignKeyConstraint(["consent_id"], ["consent.id"], name="fk_attachment_consent_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_attachment_node_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_attachment_person_id"),
        sa.ForeignKeyConstraint(["right_id"], ["right.id"], name="fk_attachment_right_id"),
        sa.PrimaryKeyConstraint("id", name="pk_attachment"),
    )
    op.create_index("ix_attachment_node_id", "attachment", ["node_id"])
    op.create_index("ix_attachment_seq", "attachment", ["seq"])
    op.create_table(
        "consent_act",
        sa.Column("consent_id", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        sa.Column("allowed", sa.Boolean(), nullable=False),
        sa.Column("limit_n", sa.Integer()),
        sa.Column("limit_unit", sa.String()),
        sa.Column("limit_per", sa.String()),
        sa.Column("royalty", sa.String()),
        sa.Column("currency", sa.String()),
        sa.CheckConstraint("limit_n > 0", name=op.f("ck_consent_act_limit_positive")),
        sa.ForeignKeyConstraint(["consent_id"], ["consent.id"], name="fk_consent_act_consent_id"),
        sa.PrimaryKeyConstraint("consent_id", "act", name="pk_consent_act"),
    )
    op.create_table(
        "consent_use",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("consent_id", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("n", sa.Integer()),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["consent_id"], ["consent.id"], name="fk_consent_use_consent_id"),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_consent_use_node_id"),
        sa.PrimaryKeyConstraint("id", name="pk_consent_use"),
    )
    op.create_index("ix_consent_use_consent_id_act", "consent_use", ["consent_id", "act"])
    op.create_index("ix_consent_use_node_id", "consent_use", ["node_id"])
    op.create_index("ix_consent_use_seq", "consent_use", ["seq"])
    op.execute(
        sa.table("chain_head", sa.column("id"), sa.column("seq"), sa.column("hash"))
        .insert()
        .values(id=1, seq=0, hash="0" * 64)
    )


def downgrade() -> None:
    for name in reversed(TABLES):
        op.drop_table(name)
