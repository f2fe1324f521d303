"""Names that are searched for, checked, marked and put right.

Revision 0003, after 0002.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from registry.storage import search

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TABLES = ("trait", "identity_check", "same_plant", "stray_tag")


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


def upgrade() -> None:
    op.create_table(
        "trait",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        *dated("on"),
        *fact(),
        sa.CheckConstraint("kind IN ('chimera', 'orphan', 'no tag')", name=op.f("ck_trait_kind")),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_trait_node_id"),
        sa.PrimaryKeyConstraint("id", name="pk_trait"),
    )
    op.create_table(
        "identity_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("grounds", sa.String()),
        sa.Column("person_id", sa.Integer()),
        *dated("on"),
        *fact(),
        sa.CheckConstraint(
            "outcome IN ('confirmed', 'contradicted', 'unproven')",
            name=op.f("ck_identity_check_outcome"),
        ),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_identity_check_node_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_identity_check_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_identity_check"),
    )
    op.create_table(
        "same_plant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("one_id", sa.Integer(), nullable=False),
        sa.Column("other_id", sa.Integer(), nullable=False),
        *dated("on"),
        *fact(),
        sa.CheckConstraint("one_id < other_id", name=op.f("ck_same_plant_in_order")),
        sa.ForeignKeyConstraint(["one_id"], ["node.id"], name="fk_same_plant_one_id"),
        sa.ForeignKeyConstraint(["other_id"], ["node.id"], name="fk_same_plant_other_id"),
        sa.PrimaryKeyConstraint("id", name="pk_same_plant"),
    )
    op.create_index(
        "uq_same_plant_one_other",
        "same_plant",
        ["one_id", "other_id"],
        unique=True,
        sqlite_where=sa.text("void_seq IS NULL"),
        postgresql_where=sa.text("void_seq IS NULL"),
    )
    op.create_index("ix_same_plant_other_id", "same_plant", ["other_id"])
    op.create_table(
        "stray_tag",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("place_id", sa.Integer()),
        sa.Column("node_id", sa.Integer()),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_stray_tag_node_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_stray_tag_place_id"),
        sa.PrimaryKeyConstraint("id", name="pk_stray_tag"),
    )
    for table in ("trait", "identity_check", "stray_tag"):
        op.create_index(f"ix_{table}_node_id", table, ["node_id"])
    for table in TABLES:
        op.create_index(f"ix_{table}_seq", table, ["seq"])
    op.create_index("ix_plant_source_id", "plant", ["source_id"])
    op.execute(search.index_of(op.get_bind()).create)
    search.rebuild(op.get_bind())


def downgrade() -> None:
    op.execute(search.index_of(op.get_bind()).drop)
    op.drop_index("ix_plant_source_id", "plant")
    for name in reversed(TABLES):
        op.drop_table(name)
