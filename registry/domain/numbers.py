"""Whole numbers as they are typed, within what a registry can hold."""

from __future__ import annotations

import re

LARGEST = 2**31 - 1
"""The largest number of a row or a count: an `integer` of PostgreSQL has four bytes."""

_WHOLE = re.compile(r"0*([0-9]{1,10})")


def whole(typed: str) -> int | None:
    """The number that `typed` is; None if it is none, or larger than `LARGEST`.

    Only the digits 0 to 9 count: `str.isdigit` holds for signs that `int` does not read.

    >>> whole("007"), whole("²"), whole("99999999999999999999")
    (7, None, None)
    """
    found = _WHOLE.fullmatch(typed.strip())
    number = int(found[1]) if found else None
    return None if number is None or number > LARGEST else number
