"""The table of faults: what was done how often, what happened, and what was checked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What became of one fault.

    Attributes:
        fault: what was done to the registry.
        tried: how often.
        happened: what came of it.
        checked: what was looked at, after each.
    """

    fault: str
    tried: int
    happened: str
    checked: str

    def line(self, name: str) -> str:
        """The row in Markdown, with the name by which the command runs it."""
        return f"| `{name}` | {self.fault} | {self.tried:,} | {self.happened} | {self.checked} |"


def renewed(page: str, name: str, rows: Iterable[Row]) -> str:
    """The page with the rows of `name` put in place of those before; new ones come last.

    The page has one table, whose rows begin with the name of their run.
    """
    lines = page.splitlines()
    mark = f"| `{name}` |"
    old = [place for place, line in enumerate(lines) if line.startswith(mark)]
    last = max(place for place, line in enumerate(lines) if line.startswith("|"))
    at = old[0] if old else last + 1
    kept = [line for line in lines if not line.startswith(mark)]
    kept[at:at] = [row.line(name) for row in rows]
    return "\n".join(kept) + "\n"
