"""The command as a grower types it, run in this process on a registry of the test's own."""

from __future__ import annotations

import json
import shlex
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from registry.cli.app import App, main_command
from registry.clock import fixed_clock
from registry.ids import NewId


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

    path: Path
    moment: datetime
    new_id: NewId

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
        before = self._bytes()
        answer = self(line, *more, expect=expect)
        assert answer.out == "", f"ortet {line}"
        assert answer.err.strip(), f"ortet {line}"
        assert self._bytes() == before, f"ortet {line} was refused and wrote something"
        return answer.err.strip()

    def _bytes(self) -> bytes | None:
        return self.path.read_bytes() if self.path.is_file() else None

    def ask(self, line: str, *more: str, expect: int = 0) -> Any:
        """What a line answers with `--json`."""
        return self(line, *more, "--json", expect=expect).json

    def at(self, moment: datetime) -> Ortet:
        """The same registry at another moment."""
        return replace(self, moment=moment)

    def head(self) -> tuple[int, str]:
        """Number and hash of the newest entry: the same as before if nothing was written."""
        with closing(sqlite3.connect(f"{self.path.as_uri()}?mode=ro", uri=True)) as connection:
            row: tuple[int, str] = connection.execute("SELECT seq, hash FROM chain_head").fetchone()
        return row
