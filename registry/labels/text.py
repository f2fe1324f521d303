"""What a label says: the values that a service hands over to be drawn.

Nothing here or in `layout` makes up a name, a person or a date; what is not given is not printed.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import Enum
from typing import Any

from registry.domain.names.printing import Run, Style
from registry.wording.labels import from_source


class LabelKind(Enum):
    """What a label is for, which decides what stands where."""

    PLANT = "plant"
    BATCH = "batch"
    SALE = "sale"
    BLANK = "blank"
    HOLD = "hold"
    PASSPORT = "passport"


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
    `typed` are lines of the grower's own for this one printing, before the others. `notices` are
    words that a right or a consent obliges the label to carry: a label without room for them is
    refused. `payload` is what the symbol says; without it there is no symbol. `heading` is the
    large word of a hold tag, the price of a sale label or the title of a plant passport; `flag`
    says that the passport is the EU's. `lots` are for a batch card alone, `write_on` are the words
    before the ruled lines of a blank tag.
    """

    kind: LabelKind
    code: str
    runs: tuple[Run, ...] = ()
    source_code: str | None = None
    lines: tuple[str, ...] = ()
    typed: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    payload: str | None = None
    heading: str = ""
    flag: bool = False
    lots: tuple[LotRow, ...] = ()
    write_on: tuple[str, ...] = ()


def pencil_lines(label: LabelText) -> tuple[str, ...]:
    """The lines to copy by hand: code first, because it finds all the rest.

    >>> pencil_lines(LabelText(LabelKind.PLANT, "26-0014-007-X", source_code="19-0003-4"))
    ('26-0014-007-X', 'from 19-0003-4')
    """
    name = "".join(run.text for run in label.runs)
    source = from_source(label.source_code) if label.source_code else ""
    lots = (lot_line(row) for row in label.lots)
    below = (source, *label.lines, *lots, *label.notices)
    lines = (label.heading, label.code, name, *label.typed, *below)
    return tuple(line for line in lines if line)


def label_to_json(label: LabelText) -> str:
    """The exact text of a label as one line of JSON, to be kept and drawn again."""
    values = {
        "kind": label.kind.value,
        "code": label.code,
        "runs": _runs_out(label.runs),
        "source_code": label.source_code,
        "lines": label.lines,
        "typed": label.typed,
        "notices": label.notices,
        "payload": label.payload,
        "heading": label.heading,
        "flag": label.flag,
        "lots": [
            {
                "letter": row.letter,
                "runs": _runs_out(row.runs),
                "source": row.source,
                "count": row.count,
                "details": row.details,
            }
            for row in label.lots
        ],
        "write_on": label.write_on,
    }
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))


def label_from_json(text: str) -> LabelText:
    """The label that `label_to_json` kept.

    >>> label = LabelText(LabelKind.PLANT, "26-0014-007-X", (Run("Rosa", Style.ITALIC),))
    >>> label_from_json(label_to_json(label)) == label
    True
    """
    values = json.loads(text)
    return LabelText(
        kind=LabelKind(values["kind"]),
        code=values["code"],
        runs=_runs_in(values["runs"]),
        source_code=values["source_code"],
        lines=tuple(values["lines"]),
        typed=tuple(values["typed"]),
        notices=tuple(values["notices"]),
        payload=values["payload"],
        heading=values["heading"],
        flag=values["flag"],
        lots=tuple(
            LotRow(
                row["letter"],
                _runs_in(row["runs"]),
                row["source"],
                row["count"],
                tuple(row["details"]),
            )
            for row in values["lots"]
        ),
        write_on=tuple(values["write_on"]),
    )


def _runs_out(runs: tuple[Run, ...]) -> list[list[str]]:
    return [[run.text, run.style.value] for run in runs]


def _runs_in(pairs: list[list[Any]]) -> tuple[Run, ...]:
    return tuple(Run(text, Style(style)) for text, style in pairs)


def lot_line(row: LotRow) -> str:
    """A lot in one line: letter, count, name, source, treatment."""
    name = "".join(run.text for run in row.runs)
    source = from_source(row.source) if row.source else ""
    first = " ".join(part for part in (row.letter, row.count) if part)
    return ", ".join(part for part in (first, name, source, *row.details) if part)
