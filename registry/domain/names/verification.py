"""How far a name was verified, by the grounds that were given for it."""

from __future__ import annotations

from enum import StrEnum

from registry.domain.names.keys import search_keys


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


def verified(grounds: str | None) -> Verified:
    """What the words of `grounds` come to.

    >>> verified("in flower, May"), verified("the giver's word"), verified("DNA test")
    (<Verified.SEEN: 'seen in flower or fruit'>, <Verified.UNVERIFIED: 'unverified'>, <Verified.TESTED: 'tested'>)
    """  # noqa: E501 - a doctest's answer stands in one line
    said = set(search_keys(grounds or ""))
    return next((how for how, words in _WORDS.items() if words & said), Verified.UNVERIFIED)


def strongest(*hows: Verified) -> Verified:
    """The one that outweighs the others."""
    order = list(Verified)
    return max(hows, key=order.index, default=Verified.UNVERIFIED)
