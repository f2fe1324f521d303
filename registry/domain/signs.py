"""Signs that no text may hold: those that steer a terminal or a page instead of being read.

A line break and a tab may stand in a text. What may not: other control characters (a NUL ends a
text for PostgreSQL, an escape begins a command for a terminal: ECMA-48), half of a surrogate pair
(it cannot be written in UTF-8: RFC 3629, section 3), the separators U+2028 and U+2029, code points
that are no characters (Unicode, section 23.7), and the marks that turn a line's direction round, so
that it reads otherwise than it is (Unicode Technical Report 36, section 3.2 "Bidirectional Text
Spoofing", from memory).
"""

from __future__ import annotations

import re

_UNFIT = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"
    "\u2028\u2029\u202a-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)

INSTEAD = "\N{REPLACEMENT CHARACTER}"
"""Stands where such a sign was, when a text that holds one is shown."""


def unfit(text: str) -> str | None:
    r"""The first sign of `text` that no text may hold; None if it holds none.

    >>> unfit("two\nlines") is None, unfit("red\x1b[2J")
    (True, '\x1b')
    """
    if text.isprintable():  # nearly all of them, and quick to tell
        return None
    found = _UNFIT.search(text)
    return found[0] if found else None


def shown(text: str) -> str:
    r"""`text` as it may be shown, whatever a file of another's making holds.

    >>> shown("red\x1b[2J")
    'red\ufffd[2J'
    """
    return text if text.isprintable() else _UNFIT.sub(INSTEAD, text)
