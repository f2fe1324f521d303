"""Options that many commands share, and types that are read with the registry in mind."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.cli.app import App, chosen_path
from registry.domain.counts import Count, parse_count, parse_counts
from registry.domain.numbers import LARGEST
from registry.errors import FileTooBig, FileUnreadable, KeptAlready, NotANumber, NothingToKeepWith

if TYPE_CHECKING:
    from registry.domain.dates import FuzzyDate
    from registry.services.tools import ToolShown

F = TypeVar("F", bound=Callable[..., Any])
pass_app = click.make_pass_decorator(App)


def examples(*calls: str) -> str:
    """The end of a command's help: calls as they are typed, one a line; a test reads each."""
    return "\b\nFor example:\n" + "\n".join(f"  ortet {call}" for call in calls)


def _choose_registry(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None:
        return
    app = ctx.ensure_object(App)
    if app.nested:
        raise click.UsageError("All lines of a file go to one registry; leave --registry out.")
    app.path = chosen_path(value)


def _choose_json(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if value:
        ctx.ensure_object(App).json = True


def common(function: F) -> F:
    """Adds `--registry` and `--json`, which may stand before the command as well."""
    function = click.option(
        "--json", is_flag=True, expose_value=False, callback=_choose_json, help="Answer in JSON."
    )(function)
    return click.option(
        "--registry",
        metavar="PATH",
        expose_value=False,
        callback=_choose_registry,
        help="The registry's file or server.",
    )(function)


def history(function: F) -> F:
    """Adds `--history`: the past of a record instead of how it stands."""
    return click.option(
        "--history", is_flag=True, help="Every entry that touched it: when, by whom, what changed."
    )(function)


@dataclass(frozen=True, slots=True)
class Written:
    """What every writing command may be told.

    Attributes:
        on: The day, as typed.
        note: Words to keep with what was made or was about.
        photo: A file to keep with it.
        by: Who records it.
    """

    on: str | None
    note: str | None
    photo: Path | None
    by: str | None


def writes(function: F) -> F:
    """Adds `--on`, `--note`, `--photo` and `--by`, handed over as one `written`."""

    def gather(*args: Any, on: Any, note: Any, photo: Any, by: Any, **kwargs: Any) -> Any:
        return function(*args, written=Written(on, note, photo, by), **kwargs)

    return _gathering(
        function,
        gather,
        click.option("--by", metavar="PERSON", help="Who records it."),
        click.option("--photo", type=click.Path(path_type=Path), help="A file to keep with it."),
        click.option("--note", metavar="TEXT", help="Words to keep with it."),
        click.option("--on", metavar="DAY", help="The day it happened; today if not said."),
    )


def handles(function: F) -> F:
    """Adds `--tool`, `--tray` and `--cleaned`, handed over as one `handling`."""

    def gather(*args: Any, tools: Any, trays: Any, cleaned: bool, **kwargs: Any) -> Any:
        from registry.services.tools import Handling

        if cleaned and not (tools or trays):
            raise click.UsageError("--cleaned needs --tool or --tray: say which was disinfected.")
        given = Handling(tuple(dict.fromkeys(tools)), tuple(dict.fromkeys(trays)), cleaned)
        return function(*args, handling=given, **kwargs)

    return _gathering(
        function,
        gather,
        click.option(
            "--cleaned", is_flag=True, help="The tool or tray was disinfected just before."
        ),
        click.option(
            "--tray",
            "trays",
            multiple=True,
            metavar="NAME",
            help="The tray they stand in, in your words.",
        ),
        click.option(
            "--tool",
            "tools",
            multiple=True,
            metavar="NAME",
            help="The knife or secateurs, in your words.",
        ),
    )


def _gathering(function: F, gather: Callable[..., Any], *options: Callable[[Any], Any]) -> F:
    """`gather` in the place of the function it calls, with further options."""
    gather.__doc__ = function.__doc__
    gather.__name__ = function.__name__
    gather.__click_params__ = getattr(function, "__click_params__", [])  # type: ignore[attr-defined]  # click's own
    wrapped: Any = gather
    for option in options:
        wrapped = option(wrapped)
    result: F = wrapped
    return result


def new_tools(made: Sequence[ToolShown]) -> tuple[str, ...]:
    """Lines that say which tools and trays an act named first: a slip of the pen shows there."""
    from registry.wording.recall import called

    return tuple(f"  new on record: {called(one.kind, one.name)}" for one in made)


def day(app: App, typed: str | None) -> FuzzyDate:
    """The day of the act: that which was typed, the one a file has set, or today.

    Raises:
        DayAhead: it is wholly after today.
    """
    from registry.domain.dates import FuzzyDate

    app.acted = day_said(app, typed) or FuzzyDate.of(app.today)
    return app.acted


def day_said(app: App, typed: str | None) -> FuzzyDate | None:
    """The day that was typed or that a file has set, if one was.

    Raises:
        DayAhead: it is wholly after today.
    """
    from registry.errors import DayAhead

    said = parse_day(app, typed) if typed is not None else app.day
    if said is not None and said.first is not None and said.first > app.today:
        raise DayAhead(typed or said.said or said.edtf, app.today)
    return said


def day_or_none(app: App, typed: str | None) -> FuzzyDate | None:
    """The day that was typed, if one was."""
    return None if typed is None else parse_day(app, typed)


def parse_day(app: App, typed: str) -> FuzzyDate:
    """A day as people say it, with the registry's hemisphere.

    In a terminal, a day without a year is asked about.

    Raises:
        BadDate, AmbiguousDate, DateNeedsYear: it cannot be read as one day or span.
    """
    from registry.domain.dates import Hemisphere, parse_date
    from registry.errors import DateNeedsYear
    from registry.services.rows import registry_row

    with app.reading() as session:
        hemisphere = Hemisphere(registry_row(session).hemisphere)
    today = app.today
    try:
        return parse_date(typed, today=today, hemisphere=hemisphere, year=app.year)
    except DateNeedsYear:
        if not app.interactive:
            raise
        year = click.prompt(f"{typed} of which year?", type=int, default=today.year, err=True)
        return parse_date(typed, today=today, hemisphere=hemisphere, year=year)


class Whole(click.ParamType["int"]):
    """A whole number between bounds; help names none that only the registry's file has."""

    name = "number"

    def __init__(self, low: int = 1, high: int = LARGEST) -> None:
        self.low = low
        self.high = high

    def convert(self, value: Any, param: Any, ctx: Any) -> int:
        """The number.

        Raises:
            NotANumber: it is none, or lies beyond the bounds.
        """
        typed = str(value).strip()
        number = int(typed) if _WHOLE.fullmatch(typed) else None
        if number is not None and self.low <= number <= self.high:
            return number
        command = ctx.command_path if ctx is not None else "ortet"
        name = param.opts[0] if isinstance(param, click.Option) else param.human_readable_name
        low = None if self.low == -LARGEST else self.low
        high = None if self.high == LARGEST else self.high
        raise NotANumber(command, name, typed, low, high)


_WHOLE = re.compile(r"[+-]?[0-9]{1,10}")


class CountType(click.ParamType["Count"]):
    """A count as a grower says it: 14, about 14, 12-13, 10+ or ?."""

    name = "count"

    def convert(self, value: Any, param: Any, ctx: Any) -> Count:
        """The count."""
        return value if isinstance(value, Count) else parse_count(value)


class CountsType(click.ParamType["Any"]):
    """A count, or one for each lot: A=8,B=2."""

    name = "count"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The count, or the counts by letter."""
        return parse_counts(value) if isinstance(value, str) else value


ROW = Whole()
"""A number of a row, or how many: from 1 to what a registry can hold."""

MOST_BYTES = 200_000_000
"""How large a file may be: the database keeps it whole, and holds it in memory to do so."""

COUNT = CountType()
COUNTS = CountsType()


def read_file(path: Path) -> bytes:
    """A file's bytes.

    Raises:
        FileUnreadable: it cannot be read, or there is nothing in it.
        FileTooBig: it is larger than a record can keep.
    """
    try:
        if not path.is_dir() and not path.is_file() and path.exists():
            raise FileUnreadable(path, "it is no file")  # a device has no end
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise FileTooBig(path, size, MOST_BYTES)
        content = path.read_bytes()
        if not content:
            raise FileUnreadable(path, "it is empty")
        return content
    except OSError as error:
        raise FileUnreadable(path, error.strerror or str(error)) from error


def keep_with(app: App, rec: Any, written: Written, codes: tuple[str, ...]) -> None:
    """Keep a note and a photo with what an act made or was about.

    Raises:
        NothingToKeepWith: it was about no plant, lot or batch.
        FileUnreadable: the photo cannot be read.
    """
    if written.note is None and written.photo is None:
        return
    if not codes:
        raise NothingToKeepWith(rec.what)
    from registry.services.records import add_note, attach_file
    from registry.services.resolve import resolve

    content = read_file(written.photo) if written.photo is not None else None
    for code in codes:
        target = resolve(rec.session, code, today=rec.today)
        last = rec.last
        if written.note is not None:
            add_note(rec, target, written.note, on=day(app, written.on))
        if written.photo is not None and content is not None:
            with suppress(KeptAlready):  # it is kept, which is what was asked
                attach_file(rec, target, content, written.photo.name, file_type(written.photo))
        rec.last = last


def keep_apart(
    app: App,
    rec: Any,
    written: Written,
    *,
    person_id: int | None = None,
    place_id: int | None = None,
) -> None:
    """Keep a note with a person or a place; neither has photos.

    Raises:
        NothingToKeepWith: a photo was given, or it was about neither.
    """
    if written.photo is not None:
        raise NothingToKeepWith(rec.what)
    if written.note is None:
        return
    if person_id is None and place_id is None:
        raise NothingToKeepWith(rec.what)
    from registry.services.records import add_note_apart

    on = day(app, written.on)
    add_note_apart(rec, written.note, person_id=person_id, place_id=place_id, on=on)


def file_type(path: Path) -> str:
    """A file's media type, by its ending."""
    from mimetypes import guess_type

    return guess_type(path.name)[0] or "application/octet-stream"
