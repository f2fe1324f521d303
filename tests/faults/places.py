"""Where the registries of these runs stand, and what is asked of one after a fault."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner
from sqlalchemy import select

from registry.cli.app import App, main_command
from registry.clock import fixed_clock
from registry.ids import uuid7
from registry.location import Location, Server
from registry.storage.engine import open_registry, reading
from registry.storage.models import ChainEntry
from registry.storage.verify import verify
from registry.wording.storage import fault
from tests import homes
from tests.conftest import MOMENT

REGISTRY = "registry.sqlite"
"""The name of a registry in the folder of a run."""


ENGINES_OWN = (
    "amcheck's checks of every index and table"
    if homes.SERVER
    else "integrity_check and foreign_key_check"
)
"""The database's own checks, in words."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a command came to.

    Attributes:
        exit: its exit code.
        entry: the number of the entry it began, if it began one.
        out, err: what it said.
    """

    exit: int
    entry: int | None
    out: str
    err: str


@dataclass(frozen=True, slots=True)
class Place:
    """A registry of a run's own."""

    path: Location

    @property
    def file(self) -> Path:
        """The file of a registry that is in one."""
        assert isinstance(self.path, Path)
        return self.path

    def run(self, *words: str) -> Said:
        """Run a command in this process; an error that is not one of ours is raised."""
        app = App(self.path, clock=fixed_clock(MOMENT), new_id=uuid7, interactive=False)
        result = CliRunner().invoke(main_command, list(words), obj=app)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Said(result.exit_code, app.entry, result.stdout, result.stderr)

    def hashes(self) -> dict[int, str]:
        """The hash of each entry of the chain, by its number."""
        opened = open_registry(self.path)
        with reading(opened.engine, self.path) as session:
            return dict(session.execute(select(ChainEntry.seq, ChainEntry.hash)).all())

    def hash_of(self, seq: int) -> str:
        """The hash of an entry that stands."""
        opened = open_registry(self.path)
        with reading(opened.engine, self.path) as session:
            return session.execute(
                select(ChainEntry.hash).where(ChainEntry.seq == seq)
            ).scalar_one()

    def check(self) -> None:
        """Hold the registry to its own check and to the database's.

        Raises:
            AssertionError: something is not as it was recorded.
        """
        opened = open_registry(self.path)
        report = verify(opened.engine, self.path)
        assert report.ok, [fault(problem) for problem in report.problems[:5]]
        if isinstance(self.path, Server):
            check_server(self.path)
        else:
            check_sqlite(self.path)


def check_sqlite(path: Path) -> None:
    """SQLite's own checks of a file (PRAGMA integrity_check, PRAGMA foreign_key_check)."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def check_server(server: Server) -> None:
    """PostgreSQL's own checks of its files, by its module amcheck: what pg_amcheck runs."""
    import psycopg

    with psycopg.connect(server.url) as connection:
        connection.execute("CREATE EXTENSION IF NOT EXISTS amcheck")
        connection.execute(
            "SELECT bt_index_check(indexrelid, true) FROM pg_index"
            " JOIN pg_class ON pg_class.oid = indexrelid"
            " JOIN pg_am ON pg_am.oid = relam AND amname = 'btree'"
            " WHERE relnamespace = 'public'::regnamespace"
        )
        found = connection.execute(
            "SELECT relname, said.msg FROM pg_class, verify_heapam(pg_class.oid) AS said"
            " WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace"
        ).fetchall()
        connection.rollback()
    assert found == []


def anywhere(folder: Path) -> Place:
    """A new registry in `folder`, or on the server for tests if there is one."""
    return fresh(folder, homes.empty(folder / REGISTRY))


def fresh(folder: Path, location: Location | None = None) -> Place:
    """A new registry in the file of `folder`, or where `location` says."""
    place = Place(location or folder / REGISTRY)
    said = place.run(
        "init", "--grower", "Jo Field", "--country", "US", "--region", "US-OR",
        "--began", "2015-01-01",
    )  # fmt: skip
    assert said.exit == 0, said.err
    return place
