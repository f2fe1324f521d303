"""Keeping the record: checking it, copying it, bringing a copy back, bringing it up to date.

These work on the registry's file and not in a transaction, so they take its path and not a session.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import delete, insert

from registry.domain.heads import Head
from registry.domain.soundness import Report
from registry.location import Location
from registry.services.making import rebuild_all_lines
from registry.storage import backup as copies
from registry.storage import search
from registry.storage.backup import Migrated, Restored
from registry.storage.engine import Opened
from registry.storage.models import Checked
from registry.storage.since import newest_mark, verify_since
from registry.storage.transaction import Recording
from registry.storage.verify import Progress, tell_nobody, verify

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
    progress: Progress = tell_nobody,
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
    return verify_since(opened.engine, opened.path, mark, progress, against)


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
    keep_days: int | None = None,
    replace: bool = False,
    progress: Progress = tell_nobody,
) -> BackedUp:
    """Copy the registry.

    Args:
        opened: the registry.
        target: a file; or a folder, where the copy gets a dated name; None is the registry's own,
            or for one on a server where one works.
        now: the moment, for the dated name.
        keep: how many dated copies to leave in the folder; the oldest beyond that are taken away
            once the new one stands.
        keep_days: how many days old a copy may be before it is taken away. Where both are said, a
            copy stays that either keeps; where neither is, all stay. None is taken away for a new
            one in which something is amiss: it may be the older that is needed.
        replace: whether a file at `target` may be written over.
        progress: is told how far the check of the copy is.

    Raises:
        FileInTheWay: something stands at `target` and `replace` is false.
        FileUnwritable, StorageFull: the copy cannot be written.
        RegistryDamaged: the registry cannot be read.
    """
    usual = copies.as_file(opened.path)
    folder = usual.parent if target is None else target
    if not folder.is_dir():
        copied = copies.back_up(opened, folder, replace=replace, tell=progress)
        return BackedUp(copied.path, copied.size, copied.report, ())
    copied = copies.back_up(opened, copies.dated(folder / usual.name, WORD, now), tell=progress)
    sound = copied.report.ok and not (keep is None and keep_days is None)
    removed = _thin_out(folder, usual, copied.path, keep, keep_days, now) if sound else ()
    return BackedUp(copied.path, copied.size, copied.report, removed)


def _thin_out(
    folder: Path,
    registry: Path,
    newest: Path,
    keep: int | None,
    keep_days: int | None,
    now: datetime,
) -> tuple[Path, ...]:
    """Take away the dated copies of a registry in a folder that neither rule keeps."""
    # A registry's own name may hold characters that a pattern means, so it is compared as it is.
    start, end = f"{registry.stem}.{WORD}-", registry.suffix
    dated = sorted(
        (when, file)
        for file in folder.iterdir()
        if file.name.startswith(start)
        and file.suffix == end
        and (when := _moment_of(file.name[len(start) :])) is not None
    )
    stays = {newest}
    if keep is not None:
        stays |= {file for _, file in dated[-keep:]}
    if keep_days is not None:
        stays |= {file for when, file in dated if now - when <= timedelta(days=keep_days)}
    old = tuple(file for _, file in dated if file not in stays)
    for file in old:
        file.unlink()
    return old


def _moment_of(stamp: str) -> datetime | None:
    """The moment that a dated name begins with; None for a name that somebody else gave."""
    try:
        return datetime.strptime(stamp[:16], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    except ValueError:
        return None


def repair(rec: Recording) -> None:
    """Make anew what is derived from the records: the lines of names, and the words of the search.

    The chain tells of nothing, since it holds neither.
    """
    rebuild_all_lines(rec)
    rec.derived_by(search.rebuild)


def restore(
    copy: Path,
    path: Location,
    *,
    now: datetime,
    replace: bool = False,
    anyway: bool = False,
    progress: Progress = tell_nobody,
) -> Restored:
    """Bring a copy back as the registry at `path`; see `registry.storage.backup.restore`."""
    return copies.restore(copy, path, now=now, replace=replace, anyway=anyway, tell=progress)


def migrate(path: Location, *, now: datetime, progress: Progress = tell_nobody) -> Migrated:
    """Bring an older registry up to date; see `registry.storage.backup.migrate`."""
    return copies.migrate(path, now=now, tell=progress)
