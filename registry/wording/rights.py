"""How the end of a right was found, and what every kind of right does, to be read and checked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from registry.domain.dates import FuzzyDate
from registry.domain.rights import Ends, Step, StepKind
from registry.domain.rules import terms
from registry.domain.rules.kinds import (
    KINDS,
    US_PATENTS,
    Group,
    Kind,
    KindRule,
    Listed,
    Private,
)
from registry.domain.rules.territories import Regime

_LINES = {
    StepKind.YEARS_FROM_FILING: "{years} years from filing",
    StepKind.YEARS_FROM_GRANT: "{years} years from grant",
    StepKind.GREATER_OF: "the later of the two counts",
    StepKind.OVER_BY_1995: "it was over before 8 June 1995, so only the years from grant count",
    StepKind.ADJUSTED: "the recorded days of adjustment are added",
    StepKind.ADJUSTMENT_NOT_RECORDED: (
        "days of adjustment are not recorded: at most 20 years from grant"
    ),
    StepKind.DISCLAIMED: "a disclaimer cuts it short",
    StepKind.YEAR_END: "the last day of the year, counted from the year of grant",
    StepKind.GROUP_NOT_RECORDED: "the group of plants is not recorded, so the end is a range",
    StepKind.STATED: "stated by the register or the holder",
    StepKind.PREDICTED: "an end was predicted; it may still change",
    StepKind.GIVEN_UP: "surrendered or cancelled",
    StepKind.NOTHING_TO_COUNT_FROM: "no day is recorded to count from: it counts as in force",
    StepKind.NO_LONGEST_TERM: "no longest term is known for that place",
}


def end_lines(found: Ends) -> tuple[str, ...]:
    """One line for each step of the sum, with its days and where the rule stands."""
    return tuple(_line(step) for step in found.steps)


def _line(step: Step) -> str:
    said = _LINES[step.what].format(years=step.years)
    days = _days(step.earliest, step.latest)
    return f"{said[:1].upper()}{said[1:]}{days} ({step.citation})."


def _days(earliest: date | None, latest: date | None) -> str:
    if earliest is None:
        return ""
    first = FuzzyDate.of(earliest).display()
    if latest is None:
        return f": {first} at the earliest"
    if latest == earliest:
        return f": {first}"
    return f": {first} to {FuzzyDate.of(latest).display()}"


# --- the kinds of right, for a grower to read ----------------------------------------------------

_TABLES: Mapping[Kind, Mapping[Group | None, terms.Years]] = {
    Kind.US_CERTIFICATE: terms.US_CERTIFICATE,
    Kind.EU_CPVR: terms.EU_CPVR,
    Kind.UK_PBR: terms.UK_PBR,
    Kind.CA_PBR: terms.CA_PBR,
    Kind.AU_PBR: terms.AU_PBR,
    Kind.NZ_PVR: terms.NZ_PVR,
    Kind.CH_PVR: terms.CH_PVR,
}

_COUNTED = {
    Kind.EU_CPVR: "to 31 December, counted from the year of grant",
    Kind.CH_PVR: "as the register says; else from grant",
}

_MORE: Mapping[Kind, tuple[str, ...]] = {
    Kind.US_CERTIFICATE: (
        f"Issued or pending before {FuzzyDate.of(terms.US_CERTIFICATE_NEW_ACT).display()}: "
        f"{terms.US_CERTIFICATE_OLD[0]} years, {terms.US_CERTIFICATE_OLDEST[0]} before "
        f"{FuzzyDate.of(terms.US_CERTIFICATE_18_YEARS_FROM).display()}.",
    ),
    Kind.EU_CPVR: (
        "Five years were added for some groups, also to rights alive on "
        f"{FuzzyDate.of(terms.EU_EXTENSION_FROM).display()}.",
        f"Granted to {FuzzyDate.of(terms.UK_COPIES_EU_UNTIL).display()}: a UK right of the same "
        "day stands beside it.",
    ),
    Kind.CA_PBR: (
        f"Granted before {FuzzyDate.of(terms.CA_NEW_TERM_FROM).display()}: {terms.CA_OLD_TERM} "
        "years at the least.",
    ),
    Kind.NZ_PVR: (
        f"Granted before {FuzzyDate.of(terms.NZ_NEW_ACT_FROM).display()}: 20 years, woody plants "
        "23.",
    ),
}

_PRIVATE = {
    Private.FREE: "Private and non-commercial propagating is free",
    Private.NOT_FREE: "Private propagating is not free",
    Private.NOT_READ: "Whether private propagating is free was not read, and is never taken as so",
}


def kinds_page() -> str:
    """Every kind of right as a page in Markdown: its term, its acts, private use, citations."""
    lines = [
        "# Kinds of right",
        "",
        "`ortet right kinds` prints this page; it is made from the rules that every answer uses.",
        "A memory aid, not legal advice: the rights holder, the register and the local",
        "plant-health authority decide. Two numbers such as 20 to 25 mean that wordings differ or",
        "that the record leaves a choice: up to the first a right counts as in force, after the",
        "second as ended, and between them it is not known until the register is read.",
    ]
    for rule in KINDS.values():
        lines += ["", f"## {rule.kind.value}", "", *(f"- {line}" for line in _kind(rule))]
    return "\n".join(lines)


def _kind(rule: KindRule) -> Iterator[str]:
    where = "any other place" if rule.regime is Regime.OTHER else rule.regime.value
    yield f"Where: {where}."
    yield from _term(rule.kind)
    acts = "propagating, selling, and giving or swapping in trade"
    more = [
        word
        for word, listed in (("exporting", rule.lists_export), ("importing", rule.lists_import))
        if listed is Listed.YES
    ]
    yield f"Needs the holder's leave: {', '.join([acts, *more])} ({rule.citation})."
    unsaid = [
        word
        for word, listed in (("exporting", rule.lists_export), ("importing", rule.lists_import))
        if listed is Listed.UNSAID
    ]
    if unsaid:
        yield f"Not listed, so not known: {', '.join(unsaid)}."
    yield f"{_PRIVATE[rule.private]} ({rule.private_citation})."
    listed = [
        word
        for word, said in (("giving", rule.private_gift), ("swapping", rule.private_swap))
        if said is Listed.YES
    ]
    if listed:
        yield f"Reaches a copy's private {' and '.join(listed)} too."
    if rule.keep_is_use:
        yield "Keeping a copy made without leave may count as using it."


def _term(kind: Kind) -> Iterator[str]:
    cited = terms.TERM_CITATION[kind]
    if kind in US_PATENTS:
        change = FuzzyDate.of(terms.US_TWENTY_YEARS_FROM).display()
        yield f"Lasts {terms.US_TERM} years from filing or the earliest filing claimed ({cited})."
        yield (
            f"Filed before {change}: the later of that and {terms.US_OLD_TERM} years from grant; "
            "no days of adjustment."
        )
        yield (
            "Recorded days of adjustment are added; where none are recorded it lasts at most "
            f"{terms.US_TERM} years from grant. A disclaimer only shortens."
        )
    elif kind in _TABLES:
        counted = _COUNTED.get(kind, "from grant")
        yield f"Lasts, {counted}: {_years(_TABLES[kind])} ({cited})."
        yield from _MORE.get(kind, ())
    else:
        yield (
            f"Lasts at least {terms.OTHER_FEWEST} years from grant ({cited}); no longest term is "
            "known, so only a stated end clears it."
        )


def _years(table: Mapping[Group | None, terms.Years]) -> str:
    """`20 years; tree, vine 25`; a group that nobody recorded takes the widest range."""
    plain = table[Group.OTHER]
    others: dict[terms.Years, list[str]] = {}
    for group, years in table.items():
        if group is not None and years != plain:
            others.setdefault(years, []).append(group.value)
    parts = [f"{_range(plain)} years"]
    parts += [f"{', '.join(groups)} {_range(years)}" for years, groups in others.items()]
    parts.append(f"group not recorded {_range(table[None])}")
    return "; ".join(parts)


def _range(years: terms.Years) -> str:
    return str(years[0]) if years[0] == years[1] else f"{years[0]} to {years[1]}"
