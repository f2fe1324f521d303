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
from registry.storage.engine import open_registry, reading
from registry.storage.models import ChainEntry
from registry.storage.verify import verify
from registry.wording.storage import fault
from tests.conftest import MOMENT

REGISTRY = "registry.sqlite"
"""The name of a registry in the folder of a run."""


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

    path: Path

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
        check_sqlite(self.path)


def check_sqlite(path: Path) -> None:
    """SQLite's own checks of a file (PRAGMA integrity_check, PRAGMA foreign_key_check)."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def fresh(folder: Path) -> Place:
    """A new registry in `folder`."""
    place = Place(folder / REGISTRY)
    said = place.run(
        "init", "--grower", "Jo Field", "--country", "US", "--region", "US-OR",
        "--began", "2015-01-01",
    )  # fmt: skip
    assert said.exit == 0, said.err
    return place
