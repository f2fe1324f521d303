"""Values that stand outside the chain under a salt: the chain knows them by their hash alone.

Each has a salt of its own, so that a hash does not tell two equal values (a name that somebody
guesses). Blanking a value empties its salt as well; from then on nothing can be told from the hash,
and the chain still verifies.
"""

from __future__ import annotations

from registry.storage.chain import sealed_hash

BLANKED = b""
"""The salt of a value that was blanked."""


def detail_hash(salt: bytes, *, name: str, contact: str | None, share: bool) -> str:
    """What `Person.detail_hash` holds of a person's details."""
    return sealed_hash(salt, {"name": name, "contact": contact, "share": share})


def text_hash(salt: bytes, value: str) -> str:
    """What `Sealed.hash` and `Note.sealed_hash` hold of a text marked personal."""
    return sealed_hash(salt, value)
