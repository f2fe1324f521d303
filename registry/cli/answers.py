"""Commands that answer about the past, and the one that puts a slip right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from registry.cli.app import App
from registry.cli.options import Written, common, parse_day, pass_app, writes
from registry.cli.output import some, table
from registry.errors import BadOption

if TYPE_CHECKING:
    from registry.services.answers import Family, Member, Tie


@click.command("trace")
@click.argument("code")
@click.option("--up", is_flag=True, help="Only where it came from.")
@click.option("--down", is_flag=True, help="Only what came of it.")
@common
@pass_app
def trace_command(app: App, code: str, up: bool, down: bool) -> None:
    """Where a plant came from, and what came of it."""
    from registry.services.answers import trace
    from registry.services.resolve import resolve

    both = up == down
    with app.reading() as session:
        target = resolve(session, code, today=app.today)
        family = trace(session, target, up=up or both, down=down or both)
    members = family.members
    lines: list[str] = []
    if up or both:
        lines += tree(family, upward=True)
    if down or both:
        if lines:
            lines.append("")
        lines += tree(family, upward=False)
    app.answer(
        {
            "roots": [members[root].code for root in family.roots],
            "nodes": [
                {"code": m.code, "kind": m.kind, "name": m.name, "date": m.date, "status": m.status}
                for m in members.values()
            ],
            "edges": [
                {"from": members[t.parent].code, "to": members[t.child].code, "role": t.role,
                 "certain": t.certain}
                for t in family.ties
            ],
        },
        *lines,
    )  # fmt: skip


def tree(family: Family, *, upward: bool) -> list[str]:
    """A family as indented lines; siblings alike are one line with their number.

    What was shown above is named again by its code and not opened a second time.
    """
    next_to: dict[int, list[tuple[int, Tie]]] = {}
    for tie in family.ties:
        here, there = (tie.child, tie.parent) if upward else (tie.parent, tie.child)
        next_to.setdefault(here, []).append((there, tie))
    shown: set[int] = set()
    lines: list[str] = []
    groups = _alike([(root, None) for root in family.roots], next_to, family)
    stack = [(group, 0) for group in reversed(groups)]
    while stack:
        (ids, by), depth = stack.pop()
        first = ids[0]
        lines.append(_line(family, ids, by, depth, upward, again=first in shown))
        if first in shown:
            continue
        shown.update(ids)
        below = _alike(next_to.get(first, []), next_to, family)
        stack.extend((group, depth + 1) for group in reversed(below))
    return lines


def _alike(
    items: Sequence[tuple[int, Tie | None]],
    next_to: dict[int, list[tuple[int, Tie]]],
    family: Family,
) -> list[tuple[list[int], Tie | None]]:
    """Nodes grouped: those of one kind, name, status and day that lead on in the same way."""
    groups: dict[object, tuple[list[int], Tie | None]] = {}
    for node, tie in items:
        member = family.members[node]
        onward = tuple(sorted(other for other, _ in next_to.get(node, [])))
        sure = tie.certain if tie else True
        role = tie.role if tie else ""
        key = (member.kind, member.name, member.status, member.date, role, sure, onward)
        if member.kind == "lot":
            key = (node,)  # type: ignore[assignment]  # a lot always has a line of its own
        groups.setdefault(key, ([], tie))[0].append(node)
    return list(groups.values())


_UPWARD = {"raised": "from lot", "source": "taken from", "part of": "part of"}


def _line(
    family: Family, ids: list[int], tie: Tie | None, depth: int, upward: bool, *, again: bool
) -> str:
    member: Member = family.members[ids[0]]
    role = "" if tie is None else _UPWARD.get(tie.role, tie.role) if upward else tie.role
    if role == "raised":
        role = ""
    words = [f"{role}:" if role else "", _codes(family, ids), member.name]
    if member.kind == "lot":
        words[2] = f"{member.name} (lot)"
    details = [member.date or "", member.status if member.status != "alive" else ""]
    if tie is not None and not tie.certain:
        details.append("one of several")
    tail = ", ".join(filter(None, details))
    line = "  " * depth + "  ".join(filter(None, [*words, tail]))
    return f"{line}  (as above)" if again else line


def _codes(family: Family, ids: list[int]) -> str:
    first, last = family.members[ids[0]].code, family.members[ids[-1]].code
    if len(ids) == 1:
        return first
    return f"{len(ids)} plants {first} to {last}"


@click.command("tally")
@click.option("--year", type=click.IntRange(1000, 9999), help="One calendar year.")
@click.option("--from", "first", metavar="DAY")
@click.option("--to", "last", metavar="DAY")
@click.option(
    "--by", type=click.Choice(["name", "source", "recipient"]), default="name", show_default=True
)
@common
@pass_app
def tally_command(app: App, year: int | None, first: str | None, last: str | None, by: str) -> None:
    """How many were stuck, potted, lost, sold, given in a period."""
    from datetime import date

    from registry.services.answers import tallied

    if year is not None and (first or last):
        raise BadOption("--year", str(year), "either --year, or --from and --to")
    begins = parse_day(app, first).first if first else None
    ends = parse_day(app, last).last if last else None
    if year is not None:
        begins, ends = date(year, 1, 1), date(year, 12, 31)
    with app.reading() as session:
        found = tallied(session, by=by, first=begins, last=ends)
    rows = []
    for row in found.rows:
        act = row.act + (f", {row.standing}" if row.standing else "")
        if row.unsure_day:
            act += " (day not sure)"
        rows.append((act, row.text, row.group))
    app.answer(
        {"by": by, "from": begins.isoformat() if begins else None,
         "to": ends.isoformat() if ends else None,
         "rows": [
             {"act": row.act, "name": row.group, "count": row.low if row.low == row.high else None,
              "count_text": row.text, "left": row.standing or None, "day_sure": not row.unsure_day}
             for row in found.rows
         ]},
        *(table(("act", "how many", by), rows) or ["Nothing is on record for that period."]),
    )  # fmt: skip


@click.command("correct")
@click.argument("entry", required=False)
@click.option("--void", "reason", metavar="REASON", help="Take the entry back, and why.")
@click.option("--list", "listing", is_flag=True, help="The newest entries.")
@common
@writes
@pass_app
def correct_command(
    app: App, entry: str | None, reason: str | None, listing: bool, written: Written
) -> None:
    """Take a slip back: the entry stays on record, and no longer counts.

    ENTRY is `last`, or a number that `correct --list` shows. Then record it as it should be.
    """
    from registry.services.putright import entries, entry_of, take_back

    if listing or entry is None:
        with app.reading() as session:
            newest = entries(session)
        app.answer(
            {"entries": [
                {"entry": e.seq, "what": e.what, "recorded": e.recorded, "about": list(e.about)}
                for e in newest
            ]},
            *table(("entry", "what", "recorded", "about"),
                   [(e.seq, e.what, e.recorded[:16].replace("T", " "), " ".join(e.about))
                    for e in newest]),
        )  # fmt: skip
        return
    if reason is None:
        raise BadOption("correct", entry, 'why it is taken back: --void "typed twice"')
    with app.recording("correct", by=written.by) as rec:
        done = take_back(rec, entry_of(rec.session, entry, rec.by_id), reason)
    app.answer(
        {"entry": done.entry.seq, "what": done.entry.what, "rows": done.rows},
        f"Taken back: entry {done.entry.seq} ({done.entry.what} {' '.join(done.entry.about)}), "
        f"{some(done.rows, 'row')}. It stays on record beside; now record it as it should be.",
    )
