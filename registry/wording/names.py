"""What a person reads about a plant name: why it is refused, asked about or flagged."""

from __future__ import annotations

from registry.domain.names import WARNINGS, Outcome, Reading, Remark, plain
from registry.errors import (
    BadName,
    NameOrHow,
    NameReason,
    NoNameToTake,
    NotInTheMixUp,
    SaidTwice,
    SamePlantTwice,
    TagUnknown,
)
from registry.wording.basics import listed
from registry.wording.problems import problem

# Each is one or two sentences; {word} is the part at fault.
_SENTENCES: dict[NameReason, str] = {
    # refused
    NameReason.EMPTY: "There is nothing to name. Type a name, or 'unknown'.",
    NameReason.CONTROL: (
        "The name holds a character that cannot be printed ({word}), perhaps a tab or a line "
        "break from a copied cell. Type it again without it."
    ),
    NameReason.MARKUP: "The name holds mark-up ({word}). Type it as plain text.",
    NameReason.MIXED_SCRIPTS: (
        "The name mixes letters of two alphabets that look alike{of_word}. Type all of it on one "
        "keyboard, and put the other spelling into a note."
    ),
    NameReason.SIGN_LAST: "A name cannot end in '{word}': say what stands behind the sign.",
    NameReason.SIGN_WITHOUT_NAME: "The hybrid sign needs a genus or a species behind it.",
    NameReason.QUOTE_OPEN: "A quotation mark is missing its other half.",
    NameReason.RANK_LAST: "'{word}' needs an epithet behind it.",
    NameReason.GROUP_WITHOUT_EPITHET: (
        "'{word}' needs the Group's own name before it, as in 'Capitata Group'."
    ),
    NameReason.GENUS_INITIAL: "'{word}' could be many genera. Write the genus in full.",
    # asked
    NameReason.GLUED_SIGN: "Is the x in '{word}' the hybrid sign?",
    NameReason.UNQUOTED: "What is '{word}': the cultivar's name, or the name it is sold under?",
    NameReason.UNMARKED_BEFORE_CULTIVAR: (
        "What is '{word}': a grex, a Group, or the name it is sold under?"
    ),
    NameReason.UNMARKED_AFTER_CULTIVAR: "Is '{word}' the name it is sold under?",
    NameReason.SPECIES_OR_CULTIVAR: "Is '{word}' the cultivar's name? It does not look Latin.",
    NameReason.GROUP_OR_SPECIES: "Is '{word}' the name of a Group, or a species?",
    NameReason.RESPELT: "The botanical code of 2025 spells this '{word}'. Use that?",
    NameReason.SECOND_PARENT_WITHOUT_GENUS: "The second parent, '{word}', lacks its genus.",
    NameReason.TAUTONYM: "A species cannot repeat its genus: '{word}'. Is it another species?",
    NameReason.UNJOINED: "Does '{word}' belong to the word before it, with a hyphen?",
    NameReason.TWO_QUOTED: (
        "Two names stand in quotes ({word}). Which is the cultivar's, and which is it sold under?"
    ),
    NameReason.MARK_IN_QUOTES: (
        "'{word}' carries a trade mark sign, so it is the name it is sold under and not the "
        "cultivar's. Is that so?"
    ),
    NameReason.RANK_BEFORE_CULTIVAR: "'{word}' stands before a cultivar's name. Leave it out?",
    NameReason.RANK_AFTER_CULTIVAR: "'{word}' stands behind the cultivar's name. Move it?",
    NameReason.RANK_WITHOUT_SPECIES: "'{word}' needs a species before it. What is meant?",
    NameReason.NO_RANK: "What is '{word}': a subspecies, a variety, a form, or a cultivar?",
    NameReason.CHIMAERA_SPECIES: "A graft-chimaera has no species. Is '{word}' its cultivar name?",
    NameReason.SIGN_BEFORE_CULTIVAR: (
        "The hybrid sign does not stand before a cultivar's name. Leave it out?"
    ),
    NameReason.NOT_AN_EPITHET: "'{word}' is no cultivar name. Is the cultivar not known?",
    NameReason.COMMON_NAME: "'{word}' is a common name. Which genus is it?",
    NameReason.ONE_LETTER: "A cultivar's name cannot be a single letter: '{word}'. Keep it?",
    NameReason.ONLY_NUMERALS: "A cultivar's name cannot be only numerals: '{word}'. Keep it?",
    # flagged
    NameReason.BANNED_WORD: "'{word}' is not allowed in a cultivar's name made since 1959.",
    NameReason.TOO_LONG: "The cultivar's name has {word} characters; since 1996 at most 30.",
    NameReason.SUPERLATIVE: "'{word}' praises: not allowed in a cultivar's name made since 1959.",
    NameReason.REPEATS_GENUS: "The cultivar's name repeats the genus: '{word}'.",
    NameReason.ODD_SIGN: "The sign '{word}' is not allowed in a cultivar's name.",
}


def sentence(remark: Remark) -> str:
    """What `remark` says, without offers."""
    of_word = f" in '{remark.word}'" if remark.word else ""
    return _SENTENCES[remark.reason].format(word=remark.word, of_word=of_word)


@problem.register
def _bad_name(error: BadName) -> str:
    said = f"The name {error.typed!r}: " if error.typed.strip() else ""
    return f"{said}{sentence(Remark(error.reason, error.word))}{_meant(error.offers)}"


def question(reading: Reading) -> str:
    """What is asked about a name with the outcome `ASK`, with the offers."""
    asked = next(r for r in reading.remarks if r.reason not in WARNINGS)
    return f"{reading.typed}: {sentence(asked)}{_meant(reading.offers)}"


def notice(reading: Reading) -> str:
    """One line about a name that was stored: how it was read, and what is odd about it.

    Empty for a name that was accepted as typed.
    """
    parts = []
    if reading.outcome is Outcome.NORMALISED and reading.name is not None:
        parts.append(f"Name written as {plain(reading.name)}.")
    if reading.outcome is Outcome.WORDS:
        parts.append(f"Name kept as received: {reading.typed}. What it is stays open.")
        if reading.offers:
            parts.append(f"If it is {listed(reading.offers)}, name it so.")
    parts += [sentence(r) for r in reading.remarks if r.reason in WARNINGS]
    return " ".join(parts)


def _meant(offers: tuple[str, ...]) -> str:
    if not offers:
        return ""
    said = f" Perhaps {listed(offers)}"
    return said if said.endswith(".") else f"{said}."


# --- names put right ------------------------------------------------------------------------------


@problem.register
def _(error: NoNameToTake) -> str:
    several = f": it may be {listed(error.names)}" if error.names else ""
    return (
        f"For {error.typed} there is no one name to take over ({error.why}){several}. "
        'Type the name: ortet plant name CODE "NAME".'
    )


@problem.register
def _(error: NotInTheMixUp) -> str:
    return (
        f"{error.code} is not one of the plants that were mixed up. Name it among the first codes "
        "as well, or leave it out."
    )


@problem.register
def _(error: SaidTwice) -> str:
    return f"{error.code} was said to be confirmed and contradicted. Say one of them."


@problem.register
def _(error: SamePlantTwice) -> str:
    if error.one == error.other:
        return f"Both mean {error.one}. Give the codes of two records."
    return f"{error.one} and {error.other} were noted as possibly the same before."


@problem.register
def _(error: TagUnknown) -> str:
    return f"There is no '{error.typed}' waiting for its plant. 'ortet plant match' lists them."


@problem.register
def _(error: NameOrHow) -> str:
    return f"Say what {error.code} is in one way: a name, or --comes-true, or --from-rootstock."
