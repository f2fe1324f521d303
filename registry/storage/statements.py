"""Statements written in SQL that are put again and again."""

from __future__ import annotations

from sqlalchemy import TextualSelect, column, text


def statement(columns: int, sql: str) -> TextualSelect:
    """A statement whose rows have so many columns.

    SQLAlchemy keeps what it works out of them only where it was told so beforehand; otherwise it
    reads the cursor's description at every call, which takes longer than most of our questions.
    """
    return text(sql).columns(*(column(f"column_{n}") for n in range(columns)))
