"""A plant without a name of its own begins no line: a rootstock without one did.

Revision 0009, after 0008.
"""

from __future__ import annotations

from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Lines are worked out from edges and names and stand outside the chain: no entry is due.
    op.execute(
        """
        DELETE FROM line WHERE
            NOT EXISTS (
                SELECT 1 FROM plant WHERE plant.node_id = line.root_id
                    AND plant.received_as IS NOT NULL AND plant.void_seq IS NULL)
            AND NOT EXISTS (
                SELECT 1 FROM determination WHERE determination.node_id = line.root_id
                    AND determination.void_seq IS NULL)
        """
    )


def downgrade() -> None:
    pass  # the program before takes either for right
