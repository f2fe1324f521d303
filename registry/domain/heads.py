"""The head of the chain as people keep it: on paper, in a message, read aloud over a phone.

A head is the number of the newest entry and twenty-four digits of its hash. Whoever has an older
head can tell whether the registry that is shown to them still goes through it: everything up to
that entry follows from its hash.

Twenty-four decimal digits are nearly 80 bits: nobody finds another record with the same ones by
trying. Each four digits end in a check character (ISO/IEC 7064 MOD 11-2, as plant codes have) over
all that came before, the entry's number included, so that a slip in hearing or writing is told in
the group where it happened, and groups cannot change places.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from registry.domain.codes import check_character
from registry.errors import BadHead

DIGITS = 24
GROUP = 4

_PRINTED = re.compile(rf"(\d+)\s*:((?:[\s,;]*\d{{{GROUP}}}\s*-?\s*[0-9Xx]){{{DIGITS // GROUP}}})")


@dataclass(frozen=True, slots=True)
class Head:
    """An entry's number and digits of its hash."""

    seq: int
    digits: str

    @classmethod
    def of(cls, seq: int, hashed: str) -> Head:
        """The head that an entry is: `hashed` is its SHA-256 in hexadecimal."""
        return cls(seq, f"{int(hashed, 16) % 10**DIGITS:0{DIGITS}}")

    def is_of(self, hashed: str) -> bool:
        """Whether an entry of this number and hash is this head."""
        return self == Head.of(self.seq, hashed)

    @property
    def printed(self) -> str:
        """As it is written and read aloud.

        >>> Head.of(42, "ba7816bf" + "0" * 56).printed
        '42: 0386-9 4655-9 1091-9 2269-6 7881-3 1904-3'
        """
        groups = [self.digits[at : at + GROUP] for at in range(0, DIGITS, GROUP)]
        checks = [check_character(self._before(end)) for end in range(GROUP, DIGITS + 1, GROUP)]
        shown = " ".join(f"{group}-{check}" for group, check in zip(groups, checks, strict=True))
        return f"{self.seq}: {shown}"

    def _before(self, end: int) -> str:
        return f"{self.seq}{self.digits[:end]}"


@dataclass(frozen=True, slots=True)
class Statement:
    """What a head says.

    Attributes:
        registry: the registry's identifier.
        grower: whose it is.
        entry, hash: number and SHA-256 of its newest entry.
        recorded: the moment of that entry (ISO 8601).
        issued: the moment at which the head was taken (ISO 8601).
    """

    registry: str
    grower: str
    entry: int
    hash: str
    recorded: str
    issued: str

    @property
    def head(self) -> Head:
        """As it is read aloud."""
        return Head.of(self.entry, self.hash)


def read_head(typed: str) -> Head:
    """The head in a text, which may say more around it, as a slip does.

    >>> read_head("Head 42: 0386-9 4655-9 1091-9 2269-6 7881-3 1904-3, keep it").seq
    42

    Raises:
        BadHead: there is none, there are two, or a check character does not agree.
    """
    found = {(int(seq), groups) for seq, groups in _PRINTED.findall(typed)}
    heads = {(seq, re.sub(r"[^0-9X]", "", groups.upper())) for seq, groups in found}
    if len(heads) != 1:
        raise BadHead(typed)
    ((seq, characters),) = heads
    digits = ""
    for number, at in enumerate(range(0, len(characters), GROUP + 1), 1):
        digits += characters[at : at + GROUP]
        if check_character(f"{seq}{digits}") != characters[at + GROUP]:
            raise BadHead(typed, number)
    return Head(seq, digits)
