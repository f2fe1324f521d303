"""Alembic's environment: used by the program with its own connection, or from a checkout."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine

from registry.storage import models, search
from registry.storage.base import Base, UuidBytes

assert models.__doc__  # noqa: S101 - the import fills the metadata


def render_item(kind: str, item: Any, autogenerate: Any) -> str | Literal[False]:
    """A migration stands alone: it names no type of ours, which may change later."""
    return "sa.LargeBinary(length=16)" if isinstance(item, UuidBytes) else False


def run(connection: Connection) -> None:
    """Migrate over `connection`, which is in the caller's transaction."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        include_name=search.include_name,
        render_item=render_item,
        transactional_ddl=True,
        compare_server_default=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def bring_up(connection: Connection) -> None:
    """Make the tables of every migration so far, for a new one to be compared with."""
    script = ScriptDirectory.from_config(context.config)
    migration = MigrationContext.configure(
        connection, opts={"fn": lambda revision, _: script._upgrade_revs("head", revision)}
    )
    with Operations.context(migration), migration.begin_transaction():
        migration.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:  # `alembic revision --autogenerate` from a checkout, which has no registry of its own
    with create_engine("sqlite://").connect() as fresh:
        bring_up(fresh)
        run(fresh)
