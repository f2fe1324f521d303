"""What is said when a call cannot be read: an unknown command, a word too few or too many."""

from __future__ import annotations

from registry import errors
from registry.domain.signs import INSTEAD, shown
from registry.wording.basics import listed
from registry.wording.problems import problem

_DASHES = ("\N{EN DASH}", "\N{EM DASH}")
"""What a phone makes of the two hyphens before an option."""

_AROUND = 20
"""Letters of a text that are told on either side of a sign that it may not hold."""


def _help(error: errors.BadCall) -> str:
    return f"'{error.command} --help' says more."


@problem.register
def _(error: errors.SignUnfit) -> str:
    before, after = error.text.split(error.sign, 1)
    around = shown(f"{before[-_AROUND:]}{error.sign}{after[:_AROUND]}").replace("\n", " ")
    return (
        f"'{around}' holds a sign that cannot be read, only obeyed (U+{ord(error.sign):04X}, "
        f"where {INSTEAD} stands). Type it again without."
    )


def _within(sentence: str) -> str:
    """A sentence as it goes on within another; 'ISO 3166' keeps its capitals."""
    return sentence if sentence[1:2].isupper() else sentence[0].lower() + sentence[1:]


@problem.register
def _(error: errors.CommandUnknown) -> str:
    if error.near:
        near = listed(tuple(f"'{call}'" for call in error.near))
        return f"'{error.typed}' is no command of {error.command}. Did you mean {near}?"
    return (
        f"'{error.typed}' is no command of {error.command}. '{error.command} --help' lists those "
        "there are."
    )


@problem.register
def _(error: errors.OptionUnknown) -> str:
    said = f"'{error.command}' has no option {error.typed}."
    if error.near:
        return f"{said} Did you mean {listed(error.near)}?"
    return f"{said} '{error.command} --help' lists those there are."


@problem.register
def _(error: errors.WordMissing) -> str:
    about = f": {_within(error.about).rstrip('.')}" if error.about else ""
    known = f" ({listed(error.known)})" if error.known else ""
    return f"{error.what} is missing{about}{known}. Type '{error.usage}'. {_help(error)}"


@problem.register
def _(error: errors.ValueMissing) -> str:
    option = error.option
    return f"Nothing stands behind {option}. Say it, as in '{option} WORD', or leave {option} out."


@problem.register
def _(error: errors.ValueTooMany) -> str:
    return f"{error.option} stands alone; leave out what is tied to it with '='."


@problem.register
def _(error: errors.WordsTooMany) -> str:
    first = error.typed[0]
    if first.startswith(_DASHES):
        return f"'{first}' begins with a long dash. Type two hyphens: --{first.lstrip('–—-')}."
    return (
        f"'{' '.join(error.typed)}' is too much. Put words that belong together between quotes, "
        f"such as \"red hydrangea\", and type '{error.usage}'."
    )


@problem.register
def _(error: errors.NoSuchChoice) -> str:
    return f"{error.option} '{error.typed}' is not understood: it takes {listed(error.known)}."


@problem.register
def _(error: errors.NotANumber) -> str:
    match error.low, error.high:
        case None, None:
            wanted = "a whole number"
        case low, None:
            wanted = f"a whole number, {low} or more"
        case None, high:
            wanted = f"a whole number, {high} at most"
        case low, high:
            wanted = f"a whole number from {low} to {high}"
    return f"{error.option} '{error.typed}' cannot be read: it takes {wanted}."


@problem.register
def _(error: errors.CallUnclear) -> str:
    return error.said
