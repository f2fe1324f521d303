"""Keeping the record: checking it, copying it, bringing a copy back, bringing it up to date.

These work on the registry's file and not in a transaction, so they take its path and not a session.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import delete, insert

from registry.domain.heads import Head
from registry.domain.soundness import Report
from registry.location import Location
from registry.storage import backup as copies
from registry.storage.backup import Migrated, Restored
from registry.storage.engine import Opened
from registry.storage.models import Checked
from registry.storage.since import newest_mark, verify_since
from registry.storage.transaction import Recording
from registry.storage.verify import verify

WORD = "backup"
"""What stands in the name of a copy that the program named itself."""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A copy that was made, and the older ones that made room for it.

    Attributes:
        path: the copy.
        size: of the copy, in bytes.
        report: what a look at the copy's file and chain found.
        removed: older copies that were taken away.
    """

    path: Path
    size: int
    report: Report
    removed: tuple[Path, ...]


def check(
    opened: Opened,
    progress: Callable[[int, int], None] | None = None,
    *,
    fast: bool = False,
    against: Head | None = None,
) -> Report:
    """Check the registry; `progress` is told (entries done, entries in all).

    Args:
        opened: the registry.
        progress: is told how far it is.
        fast: only what was recorded since the newest whole check, if there was one that this can
            go on from; the report says which it was.
        against: a head that was kept elsewhere, which the chain must go through.
    """
    mark = newest_mark(opened.engine, opened.path) if fast else None
    if mark is None:
        return verify(opened.engine, opened.path, progress, against)
    return verify_since(opened.engine, opened.path, mark, progress or _tell_nobody, against)


def _tell_nobody(done: int, all_of: int) -> None:
    """Nobody waits to be told."""


def remember(rec: Recording, report: Report) -> None:
    """Keep where a whole check ended that found nothing, for the next one to go on from.

    The chain does not tell of it: a check leaves the head as it found it.
    """
    if report.ok and report.since is None and report.seq:
        at = rec.now.isoformat(timespec="seconds")
        rec.derived(
            delete(Checked), insert(Checked).values(id=1, seq=report.seq, hash=report.head, at=at)
        )


def back_up(
    opened: Opened,
    target: Path | None,
    *,
    now: datetime,
    keep: int | None = None,
    replace: bool = False,
) -> BackedUp:
    """Copy the registry.

    Args:
        opened: the registry.
        target: a file; or a folder, where the copy gets a dated name; None is the registry's own,
            or for one on a server where one works.
        now: the moment, for the dated name.
        keep: how many dated copies to leave in the folder; the oldest beyond that are taken away
            once the new one stands. None leaves all.
        replace: whether a file at `target` may be written over.

    Raises:
        FileInTheWay: something stands at `target` and `replace` is false.
        FileUnwritable, StorageFull: the copy cannot be written.
        RegistryDamaged: the registry cannot be read.
    """
    usual = copies.as_file(opened.path)
    folder = usual.parent if target is None else target
    if not folder.is_dir():
        copied = copies.back_up(opened, folder, replace=replace)
        return BackedUp(copied.path, copied.size, copied.report, ())
    copied = copies.back_up(opened, copies.dated(folder / usual.name, WORD, now))
    removed = _thin_out(folder, usual, keep) if keep is not None else ()
    return BackedUp(copied.path, copied.size, copied.report, removed)


def _thin_out(folder: Path, registry: Path, keep: int) -> tuple[Path, ...]:
    """Take away the oldest dated copies of a registry in a folder, beyond the newest `keep`."""
    # The names sort by date; a registry's own name may hold characters that a pattern means.
    start, end = f"{registry.stem}.{WORD}-", registry.suffix
    dated = sorted(
        file for file in folder.iterdir() if file.name.startswith(start) and file.suffix == end
    )
    old = dated[: max(len(dated) - max(keep, 1), 0)]
    for file in old:
        file.unlink()
    return tuple(old)


def restore(
    copy: Path, path: Location, *, now: datetime, replace: bool = False, anyway: bool = False
) -> Restored:
    """Bring a copy back as the registry at `path`; see `registry.storage.backup.restore`."""
    return copies.restore(copy, path, now=now, replace=replace, anyway=anyway)


def migrate(path: Location, *, now: datetime) -> Migrated:
    """Bring an older registry up to date; see `registry.storage.backup.migrate`."""
    return copies.migrate(path, now=now)
