"""A family as files for other programs: CSV, GraphML and DOT.

GraphML after the GraphML Primer (Brandes, Eiglsperger, Lerner), written by networkx; DOT after the
language's published grammar; CSV after RFC 4180. People are left out of all three.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from registry.domain.family import Family, Member, positions

if TYPE_CHECKING:
    import networkx as nx

CSV_HEADS = (
    "code",
    "kind",
    "name",
    "date",
    "status",
    "depth",
    "generation",
    "role",
    "certain",
    "place",
    "went",
    "went_on",
    "count",
    "parents",
)
"""The columns of a family as CSV; `parents` has codes with semicolons between."""

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a spreadsheet takes for the beginning of a formula (OWASP, CSV Injection)."""


def as_csv(family: Family, only: Iterable[int] | None = None) -> str:
    """The members of a family, one a row, nearest first.

    Text that a spreadsheet would take for a formula gets a single quote in front, in the columns
    that hold words of a person; a code or a number never does.

    Args:
        family: What to write.
        only: The members to write; all if None.
    """
    parents: dict[int, list[str]] = {}
    for tie in family.ties:
        parents.setdefault(tie.child, []).append(family.members[tie.parent].code)
    places = positions(family)
    wanted = set(family.members if only is None else only)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_HEADS)
    for node, place in sorted(places.items(), key=lambda pair: (pair[1].depth, pair[0])):
        if node not in wanted:
            continue
        member = family.members[node]
        writer.writerow(
            [
                member.code,
                member.kind,
                guarded(member.name),
                member.date or "",
                guarded(member.status),
                place.depth,
                place.generation,
                ";".join(place.roles),
                "yes" if place.certain else "no",
                guarded(member.place or ""),
                member.went or "",
                member.went_on or "",
                "" if member.count is None else member.count,
                ";".join(parents.get(node, ())),
            ]
        )
    return out.getvalue()


def rows_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows under their heads as CSV; None is an empty cell, words are kept from being formulas."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


def guarded(text: str) -> str:
    """Text that no spreadsheet runs as a formula.

    >>> guarded("=1+2"), guarded("Rosa 'Alba'")
    ("'=1+2", "Rosa 'Alba'")
    """
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text


def as_graph(family: Family) -> nx.MultiDiGraph[str]:
    """The family as a networkx graph: nodes by code, an edge for each tie with its role."""
    import networkx as nx

    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for member in family.members.values():
        graph.add_node(member.code, **_attributes(member))
    for number, tie in enumerate(family.ties):
        graph.add_edge(
            family.members[tie.parent].code,
            family.members[tie.child].code,
            key=number,
            role=tie.role,
            certain=tie.certain,
            clonal=tie.clonal,
        )
    return graph


def _attributes(member: Member) -> dict[str, str]:
    facts = {
        "kind": member.kind,
        "name": member.name,
        "date": member.date,
        "status": member.status,
    }
    return {key: _writable(value) for key, value in facts.items() if value}


def _writable(text: str) -> str:
    # XML 1.0, section 2.2: control characters have no place in it, not even escaped.
    return "".join(sign for sign in text if sign >= " " or sign in "\t\n\r")


def as_graphml(family: Family) -> str:
    """The family as GraphML."""
    import networkx as nx

    return "\n".join(nx.generate_graphml(as_graph(family), named_key_ids=True)) + "\n"


def as_dot(family: Family) -> str:
    """The family in DOT: plants as boxes, lots as notes, uncertain parents dashed."""
    lines = ["digraph lineage {", "  rankdir=LR;", '  node [fontname="sans-serif"];']
    for member in family.members.values():
        words = f"{member.code}\n{member.name}\n{member.status}"
        shape = "box" if member.kind == "plant" else "note"
        lines.append(f"  {_quoted(member.code)} [label={_quoted(words)}, shape={shape}];")
    for tie in family.ties:
        ends = (family.members[tie.parent].code, family.members[tie.child].code)
        style = "" if tie.certain else ", style=dashed"
        lines.append(
            f"  {_quoted(ends[0])} -> {_quoted(ends[1])} [label={_quoted(tie.role)}{style}];"
        )
    return "\n".join([*lines, "}"]) + "\n"


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + plain.replace("\n", "\\n") + '"'
