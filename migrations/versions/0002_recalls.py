"""Recalls: what was exposed, what became of each, and the holds laid meanwhile.

Revision 0002, after 0001.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


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
        "recall",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uuid", sa.LargeBinary(length=16), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("subject", sa.String(), nullable=False),
        sa.Column("place_id", sa.Integer()),
        sa.Column("person_id", sa.Integer()),
        *dated("on"),
        sa.Column("steps", sa.Integer(), nullable=False),
        sa.Column("back", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        *dated("opened"),
        *dated("closed"),
        sa.Column("closed_seq", sa.Integer()),
        sa.Column("finding", sa.String()),
        *fact(),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_recall_person_id"),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_recall_place_id"),
        sa.PrimaryKeyConstraint("id", name="pk_recall"),
        sa.UniqueConstraint("uuid", name="uq_recall_uuid"),
    )
    op.create_index("ix_recall_seq", "recall", ["seq"])
    op.create_table(
        "recall_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer()),
        sa.Column("release_item_id", sa.Integer()),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("via_id", sa.Integer()),
        sa.Column("widened", sa.JSON(), nullable=False),
        *fact(),
        sa.CheckConstraint(
            "(node_id IS NOT NULL) + (release_item_id IS NOT NULL) = 1",
            name=op.f("ck_recall_item_one_subject"),
        ),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_recall_item_node_id"),
        sa.ForeignKeyConstraint(["recall_id"], ["recall.id"], name="fk_recall_item_recall_id"),
        sa.ForeignKeyConstraint(
            ["release_item_id"], ["release_item.id"], name="fk_recall_item_release_item_id"
        ),
        sa.ForeignKeyConstraint(["via_id"], ["node.id"], name="fk_recall_item_via_id"),
        sa.PrimaryKeyConstraint("id", name="pk_recall_item"),
    )
    op.create_index("ix_recall_item_node_id", "recall_item", ["node_id"])
    op.create_index("ix_recall_item_recall_id_line", "recall_item", ["recall_id", "line"])
    op.create_index("ix_recall_item_seq", "recall_item", ["seq"])
    op.create_table(
        "recall_tick",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("n", sa.Integer()),
        sa.Column("note", sa.String()),
        *dated("on"),
        *fact(),
        sa.CheckConstraint("n >= 1", name=op.f("ck_recall_tick_some")),
        sa.ForeignKeyConstraint(["item_id"], ["recall_item.id"], name="fk_recall_tick_item_id"),
        sa.PrimaryKeyConstraint("id", name="pk_recall_tick"),
    )
    op.create_index("ix_recall_tick_item_id", "recall_tick", ["item_id"])
    op.create_index("ix_recall_tick_seq", "recall_tick", ["seq"])
    op.create_table(
        "recall_hold",
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("hold_id", sa.Integer(), nullable=False),
        *fact(),
        sa.ForeignKeyConstraint(["hold_id"], ["hold.id"], name="fk_recall_hold_hold_id"),
        sa.ForeignKeyConstraint(["recall_id"], ["recall.id"], name="fk_recall_hold_recall_id"),
        sa.PrimaryKeyConstraint("recall_id", "hold_id", name="pk_recall_hold"),
    )
    op.create_index("ix_recall_hold_seq", "recall_hold", ["seq"])


def downgrade() -> None:
    for name in ("recall_hold", "recall_tick", "recall_item", "recall"):
        op.drop_table(name)
