"""The head of the chain: what it is now, for somebody to keep."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.heads import Statement
from registry.errors import HeadOfAnother
from registry.exchange.heads import Kept
from registry.services.people import person_name
from registry.services.rows import registry_row
from registry.storage.models import ChainEntry


def head_now(session: Session, now: datetime) -> Statement:
    """The head as it stands, taken at `now`."""
    entry = session.scalars(select(ChainEntry).order_by(ChainEntry.seq.desc()).limit(1)).one()
    row = registry_row(session)
    recorded = json.loads(entry.header)["recorded"]
    return Statement(
        str(row.uuid),
        person_name(session, row.grower_id),
        entry.seq,
        entry.hash,
        recorded,
        now.isoformat(timespec="seconds"),
    )


def check_is_ours(session: Session, kept: Kept, said: str) -> None:
    """Refuse a head that was taken of another registry, where it says of which.

    Raises:
        HeadOfAnother: it was.
    """
    if kept.statement is not None and kept.statement.registry != str(registry_row(session).uuid):
        raise HeadOfAnother(Path(said), kept.statement.grower)
