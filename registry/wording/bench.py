"""What is said when a reference or a count at the bench is wrong."""

from __future__ import annotations

from registry import errors
from registry.wording.basics import listed
from registry.wording.problems import problem

_SLIPS = (errors.CodeReason.CHECK, errors.CodeReason.NO_CHECK)
_SOURCE = {
    "again": "Name one lot to stick again, such as 14B, and how many pieces: --count N. "
    "'ortet batch show' has the lots of a batch.",
    "split": "Name one lot to split, such as 14B. 'ortet batch show' has the lots of a batch.",
    "merge": "Name two lots or more to merge, each with how many go in: CODE=4 CODE=5.",
    "graft": "A graft needs a scion and a rootstock: --scion CODE --rootstock CODE.",
}


@problem.register
def _(error: errors.CodeUnknown) -> str:
    if error.near:
        return f"No record has the code '{error.typed}'. Did you mean {listed(error.near)}?"
    slip = error.problem
    if isinstance(slip, errors.BadCode) and slip.reason in _SLIPS:
        return (
            f"No record has the code '{error.typed}', nor one that a single slip would make of "
            "it. Compare it with the label, or look for the name: ortet plant list --name WORDS."
        )
    if slip is not None and not (
        isinstance(slip, errors.BadCode) and slip.reason is errors.CodeReason.SHAPE
    ):
        return problem(slip)
    if not any(sign.isdigit() for sign in error.typed):
        return (
            f"No record has the code or number '{error.typed}'. If it is a name, look for it: "
            f'ortet plant list --name "{error.typed}".'
        )
    return (
        f"No record has the code or number '{error.typed}'. "
        "'ortet plant list' and 'ortet batch list' show those there are."
    )


@problem.register
def _(error: errors.SeveralMeant) -> str:
    if not error.codes:
        return f"No recorded code fits what is left of '{error.typed}'. Look for it by its name."
    return f"'{error.typed}' could be {listed(error.codes)}. Type the one that is meant."


@problem.register
def _(error: errors.NothingLast) -> str:
    return "Nothing was recorded yet that 'last' could mean. Type a code."


@problem.register
def _(error: errors.NothingOpen) -> str:
    return (
        f"Nothing is left in the bench of {error.typed}. If that is wrong, put the last count "
        "right with 'ortet correct last'."
    )


@problem.register
def _(error: errors.NotABatch) -> str:
    first = f"{error.typed} is a plant, and nothing of it stands in a bench."
    if error.batch is not None:
        return f"{first} It was potted from batch {error.batch}: type that number."
    return f"{first} Give the number of a batch: 'ortet batch list' shows them."


@problem.register
def _(error: errors.LetterUnknown) -> str:
    return (
        f"{error.typed} has no open lot {error.letter}. Its open lots are {listed(error.letters)}."
    )


@problem.register
def _(error: errors.LettersNeeded) -> str:
    return f"{error.typed} has several open lots. Say which: {listed(error.letters)}."


@problem.register
def _(error: errors.EachLotNeeded) -> str:
    counts = ",".join(f"{letter}=N" for letter in error.letters)
    return (
        f"{error.unsaid} went out of {error.code} without being said from which lot. "
        f"Count every open lot first: ortet recount {error.code} {counts}"
    )


@problem.register
def _(error: errors.StuckBeforeTaken) -> str:
    return (
        f"Stuck on {error.stuck} is before it was taken, {error.taken}. Put --on or --taken right."
    )


@problem.register
def _(error: errors.CountNotExact) -> str:
    return (
        f"{error.what.capitalize()}: '{error.said}' is not a number that can be moved. "
        "Count them and give a whole number."
    )


@problem.register
def _(error: errors.Overdrawn) -> str:
    left = (
        "none is" if error.left == 0 else f"only {error.left} {'is' if error.left == 1 else 'are'}"
    )
    return (
        f"{error.asked} asked of {error.code}, but {left} left in it. Give what was really there, "
        "or put an earlier count right with 'ortet recount'."
    )


