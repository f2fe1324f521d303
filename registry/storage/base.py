"""What all tables share: named constraints, column types and the shape of a dated fact."""

from __future__ import annotations

import json
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Date, Index, LargeBinary, MetaData, String, text
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import Composite, DeclarativeBase, Mapped, composite, mapped_column
from sqlalchemy.types import TypeDecorator

from registry.domain.dates import FuzzyDate

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class UuidBytes(TypeDecorator[UUID]):
    """A UUID as 16 bytes: half the size of text, and version 7 keeps its order."""

    impl = LargeBinary(16)
    cache_ok = True

    def process_bind_param(self, value: UUID | None, dialect: Dialect) -> bytes | None:
        """A UUID in, 16 bytes out."""
        return None if value is None else value.bytes

    def process_result_value(self, value: bytes | None, dialect: Dialect) -> UUID | None:
        """16 bytes in, a UUID out."""
        return None if value is None else UUID(bytes=bytes(value))


class Day(TypeDecorator[date]):
    """A calendar day; statements written as text get it as ISO 8601 text from every engine."""

    impl = Date
    cache_ok = True

    def process_result_value(self, value: date | str | None, dialect: Dialect) -> date | None:
        """A day, or its text, in; a day out."""
        return date.fromisoformat(value) if isinstance(value, str) else value


class Structure(TypeDecorator[Any]):
    """A JSON object or array; statements written as text get its text from every engine."""

    impl = JSON
    cache_ok = True

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:
        """An object or array, or its text, in; an object or array out."""
        return json.loads(value) if isinstance(value, str) else value


class Base(DeclarativeBase):
    """The base of every row."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy's own hook
        UUID: UuidBytes,
        date: Day,
        dict[str, Any]: Structure,
        list[Any]: Structure,
    }


class Fact:
    """A row that says something: which entry of the chain recorded it, and which took it back."""

    seq: Mapped[int] = mapped_column(index=True)
    void_seq: Mapped[int | None] = mapped_column(default=None)


def live_index(name: str, *columns: str, unique: bool = False, where: str = "") -> Index:
    """An index over the facts that stand (were not taken back), and where `where` holds."""
    live = text("void_seq IS NULL" + (f" AND {where}" if where else ""))
    # Naming another database's dialect here would load it at every start.
    return Index(name, *columns, unique=unique, sqlite_where=live)


def dated(name: str) -> Composite[FuzzyDate | None]:
    """A date as said, in four columns: EDTF text, first and last possible day, the words typed.

    A bound that is open is NULL; the words are NULL where they say the same as the EDTF text.
    Where nothing was said all four are NULL and the attribute is None.
    """
    return composite(
        FuzzyDate,
        mapped_column(f"{name}_edtf", String, nullable=True),
        mapped_column(f"{name}_first", Day, nullable=True),
        mapped_column(f"{name}_last", Day, nullable=True),
        mapped_column(f"{name}_said", String, nullable=True),
        return_none_on=lambda edtf, *rest: edtf is None,
    )
