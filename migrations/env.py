"""Alembic's environment: used by the program with its own connection, or from a checkout."""

from __future__ import annotations

from alembic import context
from sqlalchemy import Connection, create_engine

from registry.storage import models
from registry.storage.base import Base

assert models.__doc__  # noqa: S101 - the import fills the metadata


def run(connection: Connection) -> None:
    """Migrate over `connection`, which is in the caller's transaction."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        transactional_ddl=True,
        compare_server_default=True,
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:  # `alembic revision --autogenerate` from a checkout compares with an empty database
    with create_engine("sqlite://").connect() as fresh:
        run(fresh)
