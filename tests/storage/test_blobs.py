"""A file is stored once, whatever it is evidence of."""

from __future__ import annotations

import hashlib

from sqlalchemy import func, select

from registry.storage import blobs
from registry.storage.engine import reading
from registry.storage.models import Blob

CONTENT = b"a letter from the owner"


def test_a_file_is_read_back_as_it_was_stored(record, engine, registry_file):
    with record("attach") as rec:
        sha256 = blobs.store(rec, CONTENT, "text/plain")
    assert sha256 == hashlib.sha256(CONTENT).hexdigest()
    with reading(engine, registry_file) as session:
        assert blobs.load(session, sha256) == CONTENT
        assert session.get_one(Blob, sha256).size == len(CONTENT)


def test_the_same_file_is_kept_once(record, engine, registry_file):
    for _ in range(2):
        with record("attach") as rec:
            blobs.store(rec, CONTENT, "text/plain")
            blobs.store(rec, CONTENT, "text/plain")
    with reading(engine, registry_file) as session:
        assert session.scalar(select(func.count()).select_from(Blob)) == 1


def test_a_blanked_file_is_empty_until_it_is_stored_again(record, engine, registry_file):
    with record("attach") as rec:
        sha256 = blobs.store(rec, CONTENT, "text/plain")
    with record("blank") as rec:
        blob = rec.session.get_one(Blob, sha256)
        blob.content, blob.blanked = None, True
    with reading(engine, registry_file) as session:
        assert blobs.load(session, sha256) is None
    with record("attach") as rec:
        blobs.store(rec, CONTENT, "text/plain")
    with reading(engine, registry_file) as session:
        assert blobs.load(session, sha256) == CONTENT


def test_a_file_that_was_never_stored_is_nothing(engine, registry_file):
    with reading(engine, registry_file) as session:
        assert blobs.load(session, "0" * 64) is None
