"""The command as a grower types it, on a registry and a clock of the test's own."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from registry.cli.app import App, main_command
from registry.clock import Clock, fixed_clock
from registry.ids import NewId, uuid7
from tests.conftest import MOMENT


@dataclass(frozen=True)
class Answer:
    """What a command answered."""

    exit: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@dataclass
class Ortet:
    """Runs `ortet` on `path`; `expect` is the exit code with which it must end."""

    path: Path
    clock: Clock
    new_id: NewId

    def __call__(
        self, *arguments: object, expect: int = 0, typed: str | None = None, **app: Any
    ) -> Answer:
        obj = App(
            self.path, clock=self.clock, new_id=self.new_id, interactive=typed is not None, **app
        )
        result = CliRunner().invoke(main_command, [str(a) for a in arguments], obj=obj, input=typed)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        answer = Answer(result.exit_code, result.stdout, result.stderr)
        assert answer.exit == expect, f"{arguments}: {answer}"
        return answer

    def refused(self, *arguments: object, expect: int = 2, **app: Any) -> str:
        """Runs a call that is wrong: nothing on stdout, nothing recorded; gives the sentence."""
        before = self.entries()
        answer = self(*arguments, expect=expect, **app)
        assert answer.out == ""
        assert answer.err.strip()
        assert self.entries() == before
        return answer.err.strip()

    def entries(self) -> int:
        """How many entries the record holds; 0 where there is no registry."""
        if not self.path.exists():
            return 0
        with closing(sqlite3.connect(f"file:{self.path}?mode=ro", uri=True)) as connection:
            try:
                return int(connection.execute("SELECT count(*) FROM chain_entry").fetchone()[0])
            except sqlite3.DatabaseError:
                return 0


@pytest.fixture
def fresh(tmp_path: Path, clock: Clock, new_id: NewId) -> Ortet:
    """`ortet` where no registry stands yet."""
    return Ortet(tmp_path / "registry.sqlite", clock, new_id)


@pytest.fixture(scope="session")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new registry of Jo Field's in Oregon, made once for all tests: copy it."""
    path = tmp_path_factory.mktemp("begun") / "registry.sqlite"
    run = Ortet(path, fixed_clock(MOMENT), uuid7)
    run(
        "init", "--grower", "Jo Field", "--country", "US", "--region", "US-OR",
        "--began", "2020-01-01",
    )  # fmt: skip
    return path


@pytest.fixture
def ortet(fresh: Ortet, begun: Path) -> Ortet:
    """`ortet` on a registry of Jo Field's in Oregon, begun on 1 January 2020."""
    shutil.copy(begun, fresh.path)
    return fresh


Holding = Callable[[Path], Any]


@pytest.fixture
def held() -> Holding:
    """Holds a registry's write lock, as another process would."""

    @contextmanager
    def hold(path: Path) -> Iterator[None]:
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("BEGIN IMMEDIATE")
            yield
            connection.execute("ROLLBACK")

    return hold
