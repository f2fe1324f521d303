"""A file of commands, one a line: what a day at the bench left on paper, or a whole season.

All lines come to stand or none does. Where a registry stands, its lines share one transaction, each
a savepoint in it with an entry of its own. Where none does, the first line makes it (`init`) under
a temporary name, and it gets its own name when the last line is through.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from registry.cli.app import App, main_command
from registry.cli.calls import said_plainly
from registry.cli.options import common, examples, parse_day, pass_app, read_file
from registry.cli.output import refusal_lines
from registry.errors import BenchStopped, FileUnreadable, NotRecorded, RegistryError
from registry.location import Server

REFUSED = "expect-refusal"
WHOLE = frozenset({"bench", "restore", "migrate"})
"""Commands that are about a whole registry, so that they cannot be one line among others."""

ALONE = WHOLE | {"verify", "backup"}
"""The same where a registry stands, whose transaction they would not see."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the file: its number, counted from 1, and its text."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Done:
    """A line that was carried out, with its exit code and what it had to say."""

    line: Line
    exit: int
    words: tuple[str, ...]


@click.command(
    "bench",
    epilog=examples(
        "bench today.txt",
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@common
@pass_app
def bench_command(app: App, file: Path) -> None:
    """Record a file of commands, one a line; all of them or none.

    A line `on 14 May 2026` sets the day for the lines below it; a day with a year sets the year
    for later days without one. Lines that begin with # are left out. A line that is refused stops
    the file, unless it begins with expect-refusal: then it must be refused.
    """
    lines = read_lines(file)
    done: list[Done] = []
    with _all_or_none(app) as surroundings:
        for line in lines:
            surroundings, result = _carry_out(surroundings, line)
            done.append(result)
    app.answer(
        {
            "lines": [
                {
                    "line": one.line.number,
                    "command": one.line.text,
                    "exit": one.exit,
                    "answers": [json.loads(word) for word in one.words] if app.json else [],
                }
                for one in done
            ]
        },
        *(word for one in done for word in (f"> {one.line.text}", *one.words, "")),
        f"{len(done)} lines of {file.name} were carried out.",
    )


def read_lines(file: Path) -> list[Line]:
    """The lines that say something, without blank ones and those that begin with `#`.

    Raises:
        FileUnreadable: it cannot be read, or it is not text in UTF-8.
    """
    try:
        text = read_file(file).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileUnreadable(file, "it is not text in UTF-8") from error
    # Not `splitlines`, for which a form feed or U+2028 within a note would begin another command.
    numbered = (Line(number, said.strip()) for number, said in enumerate(text.split("\n"), 1))
    return [line for line in numbered if line.text and not line.text.startswith("#")]


@contextmanager
def _all_or_none(app: App) -> Iterator[App]:
    """Surroundings in which what is recorded comes to stand at the end, all together."""
    from registry.errors import RegistryExists
    from registry.storage.engine import make_engine, stands
    from registry.storage.files import beside, left_beside, settle
    from registry.storage.transaction import together

    within = replace(app, nested=True, interactive=False, words=[], entry=None)
    if not stands(app.path):
        if isinstance(app.path, Server):
            with together(make_engine(app.path), app.path) as connection:
                yield replace(within, outer=connection)
            return
        app.make_folder()
        with beside(app.path) as fresh:
            yield replace(within, path=fresh, called=app.path)
            if fresh.exists():
                try:
                    settle(fresh, app.path)
                except FileExistsError as error:
                    raise RegistryExists(left_beside(app.path) or app.path) from error
        return
    opened = app.writable()
    with together(opened.engine, app.path) as connection:
        yield replace(within, outer=connection)


def _carry_out(app: App, line: Line) -> tuple[App, Done]:
    """The surroundings for the lines below, and what was done.

    Raises:
        BenchStopped: the line cannot be read, or was refused, or was not and should have been.
    """
    words = _words(line)
    if words[0] == "on" and len(words) > 1:
        return _on(app, line, " ".join(words[1:])), Done(line, 0, ())
    expected = words[0] == REFUSED
    if expected:
        words = words[1:]
    if words[:1] == ["ortet"]:
        words = words[1:]
    if not words:
        raise BenchStopped(line.number, line.text, "There is no command.")
    if words[0].startswith("-") or words[0] in (ALONE if app.outer is not None else WHOLE):
        why = f"'{words[0]}' cannot be a line of a file: give it to ortet by itself."
        raise BenchStopped(line.number, line.text, why)
    here = replace(app, words=[])
    exit_code, said = _run(here, line, words)
    if expected and not exit_code:
        raise BenchStopped(line.number, line.text, "It should have been refused, and was not.")
    if exit_code and not expected:
        raise BenchStopped(line.number, line.text, "\n".join([*here.words, *said]), exit_code == 1)
    # The registry that a first line made is open from now on.
    return replace(app, opened_before=here.opened_before), Done(
        line, exit_code, tuple(here.words if app.json else [*here.words, *said])
    )


def _run(app: App, line: Line, words: list[str]) -> tuple[int, list[str]]:
    """The exit code of one command, and why it was refused if it was."""
    from registry.wording import problem

    try:
        result: Any = main_command.main(words, "ortet", standalone_mode=False, obj=app)
    except NotRecorded as refused:
        return 1, refusal_lines(refused)
    except RegistryError as error:
        return 2, [problem(error)]
    except click.UsageError as error:
        # A call that cannot be read is a slip in the file, never the refusal that was expected.
        raise BenchStopped(line.number, line.text, problem(said_plainly(error))) from error
    return (result if isinstance(result, int) else 0), []


def _words(line: Line) -> list[str]:
    """A line's words, as a shell would part them."""
    try:
        return shlex.split(line.text)
    except ValueError as error:
        why = "A quote is not closed. Put words with an apostrophe between double quotes."
        raise BenchStopped(line.number, line.text, why) from error


def _on(app: App, line: Line, typed: str) -> App:
    """The surroundings with another day, and another year where the day has one."""
    from registry.wording import problem

    try:
        day = parse_day(app, typed)
    except RegistryError as error:
        raise BenchStopped(line.number, line.text, problem(error)) from error
    one_year = day.first and day.last and day.first.year == day.last.year
    return replace(app, day=day, year=day.first.year if day.first and one_year else app.year)
