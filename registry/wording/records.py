"""What is said when a person, a place or a plant is named wrongly."""

from __future__ import annotations

from registry import errors
from registry.wording.basics import listed
from registry.wording.problems import problem


@problem.register
def _(error: errors.EmptyName) -> str:
    return f"What was typed for {error.of} is empty. Type at least one letter."


@problem.register
def _(error: errors.PersonUnknown) -> str:
    near = f" Did you mean {listed(error.near)}?" if error.near else ""
    return f"Nobody on record is called '{error.name}'.{near} 'ortet person add' makes a new one."


@problem.register
def _(error: errors.PersonsAlike) -> str:
    ways = ", ".join(
        f"'{error.name} #{order}'" + (f" ({contact})" if contact else "")
        for order, contact in enumerate(error.contacts, 1)
    )
    return f"{len(error.contacts)} people are called '{error.name}'. Say which: {ways}."


@problem.register
def _(error: errors.PlaceUnknown) -> str:
    return f"There is no place called '{error.name}'. 'ortet place list' shows those there are."


@problem.register
def _(error: errors.ToolUnknown) -> str:
    known = f"On record: {', '.join(error.known)}." if error.known else "None is on record yet."
    return (
        f"No {error.kind} called '{error.name}' was used in anything on record. {known} "
        f'An act names it: --{error.kind} "NAME".'
    )


@problem.register
def _(error: errors.PlaceExists) -> str:
    return f"There is a place called '{error.name}' already."


@problem.register
def _(error: errors.NearMatch) -> str:
    plants = listed(tuple(f"{code} ({name})" for code, name in error.plants))
    return (
        f"'{error.typed}' is nearly the name of {plants}. Use that code if it is the same plant, "
        "or add --new if it is another."
    )


@problem.register
def _(error: errors.NotAPlant) -> str:
    return f"'{error.typed}' does not stand for one plant. Give the code of a plant."


@problem.register
def _(error: errors.NumberTaken) -> str:
    given = f" (given by {error.by})" if error.by else ""
    return f"The number '{error.number}'{given} is that of {error.code} already. Give another one."


@problem.register
def _(error: errors.PlantGone) -> str:
    day = f", {error.on}" if error.on else ""
    return f"{error.code} is no longer there: {error.how}{day}. Nothing was recorded."


@problem.register
def _(error: errors.NotThatMany) -> str:
    return f"{error.asked} asked of {error.typed}, but {error.there} of its plants are still there."


@problem.register
def _(error: errors.SettingUnknown) -> str:
    return f"There is no setting '{error.key}'. There are: {', '.join(error.known)}."


@problem.register
def _(error: errors.SettingValue) -> str:
    return f"The setting '{error.key}' cannot be '{error.value}': it takes {error.wanted}."


@problem.register
def _(error: errors.BadOption) -> str:
    if not error.typed:
        return f"{error.option} is missing. Give {error.wanted}."
    return f"{error.option} '{error.typed}' cannot be read: it takes {error.wanted}."


@problem.register
def _(error: errors.BenchStopped) -> str:
    return f"Line {error.line}: {error.command}\n{error.why}\nNothing of the file was recorded."


@problem.register
def _(error: errors.KeptAlready) -> str:
    return f"The same file is kept with {error.code} already, as {error.filename}."


@problem.register
def _(error: errors.NothingStands) -> str:
    return (
        f"No plant of {error.typed} is still there. 'ortet plant show CODE' says what became of it."
    )


@problem.register
def _(error: errors.NothingToKeepWith) -> str:
    return (
        f"With '{error.act}' there is nothing here that a note or photo could be kept with. "
        "Leave it out, or keep it with a plant, lot or batch: 'ortet note', 'ortet attach'."
    )
