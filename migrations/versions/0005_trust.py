"""What was emptied for good, and where the newest whole check ended.

Revision 0005, after 0004.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "blanking",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer()),
        sa.Column("note_id", sa.Integer()),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("void_seq", sa.Integer()),
        sa.CheckConstraint(
            "(person_id IS NOT NULL) + (note_id IS NOT NULL) = 1",
            name=op.f("ck_blanking_one_subject"),
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_blanking_person_id"),
        sa.ForeignKeyConstraint(["note_id"], ["note.id"], name="fk_blanking_note_id"),
        sa.PrimaryKeyConstraint("id", name="pk_blanking"),
    )
    op.create_index("ix_blanking_person_id", "blanking", ["person_id"])
    op.create_index("ix_blanking_note_id", "blanking", ["note_id"])
    op.create_index("ix_blanking_seq", "blanking", ["seq"])
    op.create_table(
        "checked",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_checked_one_row")),
        sa.PrimaryKeyConstraint("id", name="pk_checked"),
    )


def downgrade() -> None:
    op.drop_table("checked")
    op.drop_table("blanking")
