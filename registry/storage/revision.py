"""The revisions of the tables, known without loading Alembic (start-up is felt)."""

KNOWN = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009")
"""Every revision that ever landed, oldest first; a test holds them against `migrations/`."""

HEAD = KNOWN[-1]
"""The revision this program reads and writes."""
