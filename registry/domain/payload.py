"""What the symbol on a label says, and what a scanned text means. Pure text, both ways.

Two payloads. The **plain** one needs no server and no signal: the code on the first line, then
name, source, dates and batch as text. The **address** is that of the grower's own site, so that
a phone opens a page; its scheme stays lower case, because some phones do not recognise an
upper-case one, and host and code are upper case, which the alphanumeric mode of ISO/IEC 18004
(clause 7.4.4) stores in 5.5 bits a character instead of 8.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from registry.errors import BadSite

# The shape alone; whether the check character is right is for `registry.domain.codes`.
_CODE = r"\d{2}-\d{4,6}[A-Z]{0,2}(?:-\d{3,4})?-[0-9X]"
_BARE = re.compile(_CODE, re.IGNORECASE | re.ASCII)
_ADDRESS = re.compile(
    rf"(?P<site>https?://[^/?#\s]+(?:/[^?#\s]*)?)/P/(?P<code>{_CODE})/?(?:[?#]\S*)?",
    re.IGNORECASE | re.ASCII,
)
_SITE = re.compile(r"(?P<scheme>https?)://(?P<host>[^/?#\s@]+)(?P<path>/[^?#\s]*)?", re.IGNORECASE)
_STRAIGHT_QUOTES = str.maketrans("‘’“”", "''\"\"")


class PayloadKind(Enum):
    """How the code was carried."""

    CODE = "code"
    PLAIN = "plain"
    ADDRESS = "address"


@dataclass(frozen=True, slots=True)
class PayloadRead:
    """A code found in a scanned text.

    `code` is upper case and has the shape of a code; its check character is not yet looked at.
    `site` is the address without `/P/` and what follows, in lower-case scheme and host; None
    when no address was scanned.
    """

    kind: PayloadKind
    code: str
    site: str | None = None


def plain_payload(
    code: str,
    name: str = "",
    source: str | None = None,
    dates: Sequence[str] = (),
    batch: str | None = None,
) -> str:
    """The payload that needs no server: short lines of text, the code first.

    Curly quotation marks become straight ones: the same to the eye, a third of the bytes.
    What is not known is left out.

    >>> print(plain_payload("26-0014-007-X", "Rosa ‘Ispahan’", "19-0003-4", ["stuck 14 May 2026"]))
    26-0014-007-X
    Rosa 'Ispahan'
    from 19-0003-4
    stuck 14 May 2026
    """
    lines = [
        code,
        name.translate(_STRAIGHT_QUOTES),
        f"from {source}" if source else "",
        *dates,
        f"batch {batch}" if batch else "",
    ]
    return "\n".join(" ".join(line.split()) for line in lines if line.strip())


def address_payload(site: str, code: str) -> str:
    """The address of one plant on the grower's own site.

    The scheme is lower case, host and code upper case (RFC 3986 section 6.2.2.1: scheme and host
    mean the same in either case). A path in the site's address is kept as typed, because the
    case of a path matters to many web hosts; in lower case it makes the symbol larger.

    >>> address_payload("https://pots.example.org", "26-0014-007-X")
    'https://POTS.EXAMPLE.ORG/P/26-0014-007-X'

    Raises:
        BadSite: `site` is not `http://…` or `https://…`, or carries a query or a user's name.
    """
    match = _SITE.fullmatch(site.strip())
    if match is None or not match["host"].isascii():
        raise BadSite(site=site)
    path = (match["path"] or "").rstrip("/")
    return f"{match['scheme'].lower()}://{match['host'].upper()}{path}/P/{code}"


def read_payload(text: str) -> PayloadRead | None:
    """The code in a scanned or typed text, or None for a text that is not ours.

    >>> read_payload("HTTP://192.168.1.20:8000/p/26-0014-007-x")
    ... # doctest: +NORMALIZE_WHITESPACE
    PayloadRead(kind=<PayloadKind.ADDRESS: 'address'>, code='26-0014-007-X',
                site='http://192.168.1.20:8000')
    >>> read_payload("https://example.org/menu") is None
    True
    """
    stripped = text.strip()
    if match := _ADDRESS.fullmatch(stripped):
        scheme, host, path = _site_parts(match["site"])
        site = f"{scheme.lower()}://{host.lower()}{path}"
        return PayloadRead(PayloadKind.ADDRESS, match["code"].upper(), site)
    first, *rest = stripped.splitlines() or [""]
    if _BARE.fullmatch(first.strip()) is None:
        return None
    kind = PayloadKind.PLAIN if rest else PayloadKind.CODE
    return PayloadRead(kind, first.strip().upper())


def _site_parts(site: str) -> tuple[str, str, str]:
    scheme, _, rest = site.partition("://")
    host, slash, path = rest.partition("/")
    return scheme, host, slash + path
