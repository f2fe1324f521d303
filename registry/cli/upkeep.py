"""`ortet verify`, `head`, `key`, `backup`, `restore`, `repair` and `migrate`."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below, default_path
from registry.cli.options import ROW, common, examples, pass_app
from registry.cli.output import some
from registry.errors import BadOption, FileUnwritable

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from registry.domain.heads import Statement
    from registry.domain.soundness import Report
    from registry.exchange.heads import Kept

PASSPHRASE = "ORTET_PASSPHRASE"  # noqa: S105 - the name of a variable
"""The variable that may hold the passphrase of the key, where nobody can be asked."""


@click.command(
    "verify",
    epilog=examples(
        "verify",
        "verify --against head.json",
    ),
)
@click.option("--fast", is_flag=True, help="Only what was recorded since the last whole check.")
@click.option("--rebuild", is_flag=True, help="The whole check, as without --fast.")
@click.option("--against", metavar="HEAD", help="A head that was kept elsewhere: text or a file.")
@common
@pass_app
def verify_command(app: App, fast: bool, rebuild: bool, against: str | None) -> None:
    """Check the whole record: the chain, the tables against it, and what they say together.

    The tables are made anew from the chain and compared with those that stand. Exit code 0 if all
    is as it was recorded, 1 if anything is not.
    """
    from registry.services import upkeep

    if fast and rebuild:
        raise click.UsageError("Give either --fast or --rebuild, which is the whole check.")
    opened = app.opened()
    kept = _head_kept(app, against) if against is not None else None
    report = upkeep.check(
        opened,
        _progress(app),
        fast=fast,
        against=kept.head if kept else None,
    )
    noted = _note_check(app, report)
    facts = {"registry": str(opened.path), **_facts(report)}
    lines = _verify_lines(report)
    if kept is not None:
        facts["against"] = {"entry": kept.head.seq, "head": kept.head.printed, "key": kept.key}
        lines += _kept_lines(app, report, kept)
    if fast and report.since is None and report.ok:
        lines.append("There was no whole check to go on from, so everything was looked at.")
    app.answer(facts, *lines, *noted)
    if not report.ok:
        _leave_with_no(app)


def _head_kept(app: App, said: str) -> Kept:
    from registry.exchange.heads import read
    from registry.services.heads import check_is_ours

    kept = read(said)
    with app.reading() as session:
        check_is_ours(session, kept, said)
    return kept


def _kept_lines(app: App, report: Report, kept: Kept) -> list[str]:
    """What is said of a head that was kept, beyond what does not agree with it."""
    from registry.exchange.keys import public_beside, thumbprint

    lines = []
    if not any(problem.where == "head" for problem in report.problems):
        newer = report.seq - kept.head.seq
        since = f", and {some(newer, 'entry', 'entries')} since" if newer else ""
        lines.append(
            f"The chain goes through the head that was kept: entry {kept.head.seq}{since}."
        )
    if kept.key is not None:
        own = public_beside(_key_path(app, None)) == kept.key
        whose = "your own key" if own else "a key that is not the one kept here: compare its name"
        lines.append(f"It is signed with {thumbprint(kept.key)}, {whose}.")
    elif kept.statement is not None:
        lines.append("It is not signed.")
    return lines


def _note_check(app: App, report: Report) -> list[str]:
    """Keep where a whole check ended; gives what is said where that cannot be."""
    from registry.errors import RegistryLocked, RegistryReadOnly
    from registry.services import upkeep

    if not report.ok or report.since is not None:
        return []
    try:
        with app.recording("verify") as rec:
            upkeep.remember(rec, report)
    except (RegistryLocked, RegistryReadOnly):
        return ["Where this check ended could not be noted, so --fast goes on from the one before."]
    return []


@click.command(
    "head",
    epilog=examples(
        "head --out slip.pdf",
        "head --out head.json --sign",
    ),
)
@click.option("--out", type=click.Path(path_type=Path), help="A file: .txt, .pdf, or .json.")
@click.option("--sign", is_flag=True, help="Sign the .json file with your key.")
@click.option("--key", type=click.Path(path_type=Path), help="The file of your key.")
@common
@pass_app
def head_command(app: App, out: Path | None, sign: bool, key: Path | None) -> None:
    """The newest entry as digits to keep elsewhere, on paper or with a friend.

    Whoever keeps it can tell later that nothing before it was changed or cut off:
    `ortet verify --against`.
    """
    from registry.services.heads import head_now
    from registry.wording import heads as wording

    if (sign or key) and (out is None or out.suffix.lower() != ".json"):
        raise click.UsageError("A head is signed in a file: add --out FILE.json.")
    with app.reading() as session:
        said = head_now(session, app.clock())
    lines = [f"{what:<13} {words}".rstrip() for what, words in wording.slip(said)]
    lines += ["", *wording.advice(said)]
    public = None
    if out is not None:
        public = _write_head(app, out, said, "\n".join(lines) + "\n", key if sign or key else None,
                             sign=bool(sign or key))  # fmt: skip
        lines = [f"{said.head.printed}", f"Written to {out}{', signed' if public else ''}."]
    app.answer(
        {"entry": said.entry, "hash": said.hash, "head": said.head.printed,
         "recorded": said.recorded, "registry": said.registry, "grower": said.grower,
         "file": str(out) if out else None, "key": public},
        *lines,
    )  # fmt: skip


def _write_head(
    app: App, out: Path, said: Statement, text: str, key: Path | None, *, sign: bool
) -> str | None:
    """Write a head to a file whole or not at all; gives the public key that signed it."""
    from registry.exchange import heads
    from registry.exchange.keys import public_of
    from registry.papers.slip import slip_pdf

    ending = out.suffix.lower()
    if ending not in (".txt", ".pdf", ".json"):
        raise BadOption("--out", str(out), "a file that ends in .txt, .pdf or .json")
    signer = _signer(app, key) if sign else None
    beside = out.with_name(f".{out.name}.part")
    try:
        with beside.open("wb") as file:
            if ending == ".pdf":
                slip_pdf(said, file)
            else:
                file.write((heads.write(said, signer) if ending == ".json" else text).encode())
        beside.replace(out)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FileUnwritable(out, error.strerror or str(error)) from error
    return public_of(signer) if signer else None


# --- the grower's key ----------------------------------------------------------------------------


@click.group("key", cls=Below)
def key_command() -> None:
    """The key that signs what leaves the house: make, show."""


@key_command.command("make")
@click.option("--key", type=click.Path(path_type=Path), help="The file to keep it in.")
@click.option("--no-passphrase", is_flag=True, help="Whoever has the file can sign.")
@common
@pass_app
def key_make(app: App, key: Path | None, no_passphrase: bool) -> None:
    """Make a key; it stands in a file of its own, not in the registry."""
    from registry.exchange import keys

    path = _key_path(app, key)
    passphrase = None if no_passphrase else _new_passphrase(app)
    public = keys.make(path, passphrase)
    app.answer(
        {"key": public, "kid": keys.thumbprint(public), "file": str(path)},
        f"Your key is in {path}. Keep a copy of that file apart from the registry.",
        f"Its name, for others to know it by: {keys.thumbprint(public)}",
    )


@key_command.command("show")
@click.option("--key", type=click.Path(path_type=Path), help="The file that it is kept in.")
@common
@pass_app
def key_show(app: App, key: Path | None) -> None:
    """The public half of your key, which others may have."""
    from registry.errors import KeyMissing
    from registry.exchange import keys

    path = _key_path(app, key)
    public = keys.public_beside(path)
    if public is None:
        raise KeyMissing(path)
    app.answer(
        {"key": public, "kid": keys.thumbprint(public), "file": str(path)},
        f"Name        {keys.thumbprint(public)}",
        f"Public key  {public}",
        f"File        {path}",
    )


def _key_path(app: App, said: Path | None) -> Path:
    """Where this registry's key is kept: beside the usual registry, not beside a named one.

    A copy of the registry or of its folder then does not carry the key along.
    """
    if said is not None:
        return said
    from registry.services.rows import registry_row

    with app.reading() as session:
        registry = registry_row(session).uuid
    return default_path().parent / "keys" / f"{registry}.pem"


def _new_passphrase(app: App) -> str | None:
    given = os.environ.get(PASSPHRASE)
    if given:
        return given
    if not app.interactive:
        raise BadOption("--no-passphrase", "", f"it, or a passphrase in the variable {PASSPHRASE}")
    typed = click.prompt(
        "A passphrase for it (Enter for none)", default="", hide_input=True,
        show_default=False, confirmation_prompt=True, err=True,
    )  # fmt: skip
    return str(typed) or None


def _signer(app: App, said: Path | None) -> Ed25519PrivateKey:
    from registry.exchange import keys

    path = _key_path(app, said)
    passphrase = None
    if keys.is_sealed(path):
        passphrase = os.environ.get(PASSPHRASE)
        if not passphrase and app.interactive:
            passphrase = click.prompt("The passphrase of your key", hide_input=True, err=True)
    return keys.load(path, passphrase)


@click.command(
    "backup",
    epilog=examples(
        "backup",
        "backup /media/stick --keep 8",
    ),
)
@click.argument("target", required=False, type=click.Path(path_type=Path))
@click.option("--keep", type=ROW, help="Dated copies to leave in the folder.")
@click.option("--keep-days", type=ROW, help="How many days old a dated copy may become.")
@click.option("--replace", is_flag=True, help="Write over the file TARGET.")
@common
@pass_app
def backup_command(
    app: App, target: Path | None, keep: int | None, keep_days: int | None, replace: bool
) -> None:
    """Copy the registry to TARGET, while it may be in use.

    In a folder the copy gets a dated name; without TARGET it stands beside the registry. With
    --keep and --keep-days older dated copies are taken away that neither of them keeps, unless
    something is amiss in the new one.
    """
    from registry.services import upkeep
    from registry.wording.storage import fault

    opened = app.opened()
    done = upkeep.back_up(
        opened,
        target,
        now=app.clock(),
        keep=keep,
        keep_days=keep_days,
        replace=replace,
        progress=_progress(app),
    )
    lines = [f"Copied to {done.path} ({_size(done.size)}), {_extent(done.report)}."]
    lines += [f"Took the older copy {path} away." for path in done.removed]
    if not done.report.ok:
        lines.append("The copy is as the registry stands, but not all is as it was recorded:")
        lines += [f"  {fault(problem)}" for problem in done.report.problems]
        if keep or keep_days:
            lines.append("No older copy was taken away: one of them may be needed.")
    app.answer(
        {
            "copy": str(done.path),
            "size": done.size,
            "removed": [str(path) for path in done.removed],
            **_facts(done.report),
        },
        *lines,
    )
    if not done.report.ok:
        _leave_with_no(app)


@click.command(
    "restore",
    epilog=examples(
        "restore copy.sqlite --registry again.sqlite",
    ),
)
@click.argument("copy", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Put the registry that stands there aside.")
@click.option("--anyway", is_flag=True, help="Take a copy that does not check out.")
@common
@pass_app
def restore_command(app: App, copy: Path, replace: bool, anyway: bool) -> None:
    """Bring COPY back as the registry; it is checked before anything is touched.

    A registry that stands there is kept beside it, under a dated name.
    """
    from registry.services import upkeep

    done = upkeep.restore(
        copy, app.path, now=app.clock(), replace=replace, anyway=anyway, progress=_progress(app)
    )
    lines = [f"Restored {done.path} from {copy}, {_extent(done.report)}."]
    if done.kept is not None:
        lines.append(f"The registry before it is kept as {done.kept}.")
        lines += _what_stood(done.instead_of or 0, done.shared, done.report.seq)
    if not done.report.ok:
        lines.append("Not all in it is as it was recorded; 'ortet verify' says what.")
    app.answer(
        {
            "registry": str(done.path),
            "from": str(copy),
            "kept": str(done.kept) if done.kept else None,
            "instead_of": done.instead_of,
            "shared": done.shared,
            **_facts(done.report),
        },
        *lines,
    )


def _what_stood(instead_of: int, shared: int | None, seq: int) -> list[str]:
    """How the registry that was put aside stands to what was brought back, which ends at `seq`."""
    if shared is None or shared == instead_of:
        return []
    if shared == 0:
        return ["They are two registries: nothing in the one was recorded in the other."]
    alone = f"({some(instead_of - shared, 'entry', 'entries')}) is in that file alone."
    if shared == seq:
        return [f"It was newer: what was recorded after entry {shared} {alone}"]
    return [f"The two go different ways after entry {shared}: what it has after that {alone}"]


@click.command("repair")
@common
@pass_app
def repair_command(app: App) -> None:
    """Make anew the lists that names are found by, where `verify` says that they are off.

    They follow from the records, and are no part of what was recorded.
    """
    from registry.services import upkeep

    with app.recording("repair") as rec:
        upkeep.repair(rec)
    report = upkeep.check(app.opened(), _progress(app))
    app.answer(
        {"registry": str(app.path), **_facts(report)},
        "The lines of names and the words of the search are made anew from the records.",
        *_verify_lines(report),
    )
    if not report.ok:
        _leave_with_no(app)


@click.command("migrate")
@common
@pass_app
def migrate_command(app: App) -> None:
    """Bring a registry of an older version up to date; a copy is made first."""
    from registry.services import upkeep

    done = upkeep.migrate(app.path, now=app.clock(), progress=_progress(app))
    facts: dict[str, Any] = {
        "registry": str(done.path),
        "before": done.before,
        "after": done.after,
        "copy": str(done.copy) if done.copy else None,
    }
    if done.copy is None:
        app.answer(facts, f"{done.path} is up to date; there was nothing to do.")
    else:
        app.answer(
            facts,
            f"{done.path} is up to date and checks out.",
            f"The registry as it was before is kept as {done.copy}.",
        )


def _facts(report: Report) -> dict[str, Any]:
    from registry.wording.storage import fault

    return {
        "ok": report.ok,
        "entries": report.entries,
        "head": report.head,
        "since": report.since.seq if report.since else None,
        "problems": [
            {
                "where": problem.where,
                "what": problem.fault.value,
                "record": problem.record or None,
                "entry": problem.seq,
                "column": problem.column or None,
                "found": problem.found or None,
                "expected": problem.expected or None,
                "says": fault(problem),
            }
            for problem in report.problems
        ],
        "more": report.more,
    }


def _verify_lines(report: Report) -> list[str]:
    from registry.domain.heads import Head
    from registry.domain.soundness import DERIVED
    from registry.wording.storage import fault, where

    if report.ok and report.since is not None:
        from registry.wording.heads import moment

        return [
            f"Since the whole check of {moment(report.since.at)} (entry {report.since.seq}): "
            f"{_extent(report)}, {some(report.rows, 'row')}, all as recorded.",
            *NOT_LOOKED_AT,
        ]
    if report.ok:
        return [
            f"All is as it was recorded: {_extent(report)}, {some(report.rows, 'row')}.",
            f"The chain ends in {report.head}.",
            f"To keep elsewhere (ortet head): {Head.of(report.seq, report.head).printed}",
        ]
    lines = []
    part = None
    for problem in report.problems:
        if problem.where != part:
            part = problem.where
            lines.append(f"In {where(part)}:")
        lines.append(f"  {fault(problem)}")
    if report.more:
        lines.append(f"… and {report.more} more.")
    if all(problem.fault in DERIVED for problem in report.problems):
        lines.append("All that was recorded stands; 'ortet repair' makes these lists anew from it.")
    else:
        lines.append("Not all is as it was recorded. Keep the file, and compare it with a backup.")
    return lines


NOT_LOOKED_AT = (
    "Not looked at: whether anything recorded before that was changed since, older stored files "
    "and private details, the lists that names are found by, and the file's own pages.",
    "'ortet verify' without --fast looks at all of it.",
)
"""What is said of the limits of a check that goes on from another."""


def _extent(report: Report) -> str:
    return some(report.entries, "entry", "entries")


def _size(size: int) -> str:
    """A size in bytes as people read it: 1.2 MB."""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.0f} kB"


def _progress(app: App) -> Callable[[int, int], None]:
    """Tells somebody who sits at a terminal how far a check is, every thousand entries."""

    def tell(done: int, all_of: int) -> None:
        if app.interactive and done % 1000 == 0 and done < all_of:
            click.echo(f"{done} of {all_of} entries read", err=True)

    return tell


def _leave_with_no(app: App) -> None:
    """Print the answer, which is no, and leave with exit code 1."""
    app.flush()
    click.get_current_context().exit(1)
