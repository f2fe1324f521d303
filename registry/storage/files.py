"""Files that appear whole or not at all: written beside their place, synced, then renamed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from registry.errors import FileUnwritable

SIDE_FILES = ("-wal", "-shm", "-journal")
"""What SQLite may keep beside a database (SQLite, Temporary Files Used By SQLite)."""


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A name beside `path` for a file in the making; whatever is left under it goes in the end.

    Raises:
        FileUnwritable: the folder is not there or cannot be written.
    """
    folder = path.absolute().parent
    if not folder.is_dir():
        raise FileUnwritable(path, "its folder does not exist")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise FileUnwritable(path, "its folder cannot be written")
    fresh = folder / f".{path.name}.{os.getpid()}.new"
    remove(fresh)
    try:
        yield fresh
    finally:
        remove(fresh)


def remove(path: Path) -> None:
    """Take away a database that is not needed any more, with what SQLite keeps beside it."""
    for suffix in ("", *SIDE_FILES):
        with suppress(FileNotFoundError):
            Path(f"{path}{suffix}").unlink()


def left_beside(path: Path) -> Path | None:
    """What SQLite kept beside a database that stood at `path`, and would lay over another there."""
    sides = (Path(f"{path}{suffix}") for suffix in SIDE_FILES)
    return next((side for side in sides if side.exists()), None)


def sync(path: Path) -> None:
    """Have the system write a file or a folder's list of names to the disk."""
    if path.is_dir() and os.name == "nt":
        return  # Windows opens no folders and keeps their names by itself
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def settle(fresh: Path, path: Path, *, replace: bool = False) -> None:
    """Give the finished file `fresh` its name `path`, safe from a power cut before or after.

    Raises:
        FileExistsError: something stands at `path`, or was left beside it, and `replace` is false.
        FileUnwritable: the disk refuses.
    """
    try:
        sync(fresh)
        if replace:
            while side := left_beside(path):
                side.unlink()
            fresh.replace(path)
        elif side := left_beside(path):
            raise FileExistsError(side)
        else:
            # A link, unlike a rename, never takes another file's place.
            os.link(fresh, path)
            fresh.unlink()
        sync(path.absolute().parent)
    except FileExistsError:
        raise
    except OSError as error:
        raise FileUnwritable(path, error.strerror or str(error)) from error
