"""How far a name was verified, as it was said; what a receiver was told. Words by new keys.

Revision 0008, after 0007.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from registry.storage import search

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

WORDS = (
    ("determination", "verified"),
    ("identity_check", "verified"),
    ("identity_check", "name"),
    ("release_item", "name"),
    ("release_item", "verified"),
)
"""Columns of words that are added: (table, column). Empty in rows from before."""


def upgrade() -> None:
    for table, name in WORDS:
        op.add_column(table, sa.Column(name, sa.String()))
    _index_anew()


def _index_anew() -> None:
    """The index of words with one letter as a beginning, too, and the words by today's rules."""
    index = search.index_of(op.get_bind())
    op.execute(index.drop)
    op.execute(index.create)
    search.rebuild(op.get_bind())


def downgrade() -> None:
    for table, name in reversed(WORDS):
        op.drop_column(table, name)
