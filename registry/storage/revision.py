"""The newest revision of the tables, known without loading Alembic (start-up is felt)."""

HEAD = "0001"
"""The revision this program reads and writes; a test holds it against `migrations/`."""

KNOWN = ("0001",)
"""Every revision that ever landed, oldest first."""
