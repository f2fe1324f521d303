"""Knives, secateurs and trays: what each was used on, and when it was disinfected.

Revision 0007, after 0006.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
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
        "tool",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind IN ('tool', 'tray')", name=op.f("ck_tool_kind")),
        sa.PrimaryKeyConstraint("id", name="pk_tool"),
        sa.UniqueConstraint("kind", "key", name="uq_tool_kind_key"),
    )
    op.create_table(
        "tool_use",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tool_id", sa.Integer(), nullable=False),
        sa.Column("node_id", sa.Integer(), nullable=False),
        sa.Column("cleaned", sa.Boolean(), nullable=False),
        sa.Column("sure", sa.Boolean(), nullable=False),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["node_id"], ["node.id"], name="fk_tool_use_node_id"),
        sa.ForeignKeyConstraint(["tool_id"], ["tool.id"], name="fk_tool_use_tool_id"),
        sa.PrimaryKeyConstraint("id", name="pk_tool_use"),
    )
    op.create_index("ix_tool_use_node_id", "tool_use", ["node_id"])
    op.create_index("ix_tool_use_tool_id_on_first", "tool_use", ["tool_id", "on_first"])
    op.create_table(
        "tool_cleaning",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tool_id", sa.Integer(), nullable=False),
        *dated("on"),
        *fact(),
        sa.ForeignKeyConstraint(["tool_id"], ["tool.id"], name="fk_tool_cleaning_tool_id"),
        sa.PrimaryKeyConstraint("id", name="pk_tool_cleaning"),
    )
    op.create_index("ix_tool_cleaning_tool_id", "tool_cleaning", ["tool_id"])
    for table in ("tool", "tool_use", "tool_cleaning"):
        op.create_index(f"ix_{table}_seq", table, ["seq"])


def downgrade() -> None:
    for name in ("tool_cleaning", "tool_use", "tool"):
        op.drop_table(name)
