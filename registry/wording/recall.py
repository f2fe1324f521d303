"""What a recall says: why something is exposed, what widened it, what a receiver is told."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from registry import errors
from registry.domain.recalls import (
    BY_COUNT,
    Found,
    Line,
    LotSum,
    More,
    Pool,
    Recalled,
    Sums,
    Tick,
    Why,
    Widened,
)
from registry.wording.basics import edtf_words
from registry.wording.problems import problem

_WHY = {
    Why.START: "the recall is about it",
    Why.SOURCE: "what the recall is about came from it",
    Why.DESCENT: "came of {via}",
    Why.GRAFTED: "grown together with {via}",
    Why.BATCH: "in one batch with {via}",
    Why.PLACE: "in one place with {via} on the day",
    Why.SUPPLIER: "from the same supplier as {via}",
    Why.TOOL: "cut with the same tool as {via}",
    Why.TRAY: "in one tray with {via}",
    Why.AMONG: "{via} may be among them",
    Why.RETURNED: "left as {via} and came back",
}
_WIDENED = {
    Widened.PARENT: "its parent is one of several",
    Widened.DAY: "the day it came is not recorded",
    Widened.PLACE: "where it stood after potting is not recorded",
    Widened.WHICH: "which ones went is not said",
    Widened.CLEANED: "no disinfecting in between is recorded",
    Widened.TRAY: "when it left the tray is not recorded",
    Widened.CUT: "which of several plants was cut is not said",
    Widened.SAME: "whether it is what had left is not recorded",
}
FOUND = {
    Found.SOUND: "sound",
    Found.SICK: "sick",
    Found.DESTROYED: "destroyed",
    Found.REACHED: "receiver told",
    Found.RETURNED: "came back",
    Found.MISSING: "looked for, not found",
}
"""What was found, in words."""

NOTICE_WIDTH = 78
"""A notice is read on paper, or in a mail program that breaks no lines."""


def why(line: Line) -> str:
    """Why a line is in the recall, with what widened the circle to it."""
    reason = _WHY[line.why].format(via=line.via)
    if line.why is Why.PLACE and line.via is None:
        reason = "stood there on the day"
    doubts = "; ".join(_WIDENED[word] for word in line.widened)
    return f"{reason} ({doubts})" if doubts else reason


def where(line: Line) -> str:
    """Where a line stands, or whom it went to and how to reach them."""
    if line.to is not None:
        back = f"; came back as {line.back_as}" if line.back_as else ""
        return f"{went(line)} to {holder(line)}{back}"
    if line.left_on and not line.to_do:
        return went(line)
    if line.where:
        return line.where
    return "place not recorded" if line.to_do else line.status


def went(line: Line) -> str:
    """How and when a line left or ended."""
    return f"{line.status} {edtf_words(line.left_on)}" if line.left_on else line.status


def holder(line: Line) -> str:
    """Who has a line now, and how to reach them."""
    contact = f", {line.contact}" if line.contact else ""
    return f"{line.to or 'not named'}{contact}"


def found(line: Line) -> str:
    """The newest finding of a line, with who and when; empty where nobody has looked.

    Where it is of a part of the line, all that are so. That it was found sick before is not lost
    where somebody else finds it sound.
    """
    told = [_found(tick) for tick in line.newest]
    if line.before is not None:
        told.append(f"before: {_found(line.before)}")
    return "; ".join(told)


def _found(newest: Tick) -> str:
    n = f" ({newest.n})" if newest.n is not None else ""
    more = f", {newest.note}" if newest.note else ""
    on = f", {edtf_words(newest.on)}" if newest.on else ""
    return f"{FOUND[newest.what]}{n}, {newest.by}{on}{more}"


def after_tick(number: int, what: Found, lines: Sequence[Line], left: int) -> list[str]:
    """What a tick calls for: what the record does not know yet, and what to type next."""
    told = []
    before = sum(line.before is not None for line in lines)
    if before:
        told.append(
            f"{before} of them {'was' if before == 1 else 'were'} found sick before; both findings "
            f'stand. If this was a slip: ortet correct last --void "WHY"'
        )
    here = next((line for line in lines if line.to is None and line.to_do), None)
    away = next((line for line in lines if line.to is not None), None)
    if what is Found.DESTROYED and here is not None:
        end = (
            f"ortet plant end {here.code} --how destroyed"
            if here.kind == "plant"
            else f"ortet look {here.code} --culled N"
        )
        told.append(f"The record has it standing still. Next: '{end}'.")
    if what is Found.RETURNED and away is not None:
        count = " --count N" if away.kind == BY_COUNT else ""
        told.append(
            f"The record has it away still. Next: 'ortet receive --back {away.code}{count}'."
        )
    if not left:
        told.append(f"Next: 'ortet recall close {number} --finding \"WHAT IT WAS\"'.")
    return told


def what(line: Line) -> str:
    """How many of what a line is."""
    if line.kind == "plant":
        return "1 plant" if line.n == 1 else f"{line.n} plants in a pot"
    if line.kind == "lot":
        return "number not exact" if line.n is None else f"{line.n} in the bench"
    return f"{line.n} {'pot' if line.n == 1 else 'pots'}, not said which"


def heading(recall: Recalled) -> str:
    """What a recall is about, in a line."""
    return f"Recall {recall.id}: {about(recall.kind, recall.subject, recall.on)}. {recall.reason}"


def about(kind: str, subject: str, on: str | None) -> str:
    """What a recall is about, with the day of exposure.

    >>> about("tool", "red secateurs", "12 June 2024"), about("plant", "26-0001-X", None)
    ('tool red secateurs on 12 June 2024', '26-0001-X')
    """
    return called(kind, subject) + (f" on {on}" if on else "")


def called(kind: str, name: str) -> str:
    """A tool or tray with the word for what it is, where its name does not say so; else the name.

    >>> called("tray", "tray 4"), called("tool", "red secateurs"), called("plant", "26-0001-X")
    ('tray 4', 'tool red secateurs', '26-0001-X')
    """
    if kind not in ("tool", "tray") or kind in name.casefold().split():
        return name
    return f"{kind} {name}"


def sum_lines(sums: Sums) -> tuple[str, ...]:
    """The sums of a recall: the parts add up to all exposed plants."""
    lines = [
        f"Exposed plants: {sums.plants} = {sums.standing} standing + {sums.ended} dead or "
        f"destroyed + {sums.named} left to somebody named + {sums.not_named} left, not named"
    ]
    if sums.back or sums.back_unsaid:
        lines.append(
            f"Left and came back: {sums.back + sums.back_unsaid}, counted where they stand now"
        )
    if sums.unsaid:
        back = f", and {sums.back_unsaid} came back" if sums.back_unsaid else ""
        gone = (
            f"{sums.unsaid} are gone by count: {sums.unsaid_named} to somebody named, "
            f"{sums.unsaid_not_named} not named, {sums.unsaid_ended} dead{back}."
        )
        if sums.here == sums.here_most:
            lines.append(
                f"Of the pots standing by their codes {gone} So {sums.here} "
                f"{'plant' if sums.here == 1 else 'plants'} must be here."
            )
        else:
            lines.append(
                f"Of the pots of these batches {gone} Which ones is not said, so {sums.here} to "
                f"{sums.here_most} plants must be here."
            )
    if sums.cuttings or sums.inexact:
        open_ = f", and {sums.inexact} lots whose number is not exact" if sums.inexact else ""
        lines.append(f"Cuttings in the bench: {sums.cuttings}{open_}")
    return tuple(lines)


def since(number: int, more: More) -> str:
    """What has come to be exposed since a recall was listed, and how to list it.

    >>> since(3, More(1, 2, 0))
    "Exposed since and not listed: 1 plant, 2 lots. 'ortet recall more 3' lists them."
    """
    parts = [
        f"{n} {one if n == 1 else many}"
        for n, one, many in (
            (more.plants, "plant", "plants"),
            (more.lots, "lot", "lots"),
            (more.pots, "pot left by count", "pots left by count"),
        )
        if n
    ]
    return (
        f"Exposed since and not listed: {', '.join(parts)}. 'ortet recall more {number}' lists "
        "them."
    )


def lot_line(lot: LotSum) -> str:
    """The count of a lot in a line; what does not come out is said."""
    words = {
        "stuck": "stuck",
        "moved_in": "moved in",
        "recounted": "recounted",
        "potted": "potted",
        "lost": "lost",
        "culled": "culled",
        "left_as_cuttings": "left as cuttings",
        "moved_out": "moved out",
    }
    moved = " ".join(
        f"{lot.moved[kind]:+d} {word}" for kind, word in words.items() if kind in lot.moved
    )
    left = "not exact" if lot.in_bench is None else str(lot.in_bench)
    pots = ", ".join(f"{n} {status}" for status, n in sorted(lot.pots.items()))
    line = f"{lot.code}: {moved or lot.opening} = {left} in the bench"
    if pots:
        line += f"; pots: {pots}"
    if lot.unsaid:
        pots_ = "1 pot" if lot.unsaid == 1 else f"{lot.unsaid} pots"
        line += f", {pots_} of them gone by count"
    if lot.unexplained:
        line += f"; {lot.unexplained:+d} that no entry explains"
    return line


def pool_line(pool: Pool) -> str:
    """How many pots of a batch are gone where nobody said of which lot.

    >>> pool_line(Pool("26-0003-5", True, (1, 1, 1), 10, 8, 0))
    '26-0003-5: 8 of its pots are gone by count, of which lot is not said; 13 stand by their codes'
    """
    return (
        f"{pool.code}: {pool.gone} of its pots are gone by count, of which lot is not said; "
        f"{len(pool.exposed) + pool.others} stand by their codes"
    )


def unaccounted(lines: Sequence[Line], pools: Sequence[Pool]) -> str:
    """How much is unaccounted for; a pot that left by count counts by its code as well."""
    words = f"Unaccounted for: {len(lines)} {'line' if len(lines) == 1 else 'lines'}"
    gone = sum(min(pool.gone, len(pool.exposed)) for pool in pools)
    codes = min(gone, sum(line.kind == "plant" and line.to is None for line in lines))
    if codes:
        return f"{words}. Up to {codes} of the codes here can be pots that left or died by count."
    plants = sum(line.n or 0 for line in lines)
    kind = "plant or cutting" if plants == 1 else "plants and cuttings"
    return f"{words}, in all {plants} {kind}."


def notice(recall: Recalled, lines: Sequence[Line], grower: str, reach: str | None) -> str:
    """What a receiver is told: what they got and when, why we ask, and what to do.

    Args:
        recall: The recall.
        lines: What the receiver has.
        grower: Who sends it.
        reach: How to reach the grower.
    """
    items = "\n".join(
        f"  - {line.name}, {what(line)}, code {line.code}, {went(line)}" for line in lines
    )
    paragraphs = (
        "Please keep them apart from your other plants, take no cuttings from them, and do not "
        "pass them on until we have spoken. Look them over and tell us what you see, and whether "
        "you still have them; if they went on to somebody else, tell us to whom.",
        "We do not know that your plants are affected; they have been near to what was.",
    )
    return "\n\n".join(
        (
            f"To {holder(lines[0])}",
            fill(
                f"You have had plants from {grower} that may be affected: {recall.reason} (noticed "
                f"by {recall.opened}; our recall {recall.id})",
                NOTICE_WIDTH,
            ),
            items,
            *(fill(words, NOTICE_WIDTH) for words in paragraphs),
            f"{grower}{f', {reach}' if reach else ''}\n",
        )
    )


@problem.register
def _(error: errors.RecallEmpty) -> str:
    day = f" on {error.on}" if error.on else ""
    return f"Nothing on record is exposed through {error.subject}{day}. Nothing was recorded."


@problem.register
def _(error: errors.RecallClosed) -> str:
    return (
        f"Recall {error.number} was closed on {error.on} and stays as it is. Start another for "
        "what has come up since."
    )


@problem.register
def _(error: errors.RecallComplete) -> str:
    return (
        f"All that is exposed has its line in recall {error.number}. Nothing was recorded. 'ortet "
        f"recall show {error.number}' lists it."
    )


@problem.register
def _(error: errors.RecallOutdated) -> str:
    more = since(error.number, More(error.plants, error.lots, error.pots))
    return f"Recall {error.number} is not closed. {more}"


@problem.register
def _(error: errors.NotInRecall) -> str:
    return (
        f"{error.typed} is not in recall {error.number}. 'ortet recall show {error.number}' lists "
        "what is."
    )


@problem.register
def _(error: errors.TickOfSeveral) -> str:
    return (
        f"--count {error.n} is of one line, and what was named is {error.lines} lines of recall "
        f"{error.number}. Name one code or --line, or leave --count out to say it of all."
    )


@problem.register
def _(error: errors.MoreThanLine) -> str:
    return (
        f"Line {error.line} of recall {error.number} is {error.most}, and --count {error.n} is "
        "more. Count again, or leave --count out to say it of all."
    )


@problem.register
def _(error: errors.RecallNotSaid) -> str:
    if error.what == "place":
        return f"What stood in {error.typed} changes: say on which day, with --on."
    if error.what == "tool":
        return f"What met {error.typed} changes from day to day: say on which day, with --on."
    if error.what == "tick":
        return f"Say which plants of recall {error.typed}: codes, or --line with their numbers."
    return (
        "Say what the recall is about: a code, --place, --tool or --tray with --on, or --supplier."
    )
