"""Records by the names that a grower knows them by, for what is said of them in a check."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Table

from registry.domain.codes import Code, CodeWidths
from registry.errors import RegistryError
from registry.storage.base import Base
from registry.storage.rebuild import quoted

_NODES = ("node_id", "lot_id", "plant_id", "child_id")
_ACCESSIONS = ("accession_id", "batch_id")


class Named:
    """Names of the records of the registry that a connection has open."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def node(self, node_id: int) -> str:
        """The code of a plant or lot."""
        row = self._connection.execute("SELECT code FROM node WHERE id = ?", (node_id,)).fetchone()
        return str(row[0]) if row else f"node {node_id}"

    def accession(self, accession_id: int) -> str:
        """The code of a batch or founder."""
        row = self._connection.execute(
            "SELECT year, number FROM accession WHERE id = ?", (accession_id,)
        ).fetchone()
        given = self._connection.execute(
            "SELECT number_width, plant_width FROM registry"
        ).fetchone()
        if row is None:
            return f"accession {accession_id}"
        try:
            return Code(row[0] % 100, row[1], widths=CodeWidths(*(given or ()))).text
        except (RegistryError, TypeError, ValueError):  # the number or the widths were changed
            return f"accession {accession_id}"

    def row(self, table: str, *key: Any) -> str:
        """A row of a table by its kind and key: `consent 12`."""
        return f"{table.replace('_', ' ')} {' '.join(str(part) for part in key)}"

    def values(self, table: Table, key: tuple[Any, ...], row: Mapping[str, Any]) -> str:
        """A row by the code of what it is about, as far as it is about something.

        `26-0014A-7` for a lot, `ledger entry 5 of 26-0014A-7` for what belongs to it.
        """
        if table.name == "node":
            return str(row["code"])
        if table.name == "accession":
            return self.accession(key[0])
        about = next(
            (self.node(row[column]) for column in _NODES if row.get(column) is not None), None
        ) or next(
            (self.accession(row[column]) for column in _ACCESSIONS if row.get(column) is not None),
            None,
        )
        if about and table.name in ("plant", "lot", "batch"):
            return about
        shown = self.row(table.name, *key)
        return f"{shown} of {about}" if about else shown

    def by_rowid(self, table: str, rowid: int | None) -> str:
        """A row as SQLite numbers it; tables without such numbers give None."""
        known = Base.metadata.tables.get(table)
        if known is None or rowid is None:
            return self.row(table)
        names = [column.name for column in known.columns if column.name != "bytes"]
        columns = ", ".join(map(quoted, names))
        found = self._connection.execute(
            f"SELECT {columns} FROM {quoted(table)} WHERE rowid = ?",  # noqa: S608 - quoted
            (rowid,),
        ).fetchone()
        if found is None:
            return self.row(table, rowid)
        row = dict(zip(names, found, strict=True))
        return self.values(known, tuple(row[c.name] for c in known.primary_key), row)
