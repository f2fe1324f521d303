"""What verdicts ask for: sell-off, credit, pledges, sites, demands of a country, orders.

Revision 0006, after 0005.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
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


WORDS = (
    ("consent", "credit"),
    ("consent", "pledge"),
    ("right_lookup", "pledge"),
    ("plant", "under_order"),
    ("loss", "under_order"),
)
"""Columns of words that are added: (table, column)."""


def upgrade() -> None:
    for table, name in WORDS:
        op.add_column(table, sa.Column(name, sa.String()))
    for column in dated("sell_off"):
        op.add_column("consent", column)
    with op.batch_alter_table("loss") as loss:
        loss.add_column(sa.Column("witness_id", sa.Integer()))
        loss.create_foreign_key("fk_loss_witness_id", "person", ["witness_id"], ["id"])
    op.create_table(
        "restriction_site",
        sa.Column("restriction_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["restriction_id"], ["restriction.id"], name="fk_restriction_site_restriction_id"
        ),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name="fk_restriction_site_place_id"),
        sa.PrimaryKeyConstraint("restriction_id", "place_id", name="pk_restriction_site"),
    )
    op.create_table(
        "demand",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("territory", sa.String(), nullable=False),
        sa.Column("taxon", sa.String()),
        sa.Column("permit", sa.Boolean()),
        sa.Column("said", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        *dated("on"),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("void_seq", sa.Integer(), nullable=True),
        sa.CheckConstraint("about IN ('plants', 'seed', 'crop')", name=op.f("ck_demand_about")),
        sa.PrimaryKeyConstraint("id", name="pk_demand"),
    )
    op.create_index("ix_demand_seq", "demand", ["seq"])


def downgrade() -> None:
    for name in ("demand", "restriction_site"):
        op.drop_table(name)
    with op.batch_alter_table("loss") as loss:
        loss.drop_constraint("fk_loss_witness_id", type_="foreignkey")
        loss.drop_column("witness_id")
    for column in dated("sell_off"):
        op.drop_column("consent", column.name)
    for table, name in reversed(WORDS):
        op.drop_column(table, name)
