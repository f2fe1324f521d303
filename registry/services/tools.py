"""Knives, secateurs and trays: what each was used on, when it was disinfected, what it carried."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from registry.domain import tools as domain
from registry.domain.dates import FuzzyDate
from registry.domain.names import calling_key
from registry.domain.tools import Contact, Touched, Use
from registry.errors import EmptyName, ToolUnknown
from registry.storage import lineage_queries as lineage
from registry.storage.models import Tool, ToolCleaning, ToolUse
from registry.storage.transaction import Recording

TOOL, TRAY = "tool", "tray"


@dataclass(frozen=True, slots=True)
class Handling:
    """With what an act was done.

    Attributes:
        tools: Knives, secateurs and the like, by the grower's own names.
        trays: Trays that the cuttings or pots were set in.
        cleaned: They were disinfected just before.
    """

    tools: tuple[str, ...] = ()
    trays: tuple[str, ...] = ()
    cleaned: bool = False


NO_TOOL = Handling()
"""Where nothing was said of tools and trays."""


@dataclass(frozen=True, slots=True)
class ToolShown:
    """A tool or tray as a list shows it.

    Attributes:
        name, kind: What it is called; `tool` or `tray`.
        uses: In how many acts it was used.
        used: The day of the newest use, as it is shown.
        cleaned: The day it was last disinfected; None is not recorded.
    """

    name: str
    kind: str
    uses: int
    used: str | None
    cleaned: str | None


@dataclass(frozen=True, slots=True)
class UseShown:
    """One act with a tool: the day as EDTF, the codes; none where it was only disinfected."""

    on: str
    codes: tuple[str, ...]
    cleaned: bool


# --- writing it down -----------------------------------------------------------------------------


def handled(
    rec: Recording,
    handling: Handling,
    nodes: Collection[int],
    *,
    on: FuzzyDate,
    cut: FuzzyDate | None = None,
    sources: bool = False,
) -> tuple[ToolShown, ...]:
    """Record with what some plants and lots were handled; gives the tools that are new.

    Args:
        rec: The recording.
        handling: With what.
        nodes: The plants and lots.
        on: The day.
        cut: The day on which the tools cut, if another.
        sources: The plants that the lots were drawn from were cut too; a tray holds the lots alone.

    Raises:
        EmptyName: a name is empty.
    """
    made: list[ToolShown] = []
    rec.flush()
    lots = dict.fromkeys(nodes, True)
    wounded = dict(lots)
    if sources and handling.tools:
        for parent, sure in _drawn_from(rec.session, nodes):
            wounded[parent] = wounded.get(parent, False) or sure
    for kind, names, touched, day in (
        (TOOL, handling.tools, wounded, cut or on),
        (TRAY, handling.trays, lots, on),
    ):
        for name in names:
            tool = _named(rec, kind, name, made)
            _write_uses(rec, tool, touched, handling.cleaned, day)
    return tuple(made)


def clean(rec: Recording, name: str, kind: str | None, *, on: FuzzyDate) -> ToolShown:
    """Record that a tool or tray was disinfected.

    Raises:
        EmptyName: the name is empty.
        ToolUnknown: it was used in nothing on record.
    """
    tool = tool_named(rec.session, name, kind)
    rec.add(ToolCleaning(tool_id=tool.id, on=on))
    rec.flush()
    return next(one for one in tools(rec.session) if (one.kind, one.name) == (tool.kind, tool.name))


def _named(rec: Recording, kind: str, name: str, made: list[ToolShown]) -> Tool:
    key = _key(name, kind)
    found = rec.session.scalar(select(Tool).where(Tool.kind == kind, Tool.key == key))
    if found is None:
        found = rec.add(Tool(kind=kind, name=name.strip(), key=key))
        rec.flush()
        made.append(ToolShown(found.name, kind, 0, None, None))
    return found


def _key(name: str, kind: str = TOOL) -> str:
    key = calling_key(name)
    if not key:
        raise EmptyName(f"a {kind}")
    return key


_DRAWN_FROM = text(
    f"""
    SELECT edge.parent_id, edge.choice FROM edge
    WHERE edge.child_id IN {lineage.IDS} AND edge.void_seq IS NULL
    ORDER BY edge.parent_id, edge.choice
    """  # noqa: S608 - a constant of ours
)


def _drawn_from(session: Session, lots: Collection[int]) -> list[tuple[int, bool]]:
    rows = session.connection().execute(_DRAWN_FROM, lineage.as_parameter(lots))
    return [(parent, choice is None) for parent, choice in rows]


def _write_uses(
    rec: Recording, tool: Tool, touched: Mapping[int, bool], cleaned: bool, on: FuzzyDate
) -> None:
    for node, sure in sorted(touched.items()):
        rec.add(ToolUse(tool_id=tool.id, node_id=node, cleaned=cleaned, sure=sure, on=on))
    rec.flush()


# --- showing -------------------------------------------------------------------------------------


def tool_named(session: Session, name: str, kind: str | None = None) -> Tool:
    """The tool or tray of that name; a tool where both bear it and neither is said.

    Raises:
        EmptyName: nothing was typed.
        ToolUnknown: there is none, naming those there are.
    """
    query = select(Tool).where(Tool.key == _key(name, kind or TOOL)).order_by(Tool.kind)
    if kind is not None:
        query = query.where(Tool.kind == kind)
    found = session.scalars(query.limit(1)).first()
    if found is None:
        known = session.scalars(select(Tool.name).order_by(Tool.name)).all()
        raise ToolUnknown(name, kind or TOOL, tuple(known))
    return found


_LIST = text(
    """
    SELECT tool.name, tool.kind,
           (SELECT count(DISTINCT used.seq) FROM tool_use used
            WHERE used.tool_id = tool.id AND used.void_seq IS NULL),
           (SELECT max(used.on_first) FROM tool_use used
            WHERE used.tool_id = tool.id AND used.void_seq IS NULL),
           (SELECT max(cleaned.on_last) FROM (
                SELECT tool_cleaning.tool_id, tool_cleaning.on_last FROM tool_cleaning
                WHERE tool_cleaning.void_seq IS NULL
                UNION ALL
                SELECT tool_use.tool_id, tool_use.on_last FROM tool_use
                WHERE tool_use.cleaned AND tool_use.void_seq IS NULL) cleaned
            WHERE cleaned.tool_id = tool.id)
    FROM tool ORDER BY tool.kind, tool.key
    """
)


def tools(session: Session) -> tuple[ToolShown, ...]:
    """Every tool and tray on record, by name."""
    return tuple(
        ToolShown(name, kind, uses, _shown(used), _shown(cleaned))
        for name, kind, uses, used, cleaned in session.connection().execute(_LIST)
        if uses or cleaned is not None  # the only act with it may have been taken back
    )


_ACTS = text(
    """
    SELECT used.seq, used.on_edtf, used.on_first, used.cleaned, node.code FROM tool_use used
    JOIN node ON node.id = used.node_id
    WHERE used.tool_id = :tool AND used.void_seq IS NULL
    UNION ALL
    SELECT cleaned.seq, cleaned.on_edtf, cleaned.on_first, NULL, NULL FROM tool_cleaning cleaned
    WHERE cleaned.tool_id = :tool AND cleaned.void_seq IS NULL
    ORDER BY 3 DESC, 1 DESC, 5
    """
)


def uses_of(session: Session, name: str, kind: str | None = None) -> tuple[UseShown, ...]:
    """What a tool was used on and when it was disinfected, the newest first.

    Raises:
        EmptyName, ToolUnknown: there is none of that name.
    """
    tool = tool_named(session, name, kind)
    acts: dict[int, tuple[str, bool, list[str]]] = {}
    for seq, on, _, cleaned, code in session.connection().execute(_ACTS, {"tool": tool.id}):
        codes = acts.setdefault(seq, (on or "", cleaned is None or bool(cleaned), []))[2]
        codes += [code] if code is not None else []
    return tuple(UseShown(on, tuple(codes), cleaned) for on, cleaned, codes in acts.values())


def _shown(day: Any) -> str | None:
    stored = _day(day)
    return FuzzyDate.of(stored).display() if stored is not None else None


# --- what it carried -----------------------------------------------------------------------------

_TOOLS_OF = text(
    f"""
    SELECT DISTINCT tool.id, tool.kind FROM tool_use used JOIN tool ON tool.id = used.tool_id
    WHERE used.node_id IN {lineage.IDS} AND used.void_seq IS NULL ORDER BY tool.id
    """  # noqa: S608 - a constant of ours
)
_USES = text(
    f"""
    SELECT used.tool_id, used.seq, used.on_first, used.on_last, used.cleaned, used.node_id,
           used.sure, node.kind = 'lot',
           coalesce(plant.ended_last, (
               SELECT max(entry.on_last) FROM ledger_entry entry
               JOIN lot ON lot.node_id = entry.lot_id AND lot.in_bench = 0
               WHERE entry.lot_id = used.node_id AND entry.void_seq IS NULL)),
           (SELECT min(further.on_last) FROM tool_use further
            JOIN tool other ON other.id = further.tool_id AND other.kind = 'tray'
            WHERE further.node_id = used.node_id AND further.tool_id <> used.tool_id
              AND further.void_seq IS NULL AND further.on_first >= used.on_last)
    FROM tool_use used JOIN node ON node.id = used.node_id
    LEFT JOIN plant ON plant.node_id = used.node_id
    WHERE used.tool_id IN {lineage.IDS} AND used.void_seq IS NULL
    ORDER BY used.tool_id, used.seq, used.node_id
    """  # noqa: S608 - a constant of ours
)
_CLEANINGS = text(
    f"""
    SELECT cleaned.tool_id, cleaned.seq, cleaned.on_first, cleaned.on_last
    FROM tool_cleaning cleaned
    WHERE cleaned.tool_id IN {lineage.IDS} AND cleaned.void_seq IS NULL
    ORDER BY cleaned.tool_id, cleaned.seq
    """  # noqa: S608 - a constant of ours
)


def carried(session: Session, exposed: Mapping[int, date | None]) -> list[tuple[str, Contact]]:
    """What tools and trays carried from some plants and lots to others, each with its kind.

    Args:
        session: Open on the registry.
        exposed: Nodes, and the day from which each may carry something; None from the beginning.
    """
    rows = session.connection().execute(_TOOLS_OF, lineage.as_parameter(exposed)).all()
    uses, cleanings = _recorded(session, [tool for tool, _ in rows])
    return [
        (kind, one)
        for tool, kind in rows
        for one in domain.contacts(uses[tool], cleanings.get(tool, ()), exposed, tray=kind == TRAY)
    ]


def used_on(session: Session, kind: str, name: str, day: FuzzyDate) -> list[Contact]:
    """What a tool was used on, or stood in a tray, on a day, and what it met until disinfected.

    Raises:
        EmptyName, ToolUnknown: there is none of that name.
    """
    tool = tool_named(session, name, kind)
    uses, cleanings = _recorded(session, [tool.id])
    return domain.used_on(
        uses.get(tool.id, ()), cleanings.get(tool.id, ()), day.first, day.last, tray=kind == TRAY
    )


def _recorded(
    session: Session, tool_ids: Collection[int]
) -> tuple[dict[int, list[Use]], dict[int, list[Use]]]:
    """Every use and every disinfecting of some tools, by tool, as they were recorded."""
    parameter = lineage.as_parameter(tool_ids)
    connection = session.connection()
    uses: dict[int, list[Use]] = {}
    for (tool, seq), rows in _acts(connection.execute(_USES, parameter)):
        _, _, first, last, cleaned, *_ = rows[0]
        touched = tuple(
            Touched(
                node, bool(sure), _earlier(_day(gone), _day(moved)), bool(lot) or gone is not None
            )
            for *_, node, sure, lot, gone, moved in rows
        )
        use = Use(_day(first), _day(last), seq, touched, bool(cleaned))
        uses.setdefault(tool, []).append(use)
    cleanings: dict[int, list[Use]] = {}
    for tool, seq, first, last in connection.execute(_CLEANINGS, parameter):
        cleanings.setdefault(tool, []).append(Use(_day(first), _day(last), seq))
    return uses, cleanings


def _acts(rows: Iterable[Any]) -> Iterable[tuple[tuple[int, int], list[Any]]]:
    """Rows of one tool and one entry together."""
    for key, group in groupby(rows, key=lambda row: (row[0], row[1])):
        yield key, list(group)


def _earlier(one: date | None, other: date | None) -> date | None:
    return min(one, other) if one is not None and other is not None else one or other


def _day(stored: Any) -> date | None:
    # SQLite gives text where a statement declares no types.
    return date.fromisoformat(stored) if isinstance(stored, str) else stored
