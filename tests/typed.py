"""The command as a grower types it, run in this process on a registry of the test's own."""

from __future__ import annotations

import json
import shlex
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from registry.cli.app import App, main_command
from registry.clock import fixed_clock
from registry.ids import NewId
from registry.location import Location
from registry.storage.engine import make_engine, stands


@dataclass(frozen=True)
class Answer:
    """What a command answered: its exit code, and what it said on stdout and stderr."""

    exit: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@dataclass(frozen=True)
class Ortet:
    """Runs `ortet` at a moment that stands still: `ortet('look last --rooted 8')`."""

    path: Location
    moment: datetime
    new_id: NewId

    @property
    def folder(self) -> Path:
        """Where the registry's file is; with one on a server, where the commands are given."""
        return self.path.parent if isinstance(self.path, Path) else Path.cwd()

    def __call__(
        self, line: str, *more: str, expect: int = 0, terminal: str | None = None
    ) -> Answer:
        """Run a line as a shell would part it, and hold it to its exit code.

        Args:
            line: What is typed after `ortet`.
            more: Further words that no shell should part.
            expect: The exit code that it must have.
            terminal: What is typed at the questions; None is no terminal.
        """
        app = App(
            self.path,
            clock=fixed_clock(self.moment),
            new_id=self.new_id,
            interactive=terminal is not None,
        )
        result = CliRunner().invoke(
            main_command, [*shlex.split(line), *more], obj=app, input=terminal
        )
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        answer = Answer(result.exit_code, result.stdout, result.stderr)
        assert answer.exit == expect, f"ortet {line}: {answer}"
        return answer

    def refused(self, line: str, *more: str, expect: int = 2) -> str:
        """Run a line that is wrong: nothing on stdout, no byte written; gives the sentence."""
        before = self._state()
        answer = self(line, *more, expect=expect)
        assert answer.out == "", f"ortet {line}"
        assert answer.err.strip(), f"ortet {line}"
        assert self._state() == before, f"ortet {line} was refused and wrote something"
        return answer.err.strip()

    def _state(self) -> object:
        """What is the same as long as nothing is written: the file, or the head of the chain."""
        if isinstance(self.path, Path):
            return self.path.read_bytes() if self.path.is_file() else None
        return self.head() if stands(self.path) else None

    def ask(self, line: str, *more: str, expect: int = 0) -> Any:
        """What a line answers with `--json`."""
        return self(line, *more, "--json", expect=expect).json

    def at(self, moment: datetime) -> Ortet:
        """The same registry at another moment."""
        return replace(self, moment=moment)

    def head(self) -> tuple[int, str]:
        """Number and hash of the newest entry: the same as before if nothing was written."""
        with make_engine(self.path, mode="ro").connect() as connection:
            seq, hashed = connection.exec_driver_sql("SELECT seq, hash FROM chain_head").one()
        return seq, hashed
