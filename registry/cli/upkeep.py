"""`ortet verify`, `backup`, `restore` and `migrate`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App
from registry.cli.options import ROW, common, pass_app
from registry.cli.output import some

if TYPE_CHECKING:
    from registry.domain.soundness import Report


@click.command("verify")
@common
@pass_app
def verify_command(app: App) -> None:
    """Check the whole record: the chain, the tables against it, and what they say together.

    Exit code 0 if all is as it was recorded, 1 if anything is not.
    """
    from registry.services import upkeep

    opened = app.opened()
    report = upkeep.check(opened, _progress if app.interactive else None)
    app.answer({"registry": str(opened.path), **_facts(report)}, *_verify_lines(report))
    if not report.ok:
        _leave_with_no(app)


@click.command("backup")
@click.argument("target", required=False, type=click.Path(path_type=Path))
@click.option("--keep", type=ROW, help="Dated copies to leave in the folder.")
@click.option("--replace", is_flag=True, help="Write over the file TARGET.")
@common
@pass_app
def backup_command(app: App, target: Path | None, keep: int | None, replace: bool) -> None:
    """Copy the registry to TARGET, while it may be in use.

    In a folder the copy gets a dated name; without TARGET it stands beside the registry.
    """
    from registry.services import upkeep
    from registry.wording.storage import fault

    opened = app.opened()
    done = upkeep.back_up(opened, target, now=app.clock(), keep=keep, replace=replace)
    lines = [f"Copied to {done.path} ({_size(done.size)}), {_extent(done.report)}."]
    lines += [f"Took the older copy {path} away." for path in done.removed]
    if not done.report.ok:
        lines.append("The copy is as the registry stands, but not all is as it was recorded:")
        lines += [f"  {fault(problem)}" for problem in done.report.problems]
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


@click.command("restore")
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

    done = upkeep.restore(copy, app.path, now=app.clock(), replace=replace, anyway=anyway)
    lines = [f"Restored {done.path} from {copy}, {_extent(done.report)}."]
    if done.kept is not None:
        lines.append(f"The registry before it is kept as {done.kept}.")
    if not done.report.ok:
        lines.append("Not all in it is as it was recorded; 'ortet verify' says what.")
    app.answer(
        {
            "registry": str(done.path),
            "from": str(copy),
            "kept": str(done.kept) if done.kept else None,
            **_facts(done.report),
        },
        *lines,
    )


@click.command("migrate")
@common
@pass_app
def migrate_command(app: App) -> None:
    """Bring a registry of an older version up to date; a copy is made first."""
    from registry.services import upkeep

    done = upkeep.migrate(app.path, now=app.clock())
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
    from registry.wording.storage import fault, where

    if report.ok:
        return [
            f"All is as it was recorded: {_extent(report)}, {some(report.rows, 'row')}.",
            f"The chain ends in {report.head}.",
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
    lines.append("Not all is as it was recorded. Keep the file, and compare it with a backup.")
    return lines


def _extent(report: Report) -> str:
    return some(report.entries, "entry", "entries")


def _size(size: int) -> str:
    """A size in bytes as people read it: 1.2 MB."""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.0f} kB"


def _progress(done: int, all_of: int) -> None:
    if done % 1000 == 0 and done < all_of:
        click.echo(f"{done} of {all_of} entries read", err=True)


def _leave_with_no(app: App) -> None:
    """Print the answer, which is no, and leave with exit code 1."""
    app.flush()
    click.get_current_context().exit(1)
