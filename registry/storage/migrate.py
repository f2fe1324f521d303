"""Making the tables and bringing them up to date, with Alembic run in code.

Alembic is slow to load and seldom needed: nothing that every command loads may import this module.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine

from registry.errors import RegistryExists
from registry.location import Location, Server
from registry.storage.engine import WRITING, door, make_engine, translated
from registry.storage.files import beside, left_beside, settle
from registry.storage.revision import HEAD
from registry.storage.transaction import together

_Command = Callable[[Config, str], None]


def migrations_folder() -> Path:
    """Where the migrations are: in the installed package, else in the checkout beside it.

    Raises:
        FileNotFoundError: neither is there.
    """
    package = Path(str(files("registry")))
    for folder in (package / "migrations", package.parent / "migrations"):
        if (folder / "env.py").is_file():
            return folder
    raise FileNotFoundError("the migrations did not come with the program")


def configuration(connection: Connection | None = None) -> Config:
    """Alembic's settings in code; a `%` in the path is doubled for its interpolation."""
    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    if connection is not None:
        config.attributes["connection"] = connection
    return config


def upgrade(bind: Engine | Connection, revision: str = "head") -> None:
    """Bring the tables up to `revision`, all in one transaction.

    Args:
        bind: an engine; or a connection to a server, whose transaction somebody else ends.
        revision: where to.
    """
    _migrate(bind, revision, command.upgrade)


def downgrade(bind: Engine | Connection, revision: str) -> None:
    """Bring the tables down to `revision`, all in one transaction; `base` leaves none."""
    _migrate(bind, revision, command.downgrade)


def _migrate(bind: Engine | Connection, revision: str, run: _Command) -> None:
    if isinstance(bind, Connection):
        with door(bind):
            run(configuration(bind), revision)
        return
    with alone(bind) as connection:
        run(configuration(connection), revision)


@contextmanager
def alone(engine: Engine) -> Iterator[Connection]:
    """A connection that no other writer comes beside, in one transaction, to change tables over.

    In a file, foreign keys are off meanwhile, since a table rebuilt in place would take its
    children with it (Alembic's documentation of batch mode), and are looked at before the end.
    """
    if engine.dialect.name == "postgresql":
        from registry.storage import postgres

        with engine.execution_options(**{WRITING: True}).begin() as connection, door(connection):
            postgres.hold_writers_off(connection)
            yield connection
        return
    with engine.execution_options(**{WRITING: True}).connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None  # noqa: S101 - tells the type checker: it was just opened
        # The pragma is ignored inside a transaction, so it goes past SQLAlchemy's BEGIN.
        driver.execute("PRAGMA foreign_keys = OFF")
        with connection.begin(), door(connection):
            yield connection
            _check_references(connection)


def upgrade_over(connection: Connection) -> None:
    """Bring the tables up to date in the transaction that `connection` is in."""
    command.upgrade(configuration(connection), "head")


def _check_references(connection: Connection) -> None:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise RuntimeError(f"rows without their parents after migrating: {broken[:3]}")


@contextmanager
def in_the_making(path: Location) -> Iterator[tuple[Location, Engine | Connection]]:
    """An empty registry that stands at `path` once the block is through, and not before.

    Yields where it is until then, and what to record in it with.

    Raises:
        RegistryExists: something stands at `path`.
        FileUnwritable: the folder is missing or cannot be written.
        StorageFull: the disk is full.
        ServerSilent, RegistryReadOnly: the server does not let us make tables.
    """
    if isinstance(path, Server):
        with together(make_engine(path), path) as connection:
            make_tables(connection, path)
            yield path, connection
        return
    if path.exists():
        raise RegistryExists(path)
    # It gets its name when it is whole, so that there is never half a registry.
    with beside(path) as fresh:
        engine = create(fresh)
        yield fresh, engine
        engine.dispose()
        try:
            settle(fresh, path)
        except FileExistsError as error:
            raise RegistryExists(left_beside(path) or path) from error


def make_tables(connection: Connection, server: Server) -> None:
    """Make every table over a connection to `server`, in its transaction.

    Raises:
        RegistryExists: the database is not empty.
    """
    from registry.storage import postgres

    with translated(server):
        if postgres.has_tables(connection):
            raise RegistryExists(server)
        upgrade(connection)


def create(path: Path) -> Engine:
    """Make a registry at `path` with every table, empty, and give its engine.

    It appears whole: an interrupted call leaves nothing at `path`.

    Raises:
        RegistryExists: something stands at `path`.
        FileUnwritable: the folder is missing or cannot be written.
        StorageFull: the disk is full.
    """
    if path.exists():
        raise RegistryExists(path)
    with beside(path) as fresh:
        with translated(path):
            upgrade(make_engine(fresh, mode="rwc"), HEAD)
        try:
            settle(fresh, path)
        except FileExistsError as error:
            raise RegistryExists(left_beside(path) or path) from error
    return make_engine(path)
