"""Rules of a place on plants, and what came with a plant.

Revision 0004, after 0003.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

FACTS = ("restriction", "restriction_list", "particular")


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
        "restriction",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("taxon", sa.String(), nullable=False),
        sa.Column("genus", sa.String(), nullable=False),
        sa.Column("species", sa.String(), nullable=False),
        sa.Column("rank", sa.String(), nullable=False),
        sa.Column("territory", sa.String(), nullable=False),
        sa.Column("region", sa.String()),
        sa.Column("private_too", sa.Boolean(), nullable=False),
        sa.Column("citation", sa.String(), nullable=False),
        sa.Column("exempt", sa.JSON(), nullable=False),
        *dated("since"),
        *dated("until"),
        *fact(),
        sa.CheckConstraint("rank IN ('species', 'genus', 'all')", name=op.f("ck_restriction_rank")),
        sa.PrimaryKeyConstraint("id", name="pk_restriction"),
    )
    op.create_index("ix_restriction_genus", "restriction", ["genus"])
    op.create_table(
        "restriction_act",
        sa.Column("restriction_id", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        sa.Column("effect", sa.String(), nullable=False),
        sa.CheckConstraint("effect IN ('bars', 'permit')", name=op.f("ck_restriction_act_effect")),
        sa.ForeignKeyConstraint(
            ["restriction_id"], ["restriction.id"], name="fk_restriction_act_restriction_id"
        ),
        sa.PrimaryKeyConstraint("restriction_id", "act", name="pk_restriction_act"),
    )
    op.create_table(
        "restriction_list",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("territory", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        *dated("on"),
        *fact(),
        sa.PrimaryKeyConstraint("id", name="pk_restriction_list"),
    )
    op.create_table(
        "particular",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("value", sa.String()),
        sa.Column("said", sa.String()),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_particular_node_id"),
        sa.PrimaryKeyConstraint("id", name="pk_particular"),
    )
    op.create_index("ix_particular_node_id", "particular", ["node_id"])
    for table in FACTS:
        op.create_index(f"ix_{table}_seq", table, ["seq"])


def downgrade() -> None:
    for name in ("particular", "restriction_list", "restriction_act", "restriction"):
        op.drop_table(name)
