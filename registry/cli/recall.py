"""Recalls: what is exposed, what to do about it, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below
from registry.cli.options import (
    ROW,
    Whole,
    Written,
    common,
    day,
    day_said,
    examples,
    history,
    keep_with,
    pass_app,
    writes,
)
from registry.cli.output import past, some, table
from registry.errors import BadOption, FileUnwritable, RecallNotSaid

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from registry.domain.recalls import Line, Pool, Recalled

FOUND = ("sound", "sick", "destroyed", "reached", "returned", "missing")


@click.group("recall", cls=Below)
def recall_command() -> None:
    """Find everything that was exposed, hold it, and work through it."""


@recall_command.command(
    "start",
    epilog=examples(
        'recall start 1:1 --reason "leaf spot" --hold',
        'recall start --place "mist bench" --on 2026-06-12 --reason mould',
    ),
)
@click.argument("codes", nargs=-1)
@click.option("--place", metavar="PLACE", help="What stood there on the day (--on).")
@click.option("--supplier", metavar="PERSON", help="What came from them (on that day, with --on).")
@click.option("--tool", metavar="NAME", help="What was cut with it from the day on (--on).")
@click.option("--tray", metavar="NAME", help="What stood in it from the day on (--on).")
@click.option("--reason", required=True, metavar="TEXT", help="Why; it stands on the notices too.")
@click.option("--hold", is_flag=True, help="Stop everything exposed that stands.")
@click.option(
    "--steps",
    type=Whole(0, 20),
    default=1,
    show_default=True,
    help="How many contacts are followed: batch, bench on the day, supplier, tool, tray.",
)
@click.option("--back", is_flag=True, help="With all that came of where it came from.")
@writes
@common
@pass_app
def recall_start(
    app: App,
    codes: tuple[str, ...],
    place: str | None,
    supplier: str | None,
    tool: str | None,
    tray: str | None,
    reason: str,
    hold: bool,
    steps: int,
    back: bool,
    written: Written,
) -> None:
    """List everything exposed: through a plant, lot, batch, place, supplier, tool or tray.

    --on is the day of exposure: with it, what stood in the same place on that day is in. A tool or
    tray counts from that day until it was disinfected ('ortet tool clean').
    """
    from registry.services.recall import Starting, start
    from registry.services.resolve import resolve_all

    if bool(codes) + sum(one is not None for one in (place, supplier, tool, tray)) != 1:
        raise RecallNotSaid("nothing", " ".join(codes))
    exposure_day = day_said(app, written.on) if written.on else None
    with app.recording("recall start", by=written.by) as rec:
        target = (
            resolve_all(rec.session, codes, today=rec.today, by_id=rec.by_id) if codes else None
        )
        found = start(
            rec,
            Starting(reason, target, place, supplier, tool, tray, exposure_day, steps, back, hold),
        )
        # Its --on is the day of exposure, not that of the words.
        _keep(app, rec, replace(written, on=None), found)
    app.answer(
        _facts(found), *_opening_lines(found), *_line_table(found.lines), "", *_next_lines(found)
    )


def _keep(app: App, rec: Any, written: Written, found: Recalled) -> None:
    """Keep a note and a photo with the plants, the lot or the batch that a recall is about."""
    from registry.domain.recalls import BY_COUNT, Why

    about = () if found.kind in ("place", "supplier", "tool", "tray") else found.lines
    starts = (line for line in about if line.why is Why.START and line.kind != BY_COUNT)
    keep_with(app, rec, written, tuple(dict.fromkeys(line.code for line in starts)))


def _next_lines(found: Recalled) -> list[str]:
    n = found.id
    lines = [
        f"Next: 'ortet recall export {n} worklist.pdf' prints the list, 'ortet recall export {n} "
        "notices.txt' writes to who has some.",
        f"'ortet recall tick {n} CODE --found sound' (sick, destroyed, reached ...) says what was "
        "found.",
    ]
    if not found.holds:
        lines.append(f"Nothing is held. 'ortet recall more {n} --hold' stops all that stands.")
    return lines


@recall_command.command("list")
@common
@pass_app
def recall_list(app: App) -> None:
    """Every recall, the newest first."""
    from registry.services.recall import recalls
    from registry.wording.recall import about

    with app.reading() as session:
        found = recalls(session)
    app.answer(
        {
            "recalls": [
                {
                    "recall": one.id,
                    "kind": one.kind,
                    "subject": one.subject,
                    "on": one.on,
                    "reason": one.reason,
                    "opened": one.opened,
                    "closed": one.closed,
                    "lines": one.lines,
                }
                for one in found
            ]
        },
        *(
            table(
                ("recall", "opened", "closed", "lines", "about", "reason"),
                [
                    (o.id, o.opened, o.closed, o.lines, about(o.kind, o.subject, o.on), o.reason)
                    for o in found
                ],
            )
            or ["There is no recall."]
        ),
    )


@recall_command.command("show", epilog=examples("recall show 1", "recall show 1 --open"))
@click.argument("number", type=ROW)
@click.option("--open", "only_open", is_flag=True, help="Only what nobody has settled.")
@click.option("--each", is_flag=True, help="Every plant on a line of its own.")
@history
@common
@pass_app
def recall_show(app: App, number: int, only_open: bool, each: bool, history: bool) -> None:
    """The worklist: where each stands or who has it, what was found, and the sums."""
    from registry.services.history import of_recall
    from registry.services.recall import recalled

    with app.reading() as session:
        found = recalled(session, number)
        if history:
            title = f"Recall {number}: {found.reason}"
            past(app, session, of_recall(session, number), {"recall": number}, title)
            return
    lines = [line for line in found.lines if line.open] if only_open else found.lines
    app.answer(
        _facts(found, lines),
        *_opening_lines(found),
        *_line_table(lines, each=each),
        "",
        "Counts of the lots:",
        *(f"  {one}" for one in _lot_lines(found)),
    )


@recall_command.command("more", epilog=examples("recall more 1 --hold"))
@click.argument("number", type=ROW)
@click.option("--hold", is_flag=True, help="Stop everything exposed that stands.")
@writes
@common
@pass_app
def recall_more(app: App, number: int, hold: bool, written: Written) -> None:
    """List what has come to be exposed since: potted, cut, sold, come back.

    Where the recall has holds that stand, they are laid on what is new as well.
    """
    from registry.services.recall import more, recalled

    with app.reading() as session:
        before = {line.line for line in recalled(session, number).lines}
    with app.recording("recall more", by=written.by) as rec:
        day(app, written.on)  # a wrong day is told here as everywhere
        found = more(rec, number, hold=hold)
        _keep(app, rec, written, found)
    new = [line for line in found.lines if line.line not in before]
    app.answer(_facts(found, new), *_opening_lines(found), *_line_table(new))


@recall_command.command(
    "tick",
    epilog=examples(
        "recall tick 1 14:1-8 --found sound",
        "recall tick 1 --line 81 --found reached --count 6",
    ),
)
@click.argument("number", type=ROW)
@click.argument("codes", nargs=-1)
@click.option("--line", "lines", type=ROW, multiple=True, help="A line by its number.")
@click.option("--found", type=click.Choice(FOUND), required=True, help="What was found.")
@click.option("--count", "n", type=ROW, help="How many, where a line is several.")
@writes
@common
@pass_app
def recall_tick(
    app: App,
    number: int,
    codes: tuple[str, ...],
    lines: tuple[int, ...],
    found: str,
    n: int | None,
    written: Written,
) -> None:
    """Write down what was found of plants, or that a receiver was told.

    Several people can work through one recall: each finding stands with who made it and when.
    """
    from registry.domain.recalls import Found
    from registry.services.recall import tick
    from registry.services.resolve import resolve
    from registry.wording.recall import after_tick

    with app.recording("recall tick", by=written.by) as rec:
        targets = [resolve(rec.session, code, today=rec.today, by_id=rec.by_id) for code in codes]
        done = tick(
            rec,
            number,
            Found(found),
            targets=targets,
            lines=lines,
            n=n,
            note=written.note,
            on=day(app, written.on),
        )
        named = codes or tuple(dict.fromkeys(line.code for line in done))
        keep_with(app, rec, replace(written, note=None), named)
    with app.reading() as session:
        left = _open_left(session, number)
    app.answer(
        {"recall": number, "lines": [_line_facts(line) for line in done], "open": left},
        f"Written down for {some(len(done), 'line')} of recall {number}; {left} still open.",
        *after_tick(number, Found(found), done, left),
    )


def _open_left(session: Session, number: int) -> int:
    from registry.services.recall import recalled

    return sum(line.open for line in recalled(session, number).lines)


@recall_command.command("close", epilog=examples('recall close 1 --finding "all sound" --lift'))
@click.argument("number", type=ROW)
@click.option("--finding", required=True, metavar="TEXT", help="What was found in the end.")
@click.option("--lift", is_flag=True, help="Lift the holds that it laid.")
@writes
@common
@pass_app
def recall_close(app: App, number: int, finding: str, lift: bool, written: Written) -> None:
    """Close a recall: what was found, and what is unaccounted for."""
    from registry.services.recall import close

    with app.recording("recall close", by=written.by) as rec:
        done = close(rec, number, finding=finding, on=day(app, written.on), lift=lift)
        _keep(app, rec, written, done.recall)
    kept = done.recall.holds
    app.answer(
        _facts(done.recall) | {"unaccounted": [_line_facts(line) for line in done.unaccounted]},
        f"Closed: recall {number}. {finding}",
        *_sum_lines(done.recall),
        *_unaccounted_lines(done.unaccounted, done.recall.pools),
        *((f"{some(done.lifted, 'hold')} lifted.",) if done.lifted else ()),
        *((f"Holds that still stand: {kept}. 'ortet hold list' names them.",) if kept else ()),
    )


@recall_command.command(
    "export", epilog=examples("recall export 1 list.pdf", "recall export 1 notices.txt")
)
@click.argument("number", type=ROW)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@common
@pass_app
def recall_export(app: App, number: int, file: Path) -> None:
    """Write the worklist as .pdf or .csv, or the notices to receivers as .txt."""
    from registry.services.recall import recalled
    from registry.services.rows import registry_row

    ending = file.suffix.lower()
    with app.reading() as session:
        found = recalled(session, number)
        content = _content(session, found, ending, registry_row(session).grower_id)
    if content is None:
        raise BadOption("recall export", str(file), "a file that ends in .pdf, .csv or .txt")
    try:
        file.write_bytes(content)
    except OSError as error:
        raise FileUnwritable(file, error.strerror or str(error)) from error
    app.answer({"recall": number, "file": str(file)}, f"Recall {number} is in {file}.")


def _content(session: Session, found: Recalled, ending: str, grower: int) -> bytes | None:
    from io import BytesIO

    match ending:
        case ".pdf":
            from registry.papers.worklist import worklist_pdf

            out = BytesIO()
            worklist_pdf(found, out)
            return out.getvalue()
        case ".csv":
            # A byte order mark, so that spreadsheet programs read it as UTF-8.
            return _csv(found).encode("utf-8-sig")
        case ".txt":
            from registry.services.people import contact_of, person_name

            sender = person_name(session, grower), contact_of(session, grower)
            return "\n----\n\n".join(_notices(found, *sender)).encode()
        case _:
            return None


CSV_HEADS = (
    "line", "code", "kind", "name", "count", "status", "where", "to", "contact", "left on",
    "step", "why", "found", "found by", "found on", "found count", "note",
)  # fmt: skip


def _csv(found: Recalled) -> str:
    """One row for each finding, and one for each line without any."""
    from registry.exchange.graphs import rows_csv
    from registry.wording import recall as wording

    rows: list[list[Any]] = []
    for line in found.lines:
        start = [
            line.line, line.code, line.kind, line.name, line.n, line.status, line.where, line.to,
            line.contact, line.left_on, line.step, wording.why(line),
        ]  # fmt: skip
        rows += [
            [*start, tick.what.value, tick.by, tick.on, tick.n, tick.note] for tick in line.ticks
        ] or [[*start, None, None, None, None, None]]
    return rows_csv(CSV_HEADS, rows)


def _notices(found: Recalled, grower: str, reach: str | None) -> list[str]:
    """A notice to each receiver who is named, and how many plants nobody can be told of.

    What came back or was destroyed is not with anybody any more.
    """
    from registry.domain.recalls import still_away
    from registry.wording import recall as wording

    away = [line for line in found.lines if still_away(line)]
    receivers: dict[str, list[Line]] = {}
    for line in away:
        if line.to:
            receivers.setdefault(wording.holder(line), []).append(line)
    notices = [wording.notice(found, lines, grower, reach) for lines in receivers.values()]
    lost = sum(line.n or 0 for line in away if line.to == "")
    if lost:
        notices.append(f"{some(lost, 'plant')} went to people who were not named.\n")
    return notices or ["Nothing that is exposed is with somebody else.\n"]


# --- saying it -----------------------------------------------------------------------------------


def _opening_lines(found: Recalled) -> list[str]:
    from registry.domain.recalls import Why, progress
    from registry.wording import recall as wording

    lines = [wording.heading(found), *_sum_lines(found)]
    done = progress(found.lines)
    lines.append(
        "Worked through: "
        + (", ".join(f"{n} {what}" for what, n in sorted(done.items())) or "nothing to do")
    )
    sources = sum(line.why is Why.SOURCE for line in found.lines)
    if sources and not found.back:
        lines.append(
            f"It came from {some(sources, 'plant or lot', 'plants and lots')}, listed to be looked "
            "at; what else came of those is left out. --back takes it in."
        )
    lines.append(f"Contacts followed: {some(found.steps, 'step')}; --steps follows more or fewer.")
    if found.on is None and found.kind != "supplier":
        lines.append("Neighbours on a bench are left out, since no day was said (--on).")
    if found.unplaced:
        lines.append(
            f"{some(found.unplaced, 'plant')} had no place on record that day and cannot be ruled "
            "out."
        )
    if found.since:
        lines.append(wording.since(found.id, found.since))
    if found.holds:
        lines.append(f"{some(found.holds, 'hold')} laid on what stands.")
    for other, n in found.overlaps:
        lines.append(f"{n} of these are also in recall {other}, which is open.")
    if found.closed is not None:
        lines.append(f"Closed {found.closed}: {found.finding}")
    return [*lines, ""]


def _sum_lines(found: Recalled) -> tuple[str, ...]:
    from registry.wording import recall as wording

    return wording.sum_lines(found.sums)


def _lot_lines(found: Recalled) -> list[str]:
    from registry.wording import recall as wording

    return [
        *([wording.lot_line(lot) for lot in found.lots] or ["no lot is exposed"]),
        *(wording.pool_line(pool) for pool in found.pools if pool.whole),
    ]


def _line_table(lines: Sequence[Line], *, each: bool = False) -> list[str]:
    """The lines; plants that follow each other and say the same are one row, with their number."""
    from itertools import groupby

    from registry.wording import recall as wording

    def said(line: Line) -> tuple[object, ...]:
        alone = line.line if each or line.kind != "plant" or line.n != 1 else None
        state = wording.found(line) or ("open" if line.to_do else "-")
        # "From one code to another" reads as a row of one batch.
        batch = line.code.rsplit("-", 2)[0] if line.kind == "plant" else None
        return (
            wording.what(line), wording.where(line), state, wording.why(line), line.name,
            alone, batch,
        )  # fmt: skip

    rows = []
    for (what, *rest, _, _), group in groupby(lines, said):
        alike = list(group)
        first, last = alike[0], alike[-1]
        if first is last:
            rows.append((first.line, first.code, what, *rest))
        else:
            numbers = f"{first.line}-{last.line}"
            rows.append((numbers, f"{first.code} to {last.code}", f"{len(alike)} plants", *rest))
    heads = ("line", "code", "what", "where", "found", "why", "name")
    names = {line.name for line in lines}
    if len(names) > 1 or len(rows) < 2:
        return table(heads, rows)
    return [f"All are {names.pop()}.", *table(heads[:-1], [row[:-1] for row in rows])]


def _unaccounted_lines(lines: Sequence[Line], pools: Sequence[Pool]) -> list[str]:
    from registry.wording import recall as wording

    if not lines:
        return ["Everything is accounted for."]
    rows = [(line.line, line.code, wording.what(line), wording.where(line)) for line in lines]
    return [
        wording.unaccounted(lines, pools),
        *table(("line", "code", "what", "where"), rows),
    ]


def _facts(found: Recalled, lines: Sequence[Line] | None = None) -> dict[str, Any]:
    sums = found.sums
    return {
        "recall": found.id,
        "kind": found.kind,
        "subject": found.subject,
        "reason": found.reason,
        "on": found.on,
        "opened": found.opened,
        "closed": found.closed,
        "finding": found.finding,
        "steps": found.steps,
        "back": found.back,
        "holds": found.holds,
        "overlaps": [{"recall": other, "lines": n} for other, n in found.overlaps],
        "unplaced": found.unplaced,
        "since": {
            "plants": found.since.plants,
            "lots": found.since.lots,
            "by_count": found.since.pots,
        },
        "sums": {
            "plants": sums.plants,
            "standing": sums.standing,
            "ended": sums.ended,
            "left_named": sums.named,
            "left_not_named": sums.not_named,
            "by_count_named": sums.unsaid_named,
            "by_count_not_named": sums.unsaid_not_named,
            "by_count_ended": sums.unsaid_ended,
            "back": sums.back,
            "back_by_count": sums.back_unsaid,
            "here": sums.here,
            "here_at_most": sums.here_most,
            "cuttings": sums.cuttings,
        },
        "lots": [
            {
                "code": lot.code,
                "opening": lot.opening,
                "moved": lot.moved,
                "in_bench": lot.in_bench,
                "pots": lot.pots,
                "by_count": lot.unsaid,
                "unexplained": lot.unexplained,
            }
            for lot in found.lots
        ],
        "lines": [_line_facts(line) for line in (found.lines if lines is None else lines)],
    }


def _line_facts(line: Line) -> dict[str, Any]:
    return {
        "line": line.line,
        "code": line.code,
        "kind": line.kind,
        "name": line.name,
        "count": line.n,
        "status": line.status,
        "place": line.where,
        "to": line.to,
        "contact": line.contact,
        "left_on": line.left_on,
        "back_as": line.back_as,
        "step": line.step,
        "why": line.why.value,
        "via": line.via,
        "widened": [word.value for word in line.widened],
        "found": [
            {"what": t.what.value, "count": t.n, "on": t.on, "by": t.by, "note": t.note}
            for t in line.ticks
        ],
        "open": line.open,
    }
