"""A head of the chain as a file for a friend: what it says, with a signature if there is a key."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from registry.domain.heads import Head, Statement, read_head
from registry.errors import BadHead, FileUnreadable, HeadForged
from registry.exchange import keys

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

TAG = "ortet head 1"
"""What is signed before the statement."""

KIND = "ortet head"
LARGEST = 1 << 20
"""No head is as large as this; more is not read."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A head that somebody kept.

    Attributes:
        head: number and digits.
        statement: the whole of it, where it came as such a file.
        key: the public key that it is signed with; None where it is not signed.
    """

    head: Head
    statement: Statement | None = None
    key: str | None = None


def write(statement: Statement, key: Ed25519PrivateKey | None) -> str:
    """The text of the file."""
    said: dict[str, Any] = {"kind": KIND, "version": 1, **asdict(statement)}
    content = {"statement": said}
    if key is not None:
        content["signature"] = keys.sign(key, TAG, said)
    return json.dumps(content, ensure_ascii=False, indent=2) + "\n"


def read(said: str) -> Kept:
    """The head that is meant: as it was typed, or in the file of that name.

    Raises:
        BadHead: it is none.
        FileUnreadable: the file cannot be read.
        HeadForged: its signature does not hold.
        SigningNotInstalled: it is signed, and the library that checks is not there.
    """
    path = Path(said)
    try:
        if not path.is_file():
            return Kept(read_head(said))
        with path.open("rb") as file:
            content = file.read(LARGEST).decode()
    except ValueError as error:  # text that cannot be a name or is no text
        raise BadHead(said) from error
    except OSError as error:
        raise FileUnreadable(path, error.strerror or str(error)) from error
    if not content.lstrip().startswith("{"):
        return Kept(_head_in(path, content))
    return _of_file(path, content)


def _head_in(path: Path, content: str) -> Head:
    try:
        return read_head(content)
    except BadHead as error:  # the file is named, not all that stands in it
        raise BadHead(str(path), error.group) from error


def _of_file(path: Path, content: str) -> Kept:
    try:
        document = json.loads(content, object_pairs_hook=_each_once)
        said = document["statement"]
        fields = {name: said[name] for name in Statement.__dataclass_fields__}
        statement = Statement(**fields)
        UUID(statement.registry)
        head = statement.head
        sound = said["kind"] == KIND and said["version"] == 1 and statement.entry > 0
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadHead(str(path)) from error
    if not sound:
        raise BadHead(str(path))
    signature = document.get("signature")
    if signature is None:
        return Kept(head, statement)
    try:
        holds = isinstance(signature, dict) and keys.is_signed(TAG, said, signature)
    except ValueError:
        holds = False
    if not holds:
        raise HeadForged(path)
    return Kept(head, statement, signature["key"])


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object in which no name stands twice, which readers would take in different ways."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice")
    return found