@problem.register
def _(error: errors.LookBeyondCount) -> str:
    return (
        f"{error.said} said to stand in {error.code}, but {error.left} are left in it. "
        "Count again, or put the number right with 'ortet recount'."
    )


@problem.register
def _(error: errors.PiecesFewer) -> str:
    return (
        f"{error.pieces} {'cutting' if error.pieces == 1 else 'cuttings'} cannot make "
        f"{error.plants} plants. Give --pieces as the number "
        "of cuttings that went into the pots."
    )


@problem.register
def _(error: errors.AlreadyStuck) -> str:
    return (
        f"{error.code} is stuck already. To set the same pieces once more, use "
        f"'ortet stick --again {error.code}'."
    )


@problem.register
def _(error: errors.NotStuckYet) -> str:
    return (
        f"{error.code} was taken and is not stuck yet, so nothing of it can be potted. Stick it "
        f"first, with its day if that was earlier: ortet stick {error.code} --on DAY."
    )


@problem.register
def _(error: errors.NothingToPot) -> str:
    return (
        f"No plant is potted with 0. Give how many were; to record what stands in {error.typed}, "
        f"use 'ortet look {error.typed}'."
    )


@problem.register
def _(error: errors.NotPottedYet) -> str:
    return (
        f"No plant of {error.typed} is potted yet, so nothing can be taken from it. "
        f"Pot it up first ('ortet pot-up {error.typed} --count N'), or set its pieces once more "
        f"('ortet stick --again {error.typed}')."
    )


@problem.register
def _(error: errors.SourceMissing) -> str:
    return _SOURCE.get(
        error.act,
        "Say which plant the material is from: its code, or its name as it was given to you.",
    )


@problem.register
def _(error: errors.EntryUnknown) -> str:
    return f"There is no entry '{error.typed}'. 'ortet correct --list' shows the newest ones."


@problem.register
def _(error: errors.NothingToPutRight) -> str:
    return (
        "Nothing is on record that could be taken back. 'ortet correct --list' shows the entries."
    )


_INSTEAD = {
    "init": "A registry's beginning stays; make another with 'ortet init', in a file of its own.",
    "settings": "Set it to what it should be: 'ortet settings set'.",
    "label stock": "Add the stock again under its name, with the right measures.",
    "person blank": "What was emptied is gone for good.",
    "correct": "Record the act again that it took back.",
    "label printed": "Take the act back that ordered the labels.",
}
"""What is done instead of taking an act back."""


@problem.register
def _(error: errors.NotTakenBack) -> str:
    instead = _INSTEAD.get(error.what, "It changed nothing that was recorded.")
    return (
        f"Entry {error.seq} ({error.what}) is not one that is taken back. {instead} "
        "If another one was meant, 'ortet correct --list' shows its number."
    )


@problem.register
def _(error: errors.AlreadyTakenBack) -> str:
    return f"Entry {error.seq} was taken back already, by entry {error.by}."


@problem.register
def _(_error: errors.WhyMissing) -> str:
    return 'The reason is empty. Say in a few words why it is taken back: --void "typed twice".'


@problem.register
def _(error: errors.LeansOnIt) -> str:
    parts = []
    if error.later:
        entries = listed(tuple(str(seq) for seq in error.later))
        parts.append(f"later entries build on it ({entries})")
    if error.ended:
        parts.append(f"plants of it have left or ended ({listed(error.ended)})")
    return (
        f"Entry {error.seq} cannot be taken back: {' and '.join(parts)}. "
        "Take those back first, the newest before the older."
    )


@problem.register
def _(error: errors.ClosesCircle) -> str:
    return (
        f"That would close a circle: {' -> '.join(error.codes)}. A plant cannot descend from "
        "itself; one of these parents is wrong."
    )


@problem.register
def _(error: errors.BeforeItWas) -> str:
    return (
        f"{error.day} is before {error.code} was there: it began {error.since}. One of the two "
        "days is wrong; --on says the day of this act."
    )


@problem.register
def _(error: errors.ChildBeforeParent) -> str:
    return (
        f"{error.child} ({error.child_day}) cannot come from {error.parent}, which began "
        f"{error.parent_day}. One of the two days is wrong."
    )
