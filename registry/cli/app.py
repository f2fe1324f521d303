"""The root command: which registry, how to answer, and what happens when a call is wrong.

Command modules load when their command is called, so that help and start-up stay quick.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from errno import EPIPE
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

from registry.clock import Clock, local_day, system_clock

# Help and start-up load nothing else: not the errors, not SQLAlchemy, no chance. A test watches.
if TYPE_CHECKING:
    from datetime import date, datetime
    from pathlib import Path
    from uuid import UUID

    from sqlalchemy import Connection
    from sqlalchemy.orm import Session

    from registry.domain.dates import FuzzyDate
    from registry.errors import RegistryError
    from registry.ids import NewId
    from registry.location import Location
    from registry.storage.engine import Opened
    from registry.storage.transaction import Recording

COMMANDS: dict[str, tuple[str, str]] = {
    # command: (module, its line in the list of commands)
    "init": ("records", "Make a registry."),
    "settings": ("records", "Show or set the registry's own settings."),
    "person": ("records", "People: add, show, list, export, blank."),
    "place": ("records", "Benches, beds and gardens: add, list, rename."),
    "plant": ("records", "Stock plants and pots: add, show, list, name, end."),
    "note": ("records", "Keep words with a plant, lot or batch."),
    "attach": ("records", "Keep a file with a plant, lot or batch."),
    "consent": ("leave", "What an owner allows, refuses or did not say."),
    "licence": ("leave", "What the holder of a right allows."),
    "right": ("leave", "Plant patents and variety rights: add, list, lookup …"),
    "restriction": ("rules", "Rules of a place on plants: add, import, list."),
    "came": ("rules", "What came with a plant: label, terms, supplier."),
    "hold": ("leave", "Stop plants where they are: add, lift, list."),
    "may": ("leave", "Ask whether an act may be, and why."),
    "settle": ("leave", "Close a question that can never be answered."),
    "take": ("bench", "Material that was cut, not stuck yet."),
    "stick": ("bench", "Cuttings that were stuck."),
    "graft": ("bench", "Grafts that were made."),
    "sow": ("bench", "Seed that was sown."),
    "divide": ("bench", "A plant that was divided."),
    "layer": ("bench", "Shoots that were layered."),
    "split": ("bench", "Part a lot into several."),
    "merge": ("bench", "Join leftovers of several lots."),
    "look": ("bench", "What stands in the bench, and what went."),
    "recount": ("bench", "Put the number in the bench right."),
    "pot-up": ("bench", "Rooted cuttings move into pots."),
    "pot-on": ("bench", "Plants move into larger pots."),
    "batch": ("bench", "Batches: show, list, close."),
    "due": ("bench", "What is to be done, and what is not known yet."),
    "label": ("labels", "Labels: print, text, stocks."),
    "read": ("labels", "Read a code, a scanned text or a photo of labels."),
    "sell": ("release", "Plants that were sold."),
    "give": ("release", "Plants that were given away."),
    "swap": ("release", "Plants that were swapped for another."),
    "receive": ("release", "Plants that arrived."),
    "trace": ("trace", "Where a plant came from, and what came of it."),
    "tally": ("answers", "How many were stuck, potted, lost, sold, given."),
    "recall": ("recall", "What was exposed to something, and what came of it."),
    "tool": ("tools", "Knives and trays: what each was used on; disinfecting."),
    "correct": ("answers", "Take a slip back; it stays beside."),
    "bench": ("bench_file", "Record a file of commands, one a line."),
    "verify": ("upkeep", "Check the whole record."),
    "head": ("upkeep", "The newest entry as digits for a friend to keep."),
    "key": ("upkeep", "Your key, which signs what leaves the house."),
    "backup": ("upkeep", "Copy the registry to a safe place."),
    "restore": ("upkeep", "Bring a copy back."),
    "repair": ("upkeep", "Make anew the lists that names are found by."),
    "migrate": ("upkeep", "Bring an older registry up to date."),
}

SECTIONS = {
    # the first command of each part of the list: its heading
    "init": "What there is",
    "consent": "Leave, rights and rules",
    "take": "At the bench",
    "label": "Labels",
    "sell": "Leaving and arriving",
    "trace": "Answers, and when something is wrong",
    "bench": "The record itself",
}

_LONGEST = 80
"""So many signs of a file's name are shown, where it is what is wrong."""

ALSO = {"license": "licence"}
"""Other spellings, not listed."""


