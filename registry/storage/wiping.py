"""Having the engine forget what was emptied: its pages, and what it keeps beside them."""

from __future__ import annotations

from contextlib import closing

from registry.errors import RegistryLocked
from registry.location import Server
from registry.storage.engine import Opened, translated

EMPTIED = ("person_detail", "sealed", "blob")
"""The tables whose values can be emptied."""


def wipe(opened: Opened) -> None:
    """Write the registry anew without what it does not hold any more.

    Neither engine overwrites what a row held before. SQLite's VACUUM writes every page anew, and
    the write-ahead log is cut to nothing after it (SQLite, "VACUUM" and "Write-Ahead Logging");
    PostgreSQL's VACUUM FULL writes the tables anew (PostgreSQL, "VACUUM").

    Raises:
        RegistryLocked: somebody is using the registry; nothing was forgotten, and it can be done
            later.
        StorageFull: there is no room for writing it anew.
    """
    if isinstance(opened.path, Server):
        engine = opened.engine.execution_options(isolation_level="AUTOCOMMIT")
        with translated(opened.path), engine.connect() as connection:
            for table in EMPTIED:
                connection.exec_driver_sql(f"VACUUM (FULL) {table}")
        return
    with translated(opened.path), closing(opened.engine.raw_connection()) as raw:
        driver = raw.driver_connection
        assert driver is not None  # noqa: S101 - tells the type checker: it was just opened
        driver.execute("VACUUM")
        busy, *_ = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy:
            raise RegistryLocked(opened.path)
