"""The one place where the registry draws chance: UUIDs and salts."""

from __future__ import annotations

import secrets  # noqa: TID251 - this is the edge where chance enters
from collections.abc import Callable
from datetime import datetime
from uuid import UUID

NewId = Callable[[datetime], UUID]
"""Makes an identifier for something recorded at the given moment."""

SALT_BYTES = 16


def uuid7(moment: datetime) -> UUID:
    """A version 7 UUID (RFC 9562 section 5.7): 48 bits of Unix milliseconds, then chance.

    >>> from datetime import UTC
    >>> uuid7(datetime(2026, 5, 14, tzinfo=UTC)).version
    7
    """
    millis = int(moment.timestamp() * 1000) & ((1 << 48) - 1)
    chance = int.from_bytes(secrets.token_bytes(10))
    high = millis << 16 | 0x7 << 12 | (chance >> 68 & 0xFFF)
    low = 0b10 << 62 | chance & ((1 << 62) - 1)
    return UUID(int=high << 64 | low)


def new_salt() -> bytes:
    """Sixteen random bytes to hash a sealed value with."""
    return secrets.token_bytes(SALT_BYTES)
