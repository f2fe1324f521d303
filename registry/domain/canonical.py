"""The one way of writing a value as text, so that the same value always has the same hash.

The form is that of RFC 8785 (JSON Canonicalization Scheme) for what is written here: objects with
ASCII keys, arrays, text, whole numbers, true, false and null. Its rules for broken numbers and for
keys beyond ASCII are not needed and not followed; `signable` refuses both.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

MOST = 2**53 - 1
"""The largest whole number that every reader of JSON keeps exact (RFC 7493, section 2.2)."""

_encode = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode


def canonical(value: Any) -> str:
    """JSON with sorted keys, no spaces and no escapes that are not needed.

    >>> canonical({"b": None, "a": ["×", 1]})
    '{"a":["×",1],"b":null}'
    """
    return _encode(value)


def digest(data: bytes) -> str:
    """The SHA-256 (FIPS 180-4) of `data` in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def signable(value: Any) -> bytes:
    """The bytes of a value that leaves the house under a signature.

    Raises:
        ValueError: it holds something that others may write in another way.
    """
    _check(value)
    return canonical(value).encode()


def _check(value: Any) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise ValueError(f"a key that is not ASCII: {key!r}")
            _check(inner)
    elif isinstance(value, list):
        for inner in value:
            _check(inner)
    elif isinstance(value, float) or (isinstance(value, int) and abs(value) > MOST):
        raise ValueError(f"a number that is not written the same everywhere: {value!r}")