def fresh_id(moment: datetime) -> UUID:
    """An identifier for something recorded at `moment`."""
    from registry.ids import uuid7

    return uuid7(moment)


@dataclass
class App:
    """What a command needs from outside.

    Attributes:
        path: The registry's file or server.
        json: Answer in JSON.
        clock, new_id: Where time and chance enter.
        interactive: Whether somebody sits at a terminal and can be asked.
        day: The day set by a bench file, for lines without `--on`.
        year: The year that a bench file has named, for days without one.
        acted: The day of this command's act, once it is known; its entry tells it.
        outer: A transaction that several commands share.
        nested: The command is a line of a file; what is wrong with it is said there.
        called: The name that the registry's file will have, while it is in the making.
        words: What the command has to say, printed when it is through.
        made: What was put on record by the way, to be told with the answer.
        entry: The number of the first entry that was begun.
        opened_before: The registry, once it was opened.
    """

    path: Location
    json: bool = False
    clock: Clock = system_clock
    new_id: NewId = fresh_id
    interactive: bool = False
    day: FuzzyDate | None = None
    year: int | None = None
    acted: FuzzyDate | None = None
    outer: Connection | None = None
    nested: bool = False
    called: Location | None = None
    words: list[str] = field(default_factory=list)
    made: list[str] = field(default_factory=list)
    entry: int | None = None
    opened_before: Opened | None = None

    @property
    def today(self) -> date:
        """The grower's calendar day."""
        return local_day(self.clock())

    def make_folder(self) -> None:
        """Make the folder of the usual registry; one that was named must be there."""
        usual = default_path()
        if self.path != usual:
            return
        try:
            usual.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            from registry.errors import FileUnwritable

            raise FileUnwritable(usual, error.strerror or str(error)) from error

    def opened(self) -> Opened:
        """The registry, opened once."""
        if self.opened_before is None or self.opened_before.path != self.path:
            from registry.storage.engine import open_registry

            self.opened_before = open_registry(self.path)
            if not self.opened_before.writable:
                click.echo(f"{self.path} can be read but not written.", err=True)
        return self.opened_before

    def has_made(self) -> None:
        """Note that a registry was made over the shared transaction, where only it can be seen."""
        if self.outer is not None:
            from registry.storage.engine import Opened
            from registry.storage.revision import HEAD

            self.opened_before = Opened(self.path, self.outer.engine, HEAD, True, False)

    def writable(self) -> Opened:
        """The registry, opened once, to be written.

        Raises:
            RegistryReadOnly: it can only be read.
        """
        opened = self.opened()
        if not opened.writable:
            from registry.errors import RegistryReadOnly

            raise RegistryReadOnly(self.path)
        return opened

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session for an answer."""
        from registry.storage.engine import reading

        opened = self.opened()
        with reading(self.outer or opened.engine, self.path) as session:
            yield session

    @contextmanager
    def recording(
        self, what: str, *, by: str | None = None, keep: bool = True
    ) -> Iterator[Recording]:
        """The transaction of one act.

        Args:
            what: The act, as a word.
            by: The person who records it.
            keep: False rehearses: everything runs and nothing stands.
        """
        from registry.storage.transaction import recording

        opened = self.writable()
        by_id = None
        if by is not None:
            from registry.services.people import recorder

            with self.reading() as session:
                by_id = recorder(session, by)
        with recording(
            self.outer or opened.engine,
            self.path,
            what,
            now=self.clock(),
            new_id=self.new_id,
            by_id=by_id,
            keep=keep,
        ) as rec:
            if self.entry is None and keep:
                self.entry = rec.seq
            if self.acted is not None:
                rec.happened = self.acted.edtf
            yield rec
            if keep:
                from registry.services.people import MADE_BESIDE

                self.made += rec.session.info.get(MADE_BESIDE, ())

    def recorded(self) -> bool:
        """Whether an entry of this command came to stand, for one who was interrupted."""
        if self.entry is None or self.outer is not None:
            return False
        from registry.services.putright import entries

        with self.reading() as session:
            newest = entries(session, most=1)
        return bool(newest) and newest[0].seq >= self.entry

    def say(self, *lines: str) -> None:
        """Keep lines to be printed when the command is through."""
        self.words.extend(lines)

    def answer(self, facts: dict[str, Any], *lines: str) -> None:
        """Answer with `facts` as JSON, or with lines to read."""
        if self.json:
            from registry.cli.output import as_json

            self.words.append(as_json(facts))
        else:
            # A slip of the pen makes a second place, where a recall by place would not look:
            # it is told among the facts of the act, before what is open or comes next.
            end = next((at for at, line in enumerate(lines) if at and line[:2] != "  "), len(lines))
            told = [f"  new on record: {one}" for one in self.made]
            self.words += [*lines[:end], *told, *lines[end:]]
        self.made.clear()

    def hint(self, line: str) -> None:
        """Tell a next step to somebody who sits at a terminal and reads."""
        if self.interactive and not self.json:
            self.words.append(line)

    def flush(self) -> None:
        """Print what was kept; a line of a file leaves that to its file."""
        if self.nested:
            return
        for line in self.words:
            click.echo(_shown(line))
        self.words.clear()


class Below(click.Group):
    """A group of commands below the first; its list shows whole sentences."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, each with its first sentence, however long."""
        with formatter.section("Commands"):
            formatter.write_dl(
                [
                    (name, command.get_short_help_str(limit=200))
                    for name, command in sorted(self.commands.items())
                ]
            )


