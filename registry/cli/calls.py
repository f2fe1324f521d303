"""A call that cannot be read: what click found wrong, as an error of our own with one sentence.

Loaded only when something is wrong, so that it costs no start.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches

import click

from registry import errors
from registry.errors import CountReason, RegistryError

MEANT = {
    "undo": "correct last",
    "delete": "correct last",
    "remove": "correct last",
    "find": "plant list --name",
    "search": "plant list --name",
    "print": "label print",
    "cutting": "stick",
    "cuttings": "stick",
    "died": "plant end",
    "dead": "plant end",
    "sold": "sell",
    "gave": "give",
    "bought": "receive",
    "buy": "receive",
    "rename": "plant name",
    "check": "verify",
    "todo": "due",
    "help": "--help",
}
"""Words that newcomers type, and the command that does it."""

MOST_OFFERED = 3
_BELOW_ZERO = re.compile(r"-\d+")
_TYPED = re.compile(r"^(?P<typed>.+?) is not ", re.DOTALL)
_LEFT_OVER = re.compile(r"^Got unexpected extra arguments? \((?P<words>.*)\)$", re.DOTALL)


def said_plainly(error: click.UsageError) -> RegistryError:
    """What is wrong with a call, as an error of our own."""
    context = error.ctx
    command = context.command_path if context is not None else "ortet"
    match error:
        case click.exceptions.NoSuchCommand() if context is not None:
            typed = error.command_name
            return errors.CommandUnknown(command, typed, tuple(_near_commands(context, typed)))
        case click.NoSuchOption():
            if _BELOW_ZERO.match(error.option_name):
                return errors.BadCount(error.option_name, CountReason.NEGATIVE)
            near = tuple((error.possibilities or [])[:MOST_OFFERED])
            return errors.OptionUnknown(command, error.option_name, near)
        case click.BadOptionUsage():  # click does not say of which command
            if "requires" in error.message:
                return errors.ValueMissing(command, error.option_name)
            return errors.ValueTooMany(command, error.option_name)
        case click.MissingParameter() if error.param is not None and context is not None:
            return _missing(command, error.param, context)
        case click.BadParameter() if error.param is not None:
            return _misread(command, error, error.param)
    left_over = _LEFT_OVER.match(error.message)
    if left_over and context is not None:
        words = tuple(left_over["words"].split(" "))
        return errors.WordsTooMany(command, words, _usage(context))
    return errors.CallUnclear(command, error.format_message())


def _near_commands(context: click.Context, typed: str) -> Iterator[str]:
    """Calls that may be meant: of like name, what the word means, or a command below a group."""
    group = context.command
    if not isinstance(group, click.Group):
        return
    path = context.command_path
    word = typed.casefold()
    found = get_close_matches(word, group.list_commands(context), n=MOST_OFFERED)
    if not found and context.parent is None:
        found = [MEANT[word]] if word in MEANT else list(_below(context, group, word))
    yield from (f"{path} {name}" for name in found[:MOST_OFFERED])


def _below(context: click.Context, group: click.Group, word: str) -> Iterator[str]:
    """Commands of that name below the groups of the command line: `add` is `plant add`."""
    for name in group.list_commands(context):
        below = group.get_command(context, name)
        if isinstance(below, click.Group) and word in below.commands:
            yield f"{name} {word}"


def _missing(command: str, param: click.Parameter, context: click.Context) -> RegistryError:
    known = tuple(map(str, param.type.choices)) if isinstance(param.type, click.Choice) else ()
    usage = _usage(context)
    if isinstance(param, click.Option):
        name = param.opts[0]
        said = f"{usage} {name} {_metavar(param)}"
        return errors.WordMissing(command, name, said, param.help or "", known)
    return errors.WordMissing(command, _once(param.make_metavar(context)), usage, "", known)


def _misread(command: str, error: click.BadParameter, param: click.Parameter) -> RegistryError:
    """A word that the type of its option or place does not take."""
    name = param.opts[0] if isinstance(param, click.Option) else param.human_readable_name
    found = _TYPED.match(error.message)
    typed = found["typed"].strip("'\"") if found else ""
    if isinstance(param.type, click.Choice):
        return errors.NoSuchChoice(command, name, typed, tuple(map(str, param.type.choices)))
    return errors.CallUnclear(command, f"{name}: {error.message}")


def _metavar(param: click.Option) -> str:
    if isinstance(param.type, click.Choice):
        return "|".join(map(str, param.type.choices))
    return param.metavar or param.type.name.upper()


def _once(word: str) -> str:
    """The name of one of several: `CODES...` is `CODE`."""
    return word.strip("[]{}").replace("S...", "").rstrip(".")


def _usage(context: click.Context) -> str:
    """How a command is called, in one line: `ortet plant end CODE ...`."""
    pieces = context.command.collect_usage_pieces(context)
    words = [piece.replace("S...", " ...") for piece in pieces if piece != "[OPTIONS]"]
    return " ".join([context.command_path, *words])
