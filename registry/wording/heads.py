"""What a head of the chain says to whoever keeps it."""

from __future__ import annotations

from registry.domain.dates.value import MONTHS
from registry.domain.heads import Statement


def slip(said: Statement) -> tuple[tuple[str, str], ...]:
    """The lines of a slip, as (what, words)."""
    return (
        ("Registry of", said.grower),
        ("Newest entry", f"{said.entry}, recorded {moment(said.recorded)}"),
        ("Head", said.head.printed),
        ("SHA-256", said.hash[:32]),
        ("", said.hash[32:]),
        ("Registry", said.registry),
        ("Taken", moment(said.issued)),
    )


def advice(said: Statement) -> tuple[str, ...]:
    """What to do with it."""
    return (
        "Keep this away from the registry, or leave it with a friend. Whoever has it can tell on "
        "any later day whether the registry still holds everything that it held then:",
        f'ortet verify --against "{said.head.printed}"',
        "Read it aloud group by group: the sign behind each dash checks what came before it.",
    )


def moment(text: str) -> str:
    """A moment in ISO 8601, in UTC, as people read it: 14 May 2026, 10:00 UTC.

    >>> moment("2026-05-14T10:00:00+00:00")
    '14 May 2026, 10:00 UTC'
    """
    year, month, day = int(text[:4]), int(text[5:7]), int(text[8:10])
    return f"{day} {MONTHS[month - 1]} {year}, {text[11:16]} UTC"