class Root(click.Group):
    """The group of all commands; loads a command's module when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command, in the order of a grower's work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, its module loaded now."""
        name = ALSO.get(cmd_name, cmd_name)
        if name not in COMMANDS:
            return None
        module = import_module(f"registry.cli.{COMMANDS[name][0]}")
        command: click.Command = getattr(module, f"{name.replace('-', '_')}_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands from the table, so that nothing has to be loaded for it."""
        wide = max(map(len, COMMANDS))
        heading = ""
        rows: list[tuple[str, str]] = []
        for name, (_, line) in COMMANDS.items():
            if name in SECTIONS and rows:
                _write_part(formatter, heading, rows)
                rows = []
            heading = SECTIONS.get(name, heading)
            rows.append((name.ljust(wide), line))
        _write_part(formatter, heading, rows)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read what stands before the command; what cannot be read is said as everywhere.

        Every word of the call is looked at first, so that no command has to look at its own.
        """
        for word in args:
            if not word.isprintable() and (error := _unfit(word)):
                if ctx.obj is not None and ctx.obj.nested:
                    raise error
                ctx.exit(_say_problem(ctx, error))
        try:
            return super().parse_args(ctx, args)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            ctx.exit(_say_unreadable(ctx, error))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; whatever is wrong with the call is said once, here.

        What a command says is printed only when it is through, so a refused one prints nothing.
        """
        if ctx.obj is not None and ctx.obj.nested:
            return super().invoke(ctx)
        try:
            result = super().invoke(ctx)
        except click.exceptions.Exit:
            _flush(ctx)
            raise
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            ctx.exit(_say_unreadable(ctx, error))
        except (KeyboardInterrupt, EOFError, click.Abort):
            _say_stopped(ctx)
            ctx.exit(2)
        except Exception as error:
            from registry.errors import RegistryError

            told: Exception | None = error
            if isinstance(error, OSError):
                told = _of_a_file(error)
            elif not isinstance(error, RegistryError):
                told = _of_what_stands(ctx)
            if not isinstance(told, RegistryError):
                raise
            ctx.exit(_say_problem(ctx, told))
        _flush(ctx)
        return result


def _of_a_file(error: OSError) -> RegistryError | None:
    """A file that cannot even be looked at, as its name is too long or its folder is shut."""
    if not isinstance(error.filename, str):
        return None
    from pathlib import Path

    from registry.errors import FileUnreadable

    name = error.filename
    shown = name if len(name) <= _LONGEST else f"{name[:_LONGEST]}…"
    return FileUnreadable(Path(shown), error.strerror or str(error))


def _of_what_stands(ctx: click.Context) -> RegistryError | None:
    """What a check finds, where a command came upon what no command ever records.

    Somebody may have changed a value by hand; where nobody did, the slip is this program's.
    """
    app = ctx.find_object(App)
    if app is None or app.opened_before is None:
        return None
    from registry.errors import RegistryDamaged, RegistryError
    from registry.services.upkeep import check
    from registry.wording.storage import fault

    try:
        report = check(app.opened_before)
    except RegistryError as error:
        return error
    if report.ok:
        return None
    return RegistryDamaged(app.path, fault(report.problems[0]).rstrip("."))


def _write_part(formatter: click.HelpFormatter, heading: str, rows: list[tuple[str, str]]) -> None:
    with formatter.section(heading):
        formatter.write_dl(rows)


def _flush(ctx: click.Context) -> None:
    """Print what a command has to say; what it recorded stands, whether or not that can be."""
    app = ctx.find_object(App)
    if app is None:
        return
    try:
        app.flush()
    except OSError as error:
        if error.errno == EPIPE:
            raise  # whoever read it has read enough
        from registry.errors import AnswerUnwritten

        # What is still held for it must not be tried again when the program ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        ctx.exit(_say_problem(ctx, AnswerUnwritten(error.strerror or str(error))))


def _unfit(word: str) -> RegistryError | None:
    """What is wrong with a word that may hold signs which no text may hold."""
    from registry.domain.signs import unfit
    from registry.errors import SignUnfit

    sign = unfit(word)
    return SignUnfit(word, sign) if sign else None


def _shown(text: str) -> str:
    """What is said, without signs that would steer a terminal."""
    if text.isprintable():
        return text
    from registry.domain.signs import shown

    return shown(text)


def _shortened(sentence: str) -> str:
    """What is wrong, where something of any length was typed, so that what to do is still seen."""
    return " ".join(
        f"{word[:80]}…{word[-20:]}" if len(word) > 200 else word for word in sentence.split(" ")
    )


def _say_unreadable(ctx: click.Context, error: click.UsageError) -> int:
    """Say on stderr why a call cannot be read; gives the exit code."""
    from registry.cli.calls import said_plainly

    return _say_problem(ctx, said_plainly(error))


def _say_problem(ctx: click.Context, error: RegistryError) -> int:
    """Say on stderr what is wrong; gives the exit code."""
    from registry.errors import AnswerUnwritten, BenchStopped, NotRecorded, PaperNotDrawn
    from registry.wording import problem

    if isinstance(error, PaperNotDrawn):
        _flush(ctx)  # the act stands, so what it says is said
        click.echo(_shortened(_shown(problem(error))), err=True)
        return 1
    if not isinstance(error, NotRecorded):
        click.echo(_shortened(_shown(problem(error))), err=True)
        refused = isinstance(error, BenchStopped) and error.refused
        return 1 if refused or isinstance(error, AnswerUnwritten) else 2
    from registry.cli.output import refusal_json, refusal_lines

    app = ctx.find_object(App)
    if app is not None and app.json:
        app.words[:] = [refusal_json(error)]
        app.flush()
    click.echo(_shown("\n".join(refusal_lines(error))), err=True)
    return 1


def _say_stopped(ctx: click.Context) -> None:
    app = ctx.find_object(App)
    stands = app is not None and app.recorded()
    click.echo(
        "Stopped. What was recorded before stands." if stands else "Stopped; nothing was recorded.",
        err=True,
    )


def default_path() -> Path:
    """Where a registry is kept if nobody says otherwise: the platform's folder for user data."""
    from platformdirs import user_data_path

    return user_data_path("ortet", appauthor=False) / "registry.sqlite"


def chosen_path(said: str | None) -> Location:
    """The registry that was named by option or variable, or the usual one.

    Raises:
        RegistryUnsupported: a URL was given that is not of a server we know.
    """
    from pathlib import Path

    location = said or os.environ.get("ORTET_REGISTRY")
    if not location:
        return default_path()
    if "://" in location:
        from registry.location import Server, is_served

        if is_served(location):
            return Server(location)
        from registry.errors import RegistryUnsupported

        raise RegistryUnsupported(str(Server(location)))
    return Path(location).expanduser()


def _columns() -> int:
    """How wide help is set: as the terminal, at most 80; click would load more to find out."""
    try:
        return max(min(int(os.environ.get("COLUMNS") or os.get_terminal_size().columns), 80), 40)
    except (ValueError, OSError):
        return 80


@click.group(
    "ortet",
    cls=Root,
    context_settings={"help_option_names": ["-h", "--help"], "terminal_width": _columns()},
)
@click.option("--registry", "registry", metavar="PATH", help="The registry's file or server.")
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON.")
@click.version_option(package_name="ortet")
@click.pass_context
def main_command(ctx: click.Context, registry: str | None, as_json: bool) -> None:
    """Ortet keeps the lineage of plants that you raise.

    It knows what each pot is, where it came from, who allowed that, and where it went. Begin with
    'ortet init', then 'ortet stick'; 'ortet COMMAND --help' tells more of each.
    """
    if ctx.obj is None:
        ctx.obj = App(chosen_path(registry), interactive=sys.stdin.isatty() and sys.stdout.isatty())
    ctx.obj.json |= as_json
