"""What a label says: the values that a service hands over to be drawn.

Nothing here or in `layout` makes up a name, a person or a date; what is not given is not printed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from registry.domain.names.printing import Run
from registry.wording.labels import from_source


class LabelKind(Enum):
    """What a label is for, which decides what stands where."""

    PLANT = "plant"
    BATCH = "batch"
    SALE = "sale"
    BLANK = "blank"
    HOLD = "hold"


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot on a batch card.

    `letter` is empty on the card of a single lot. `runs` is the lot's name where it differs from
    the card's, `source` the code it was cut from, `count` as it was said (`14`, `about 14`),
    `details` wood, treatment and the like as they shall print.
    """

    letter: str = ""
    runs: tuple[Run, ...] = ()
    source: str = ""
    count: str = ""
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LabelText:
    """One label's text, ready to be laid out.

    `runs` is the name in proper form. `source_code` is the plant it came from. `lines` are dates
    and other short lines, the most important first: where room is short, the last go first.
    `payload` is what the symbol says; without it there is no symbol. `heading` is the large word of
    a hold tag or the price of a sale label. `lots` are for a batch card alone, `write_on` are the
    words before the ruled lines of a blank tag.
    """

    kind: LabelKind
    code: str
    runs: tuple[Run, ...] = ()
    source_code: str | None = None
    lines: tuple[str, ...] = ()
    payload: str | None = None
    heading: str = ""
    lots: tuple[LotRow, ...] = ()
    write_on: tuple[str, ...] = ()


def pencil_lines(label: LabelText) -> tuple[str, ...]:
    """The lines to copy by hand: code first, because it finds all the rest.

    >>> pencil_lines(LabelText(LabelKind.PLANT, "26-0014-007-X", source_code="19-0003-4"))
    ('26-0014-007-X', 'from 19-0003-4')
    """
    name = "".join(run.text for run in label.runs)
    source = from_source(label.source_code) if label.source_code else ""
    lots = (_lot_line(row) for row in label.lots)
    lines = (label.heading, label.code, name, source, *label.lines, *lots)
    return tuple(line for line in lines if line)


def _lot_line(row: LotRow) -> str:
    name = "".join(run.text for run in row.runs)
    source = from_source(row.source) if row.source else ""
    first = " ".join(part for part in (row.letter, row.count) if part)
    return ", ".join(part for part in (first, name, source, *row.details) if part)
