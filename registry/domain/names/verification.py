"""How far a name was verified: as somebody said, or by the grounds that were given for it.

A status is never better than what was said: grounds that deny, that wait for something or that
pass on what somebody else or a picture says come to nothing.
"""

from __future__ import annotations

from enum import StrEnum

from registry.domain.names.keys import search_keys
from registry.domain.names.tables import DENIALS


class Verified(StrEnum):
    """From nobody looked to a test; a later word outweighs an earlier one."""

    UNVERIFIED = "unverified"
    SEEN = "seen in flower or fruit"
    COMPARED = "compared"
    TESTED = "tested"


# Common practice, no source. A label or somebody's word says what it is called, not what it is.
_WORDS = {
    Verified.TESTED: {"test", "tested", "dna", "lab", "laboratory", "marker", "markers"},
    Verified.COMPARED: {
        "compared", "comparison", "compare", "herbarium", "specimen", "key", "keyed", "expert",
    },
    Verified.SEEN: {
        "flower", "flowers", "flowered", "flowering", "bloom", "blooms", "bloomed", "blossom",
        "fruit", "fruits", "fruited", "fruiting", "berries", "cones",
    },
}  # fmt: skip


GROUNDS = {
    "flower": Verified.SEEN,
    "fruit": Verified.SEEN,
    "compared": Verified.COMPARED,
    "tested": Verified.TESTED,
    "no": Verified.UNVERIFIED,
}
"""What a grower says in one word, and the status that it gives."""


def verified(grounds: str | None) -> Verified:
    """What the words of `grounds` come to.

    >>> verified("in flower, May"), verified("the giver's word"), verified("DNA test")
    (<Verified.SEEN: 'seen in flower or fruit'>, <Verified.UNVERIFIED: 'unverified'>, <Verified.TESTED: 'tested'>)
    >>> verified("not tested"), verified("flowers red, says the label")
    (<Verified.UNVERIFIED: 'unverified'>, <Verified.UNVERIFIED: 'unverified'>)
    """  # noqa: E501 - a doctest's answer stands in one line
    said = set(search_keys(grounds or ""))
    if said & DENIALS or {"to", "be"} <= said:
        return Verified.UNVERIFIED
    return next((how for how, words in _WORDS.items() if words & said), Verified.UNVERIFIED)


def status(said: str | None, grounds: str | None) -> Verified:
    """What was recorded with a name; where nothing was, what its grounds come to."""
    return Verified(said) if said is not None else verified(grounds)


def strongest(*hows: Verified) -> Verified:
    """The one that outweighs the others."""
    order = list(Verified)
    return max(hows, key=order.index, default=Verified.UNVERIFIED)
