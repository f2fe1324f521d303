"""Stored files: each kept once, under the SHA-256 of its bytes (FIPS 180-4)."""

from __future__ import annotations

import hashlib

from sqlalchemy.orm import Session

from registry.storage.models import Blob
from registry.storage.transaction import Recording


def store(rec: Recording, content: bytes, media_type: str) -> str:
    """Keep a file's bytes, unless they are kept already; returns their SHA-256.

    Bytes that were blanked come back when the same file is stored again.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    known = rec.session.get(Blob, sha256)
    if known is None:
        rec.add(Blob(sha256=sha256, size=len(content), type=media_type, content=content))
    elif known.blanked:
        known.content, known.blanked = content, False
    rec.flush()
    return sha256


def load(session: Session, sha256: str) -> bytes | None:
    """A stored file's bytes; None if there is none under this SHA-256 or it was blanked."""
    blob = session.get(Blob, sha256)
    return None if blob is None else blob.content
