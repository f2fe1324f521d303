"""Making the tables and bringing them up to date, with Alembic run in code.

Alembic is imported here only: it is slow to load and seldom needed.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine

from registry.storage.engine import DOOR, WRITING, make_engine
from registry.storage.revision import HEAD


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


def upgrade(engine: Engine, revision: str = "head") -> None:
    """Bring the tables to `revision`, all in one transaction.

    Foreign keys are off meanwhile, since a table rebuilt in place would take its children with it
    (Alembic's documentation of batch mode), and are checked before the end.
    """
    with engine.execution_options(**{WRITING: True}).connect() as connection:
        # The pragma is ignored inside a transaction, so it goes past SQLAlchemy's BEGIN.
        driver = connection.connection.driver_connection
        if driver is not None:
            driver.execute("PRAGMA foreign_keys = OFF")
        connection.info[DOOR] = True
        try:
            with connection.begin():
                command.upgrade(configuration(connection), revision)
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise RuntimeError(f"rows without their parents after migrating: {broken[:3]}")
        finally:
            connection.info[DOOR] = False


def create(path: Path) -> Engine:
    """A new file at `path` with every table, empty; the caller has looked that nothing is there."""
    engine = make_engine(path, mode="rwc")
    upgrade(engine, HEAD)
    return engine
