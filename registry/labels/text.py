"""What a label says: the values that a service hands over to be drawn.

Nothing here or in `layout` makes up a name, a person or a date; what is not given is not printed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from registry.domain.names.printing import Run


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
