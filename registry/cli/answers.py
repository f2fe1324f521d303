"""Commands that answer about the past, and the one that puts a slip right."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App
from registry.cli.options import (
    Whole,
    Written,
    common,
    examples,
    keep_with,
    parse_day,
    pass_app,
    writes,
)
from registry.cli.output import some, table
from registry.errors import BadOption, WhyMissing

if TYPE_CHECKING:
    from registry.services.putright import Entry, Foreseen


@click.command(
    "tally",
    epilog=examples(
        "tally --year 2025 --by recipient",
    ),
)
@click.option("--year", type=Whole(1000, 9999), help="One calendar year.")
@click.option(
    "--from", "first", metavar="DAY", help="From this day on; from the first if not said."
)
@click.option("--to", "last", metavar="DAY", help="Up to this day; to the newest if not said.")
@click.option(
    "--by",
    type=click.Choice(["name", "source", "recipient"]),
    default="name",
    show_default=True,
    help="What is summed up in a row.",
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
    if begins is not None and ends is not None and begins > ends:
        raise BadOption("--to", last or "", "a day that is not before --from")
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


@click.command(
    "correct",
    epilog=examples(
        "correct last --dry-run",
        'correct last --void "typed twice"',
    ),
)
@click.argument("entry", required=False)
@click.option("--void", "reason", metavar="REASON", help="Take the entry back, and why.")
@click.option("--dry-run", is_flag=True, help="Show what goes and what depends on it.")
@click.option("--list", "listing", is_flag=True, help="The newest entries.")
@common
@writes
@pass_app
def correct_command(
    app: App,
    entry: str | None,
    reason: str | None,
    dry_run: bool,
    listing: bool,
    written: Written,
) -> None:
    """Take a slip back: the entry stays on record, and no longer counts.

    ENTRY is `last`, or a number that `correct --list` shows. Then record it as it should be.
    What goes and what depends on it is shown by `--dry-run`, and in a terminal before it is done.
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
        app.hint('Take one back: ortet correct ENTRY --void "REASON"')
        return
    if dry_run:
        seen = _foreseen(app, entry, written.by)
        app.answer(_foreseen_json(seen), *_foreseen_lines(seen))
        return
    if reason is None:
        raise BadOption("--void", "", 'why it is taken back: --void "typed twice"')
    if not reason.strip():
        raise WhyMissing
    if app.interactive:
        seen = _foreseen(app, entry, written.by)
        click.echo("\n".join(_foreseen_lines(seen)), err=True)
        if not (seen.later or seen.ended):  # what cannot be done is refused below, without asking
            click.confirm("Take it back?", default=True, abort=True, err=True)
    with app.recording("correct", by=written.by) as rec:
        keep_with(app, rec, written, ())  # the reason is what is kept with it
        done = take_back(rec, entry_of(rec.session, entry, rec.by_id), reason)
    app.answer(
        {"entry": done.entry.seq, "what": done.entry.what, "rows": done.rows,
         "beside": [one.seq for one in done.beside]},
        f"Taken back: entry {done.entry.seq} ({_act(done.entry)}), "
        f"{some(done.rows, 'row')}. It stays on record beside; now record it as it should be.",
        *_beside_lines(done.beside),
    )  # fmt: skip


def _act(entry: Entry) -> str:
    return " ".join((entry.what, *entry.about))


def _beside_lines(beside: tuple[Entry, ...]) -> list[str]:
    if not beside:
        return []
    lines = ["These name what it had recorded, and stand without it:"]
    return lines + [f"{one.seq:>6}  {_act(one)}" for one in beside]


def _foreseen(app: App, entry: str, by: str | None) -> Foreseen:
    from registry.services.people import recorder
    from registry.services.putright import entry_of, foresee

    with app.reading() as session:
        by_id = recorder(session, by) if by else None
        return foresee(session, entry_of(session, entry, by_id))


def _foreseen_lines(seen: Foreseen) -> list[str]:
    from registry.wording.history import past_lines

    lines = ["This would be taken back, and stay on record beside:", *past_lines((seen.past,))]
    if seen.later:
        lines.append("These build on it and would have to be taken back before, in this order:")
        lines += [f"{one.seq:>6}  {_act(one)}" for one in seen.later]
    if seen.ended:
        lines.append(f"These plants of it have left or ended: {' '.join(seen.ended)}.")
    if not (seen.later or seen.ended):
        lines.append("Nothing that was recorded later depends on it.")
    return lines + _beside_lines(seen.beside)


def _foreseen_json(seen: Foreseen) -> dict[str, Any]:
    from registry.wording.history import change

    return {
        "entry": seen.entry.seq,
        "what": seen.entry.what,
        "about": list(seen.entry.about),
        "says": [change(one) for one in seen.past.changes],
        "later": [
            {"entry": one.seq, "what": one.what, "about": list(one.about)} for one in seen.later
        ],
        "ended": list(seen.ended),
        "beside": [
            {"entry": one.seq, "what": one.what, "about": list(one.about)} for one in seen.beside
        ],
    }
