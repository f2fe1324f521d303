"""What is said of a person's data: where it stands, what must be kept, what goes."""

from __future__ import annotations

from registry.domain.rules.retention import Dealt, Keep
from registry.errors import GrowerStays, MustBeKept
from registry.wording.basics import day_words
from registry.wording.problems import problem

OCCURS = {
    ("ownership", "person_id"): "owner of a plant",
    ("plant", "source_id"): "source of a plant",
    ("plant", "witness_id"): "saw a plant destroyed",
    ("consent", "person_id"): "gave or refused leave",
    ("determination", "person_id"): "said what a plant is",
    ("identity_check", "person_id"): "compared a plant with its name",
    ("release", "person_id"): "receiver of what left",
    ("receipt", "person_id"): "giver of what arrived",
    ("recall", "person_id"): "a recall is about what they supplied",
    ("note", "person_id"): "a note is kept with them",
    ("attachment", "person_id"): "a file is kept with them",
    ("blanking", "person_id"): "details were emptied",
}
"""How a person comes into a record, by table and column."""

_DEALT = {
    Dealt.CAME_FROM: "{about} came from them",
    Dealt.WENT_TO: "{about} went to them",
    Dealt.TERMS: "{about} came from them under agreed terms",
}


def occurs(table: str, column: str) -> str:
    """How a person comes into a record."""
    return OCCURS.get((table, column)) or f"{table} ({column})".replace("_", " ")


def kept(keep: Keep) -> str:
    """What must be kept, until when and why."""
    what = _DEALT[keep.dealing.dealt].format(about=keep.dealing.about)
    if keep.until is None:
        until = "until twenty years after the last of it is gone"
    else:
        until = f"until {day_words(keep.until)}"
    return f"{what}: to be kept {until} ({keep.citation})"


@problem.register
def _(error: GrowerStays) -> str:
    return f"This is the registry of {error.name}, whose own details stay as long as it does."


@problem.register
def _(error: MustBeKept) -> str:
    reasons = "".join(f"\n  {kept(keep)}" for keep in error.keep[:10])
    more = len(error.keep) - 10
    rest = f"\n  and {more} more" if more > 0 else ""
    when = f"after {day_words(error.until)}" if error.until else "when that is over"
    return (
        f"What is held of {error.name} may still be asked for by an authority, so nothing was "
        f"emptied:{reasons}{rest}\nAsk again {when}."
    )
