"""`ortet person export` and `blank`: what is held of a person, handed over or emptied."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App
from registry.cli.options import common, examples, pass_app
from registry.cli.output import as_json, some
from registry.errors import BadOption, FileUnwritable, RegistryLocked, StorageFull

if TYPE_CHECKING:
    from registry.services.privacy import Blanked, Held


def held_lines(held: Held) -> list[str]:
    """Where a person comes in, and what must be kept, as lines."""
    from registry.wording.privacy import kept, occurs

    lines = [f"  {n:>5}  {occurs(table, column)}" for table, column, n in held.occurs]
    if held.entries:
        lines.append(f"  {held.entries:>5}  recorded by them")
    lines += [f"  note   {words}" for words in held.notes]
    lines += [f"  file   {name}" for name in held.files]
    lines += [f"  {record}, {column}: {words[:80]}" for record, column, words in held.mentions]
    lines += [f"  {kept(keep)}" for keep in held.keep]
    return lines


def held_facts(held: Held) -> dict[str, Any]:
    """The same for a program."""
    return {
        "occurs": [
            {"table": table, "column": column, "count": n} for table, column, n in held.occurs
        ],
        "recorded": held.entries,
        "notes": list(held.notes),
        "files": list(held.files),
        "mentions": [
            {"record": record, "column": column, "words": words}
            for record, column, words in held.mentions
        ],
        "kept": [
            {
                "what": keep.dealing.dealt.value,
                "about": keep.dealing.about,
                "until": keep.until.isoformat() if keep.until else None,
                "citation": keep.citation,
            }
            for keep in held.keep
        ],
    }


@click.command(
    "export",
    epilog=examples(
        'person export "Nan Ashe" --out nan.json',
    ),
)
@click.argument("name")
@click.option("--out", type=click.Path(path_type=Path), help="A file; otherwise it is printed.")
@common
@pass_app
def person_export(app: App, name: str, out: Path | None) -> None:
    """Everything that is held of a person, as JSON, to hand over to them."""
    from registry.services.people import person_named
    from registry.services.privacy import export_of

    with app.reading() as session:
        everything = export_of(session, person_named(session, name), app.today)
    if out is None:
        app.say(as_json(everything))
        return
    beside = out.with_name(f".{out.name}.part")
    try:
        beside.write_text(as_json(everything) + "\n", encoding="utf-8")
        beside.replace(out)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FileUnwritable(out, error.strerror or str(error)) from error
    app.answer(
        {"file": str(out), "records": len(everything["records"])},
        f"Everything that is held of {everything['person']['name']} is in {out}.",
    )


@click.command(
    "blank",
    epilog=examples(
        'person blank "Nan Ashe" --dry-run',
        'person blank "Nan Ashe" --reason "she asked for it"',
    ),
)
@click.argument("name", required=False)
@click.option("--reason", metavar="TEXT", help="Why; it is recorded, and names nobody.")
@click.option("--dry-run", is_flag=True, help="Show what goes, and what must be kept.")
@click.option("--wipe", is_flag=True, help="Only clear what earlier emptying left in the file.")
@common
@pass_app
def person_blank(app: App, name: str | None, reason: str | None, dry_run: bool, wipe: bool) -> None:
    """Empty a person's details for good, where the law lets them ask for it.

    Name, contact, private notes and files kept with them go; the record goes on without a name and
    still verifies. What an authority may ask for is kept until its day.
    """
    from registry.services.people import person_named
    from registry.services.privacy import blank, held_of

    if wipe:
        app.answer({"wiped": True}, *(_wiped(app) or ["Nothing that was emptied is left in it."]))
        return
    if name is None:
        raise BadOption("NAME", "", "who it is, or --wipe")
    with app.reading() as session:
        person_id = person_named(session, name)
        held = held_of(session, person_id, app.today)
    if dry_run:
        app.answer({"name": name, **held_facts(held)}, *_dry_lines(name, held))
        return
    if reason is None:
        raise BadOption("--reason", "", 'why: --reason "she asked on 14 May"')
    if app.interactive and reason.strip() and not held.keep:
        click.echo("\n".join(_dry_lines(name, held)), err=True)
        click.confirm("Empty it for good?", default=False, abort=True, err=True)
    with app.recording("person blank") as rec:
        done = blank(rec, person_id, reason)
        rec.more = {"why": reason}
    left = _wiped(app)
    copies = _copies(app)
    app.answer(
        {"texts": done.texts, "files": done.files, "wiped": not left,
         "mentions": held_facts(held)["mentions"], "copies": [str(path) for path in copies]},
        *_done_lines(done), *left, *_copy_lines(copies),
    )  # fmt: skip


def _dry_lines(name: str, held: Held) -> list[str]:
    goes = ["name and contact"]
    goes += [some(len(held.notes), "note")] if held.notes else []
    goes += [some(len(held.files), "file")] if held.files else []
    if held.keep:
        lines = [f"Nothing of {name} would be emptied yet:"]
    else:
        lines = [f"Of {name} would be emptied for good: {', '.join(goes)}."]
        if held.mentions:
            lines.append("The name would stay in words of the record, which cannot be emptied.")
        lines.append("These records stay, without a name:")
    return [*lines, *held_lines(held)]


def _done_lines(done: Blanked) -> list[str]:
    lines = [
        f"Name and contact are emptied, {some(done.texts, 'note')} and {some(done.files, 'file')}."
    ]
    if done.mentions:
        lines.append("The name still stands in these words, which the chain holds for good:")
        lines += [f"  {record}, {column}: {words[:80]}" for record, column, words in done.mentions]
    return lines


def _wiped(app: App) -> list[str]:
    """Have the registry forget; gives what is said where it could not."""
    from registry.storage.wiping import wipe

    try:
        wipe(app.writable())
    except (RegistryLocked, StorageFull):
        return [
            "Remains of it may still stand in the file, which somebody is using or which has no "
            "room to be written anew: close other programs, then 'ortet person blank --wipe'."
        ]
    return []


def _copies(app: App) -> list[Path]:
    """Copies of the registry that stand beside it, under names that this program gave.

    Those of one on a server stand where one works.
    """
    from registry.storage.backup import as_file

    registry = as_file(app.path).absolute()
    beside = registry.parent.glob("*")
    starts = (f"{registry.stem}.backup-", f"{registry.stem}.before-")
    return sorted(file for file in beside if file.name.startswith(starts))


def _copy_lines(copies: list[Path]) -> list[str]:
    if not copies:
        return ["Copies that were made before hold it still: take those away that you keep."]
    return ["These copies were made before and hold it still:", *(f"  {path}" for path in copies)]


OF_PERSON = (person_export, person_blank)
"""The commands of this module, for the group of people."""
