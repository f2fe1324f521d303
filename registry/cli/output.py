"""Tables and small turns of phrase for a terminal: plain text, no colour."""

from __future__ import annotations

import json
import re
import shutil
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from registry.cli.app import App
    from registry.errors import NotRecorded
    from registry.services.history import Subject


NO_TERMINAL = 1_000_000
"""As wide as anything is."""

NARROWEST = 12
"""Places that a column keeps when a table is made to fit."""


def table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Rows under their heads, in columns that fit the terminal; empty columns are left out.

    What is too long for its column goes on below, broken between words; nothing is cut off, so
    a table of codes alone may be wider than a narrow terminal. In a file or a pipe every row is
    one line, so that it can be searched.

    >>> table(["code", "place", "name"], [["26-0001-5", None, "fig"], ["26-0002-3", "", None]])
    ['code       name', '26-0001-5  fig', '26-0002-3']
    """
    cells = [["" if value is None else str(value) for value in row] for row in rows]
    if not cells:
        return []
    used = [[head, *column] for head, *column in zip(heads, *cells, strict=True) if any(column)]
    widths = _fitting(used, shutil.get_terminal_size((NO_TERMINAL, 0)).columns)
    folded = [
        [_folded(text, width) for text in column]
        for column, width in zip(used, widths, strict=True)
    ]
    widths = [max(_across(part) for text in column for part in text) for column in folded]
    lines = []
    for row in zip(*folded, strict=True):
        for parts in zip_longest(*row, fillvalue=""):
            padded = [
                part + " " * (width - _across(part))
                for part, width in zip(parts, widths, strict=True)
            ]
            lines.append("  ".join(padded).rstrip())
    return lines


def _fitting(columns: Sequence[Sequence[str]], room: int) -> list[int]:
    """How wide each column is, in places: as its longest text, or less if the table would not fit.

    The widest gives way first, never below its longest word.
    """
    widths = [max(map(_across, column)) for column in columns]
    least = [
        min(width, max(NARROWEST, *(_across(word) for text in column for word in text.split(" "))))
        for width, column in zip(widths, columns, strict=True)
    ]
    over = sum(widths) + 2 * (len(widths) - 1) - room
    while over > 0:
        givers = [at for at, width in enumerate(widths) if width > least[at]]
        if not givers:
            break
        widest = max(givers, key=lambda at: widths[at])
        widths[widest] -= 1
        over -= 1
    return widths


def _across(text: str) -> int:
    """How many places of a terminal a text takes: wide signs two (Unicode Annex 11)."""
    return sum(
        0 if unicodedata.combining(sign) else 1 + (unicodedata.east_asian_width(sign) in "WF")
        for sign in text
    )


def _folded(text: str, room: int) -> list[str]:
    """A text in lines of at most `room` places, broken between words; nothing is cut off."""
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if lines[-1] and _across(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


_PLANT = re.compile(r"(\d+-\d+)-(\d+)-[\dX]")
"""A plant's code: its accession, its number there, its check character."""


def in_ranges(codes: Sequence[str]) -> str:
    """Codes in a line; three and more plants of a batch in a row as the first and the last.

    >>> in_ranges(["26-0002-001-3", "26-0002-002-1", "26-0002-003-X", "26-0005-001-X"])
    '26-0002-001-3 to 26-0002-003-X, 26-0005-001-X'
    """
    rows: list[list[str]] = []
    before: tuple[str, int] | None = None
    for code in codes:
        plant = _PLANT.fullmatch(code)
        here = (plant[1], int(plant[2])) if plant else None
        if here and before and here == (before[0], before[1] + 1):
            rows[-1].append(code)
        else:
            rows.append([code])
        before = here
    return ", ".join(f"{row[0]} to {row[-1]}" if len(row) > 2 else ", ".join(row) for row in rows)


def some(n: int, one: str, many: str | None = None) -> str:
    """A number with its word.

    >>> some(1, "plant"), some(3, "plant")
    ('1 plant', '3 plants')
    """
    return f"{n} {one if n == 1 else many or f'{one}s'}"


def as_json(facts: Any) -> str:
    """Facts as JSON to read, in the order of their documented keys."""
    return json.dumps(facts, ensure_ascii=False, indent=2)


def refusal_lines(refused: NotRecorded) -> list[str]:
    """What is said on stderr when an act was not recorded because of its verdict."""
    from registry.wording.leave import refusal

    return list(refusal(refused))


def refusal_json(refused: NotRecorded) -> str:
    """The same for a program: what it takes, and the verdict with its findings."""
    answer: Any = refused.answer
    return as_json(
        {
            "recorded": False,
            "act": refused.act,
            "need": "--open" if refused.need == "open" else "--anyway",
            "verdict": answer.level,
            "findings": [finding.as_json() for finding in answer.findings],
        }
    )


def past(app: App, session: Session, subject: Subject, facts: dict[str, Any], title: str) -> None:
    """Answer with the past of a record: every entry that touched it."""
    from dataclasses import asdict

    from registry.services.history import past_of
    from registry.wording.history import change, past_lines

    found = past_of(session, subject)
    facts["history"] = [
        {
            "entry": one.seq,
            "what": one.what,
            "recorded": one.recorded,
            "happened": one.happened,
            "by": one.by,
            "why": one.why,
            "changes": [{**asdict(row), "says": change(row)} for row in one.changes],
        }
        for one in found
    ]
    app.answer(facts, title, *past_lines(found))
