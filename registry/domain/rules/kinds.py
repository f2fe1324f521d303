"""The kinds of right: where each holds, which acts it reaches, and whether private acts are free.

Y, N, P and ? of the published comparison become `Reach`: listed, free, free only if private and
non-commercial, not listed. "Not listed" is never read as free.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from registry.domain.rules.territories import Regime


class Kind(Enum):
    """A kind of right; the value is the word typed on the command line."""

    US_PLANT_PATENT = "us-plant-patent"
    US_UTILITY_PATENT = "us-utility-patent"
    US_CERTIFICATE = "us-pvp"
    EU_CPVR = "eu-cpvr"
    UK_PBR = "uk-pbr"
    CA_PBR = "ca-pbr"
    AU_PBR = "au-pbr"
    NZ_PVR = "nz-pvr"
    CH_PVR = "ch-pvr"
    OTHER = "other"


class Group(Enum):
    """The group of plants on which a term depends."""

    TREE = "tree"
    ORNAMENTAL_TREE = "ornamental tree"
    VINE = "vine"
    POTATO = "potato"
    WOODY_ORNAMENTAL = "woody ornamental"
    SMALL_FRUIT = "woody small fruit"
    BULB = "flower bulb"
    ASPARAGUS = "asparagus"
    OTHER = "other"


class Private(Enum):
    """Whether acts done privately and for non-commercial purposes are free."""

    FREE = "free"
    NOT_FREE = "not free"
    NOT_READ = "not read"


class Listed(Enum):
    """Whether an act stands among those that need the holder's leave."""

    YES = "listed"
    UNSAID = "not listed"


@dataclass(frozen=True, slots=True)
class KindRule:
    """What one kind of right does.

    Attributes:
        kind: which.
        regime: the law it belongs to.
        citation: where the acts are listed.
        private: whether private, non-commercial acts are free.
        private_citation: where that stands.
        private_gift: a gift of a copy, done privately.
        private_swap: a swap of a copy, done privately.
        lists_export: export is among the acts.
        lists_import: import is among the acts.
        keep_is_use: keeping a copy made without leave may be "using" it.
    """

    kind: Kind
    regime: Regime
    citation: str
    private: Private
    private_citation: str
    private_gift: Listed = Listed.UNSAID
    private_swap: Listed = Listed.UNSAID
    lists_export: Listed = Listed.YES
    lists_import: Listed = Listed.YES
    keep_is_use: bool = False


_RULES = (
    KindRule(
        Kind.US_PLANT_PATENT,
        Regime.US,
        "35 USC 161, 163",
        Private.NOT_FREE,
        "35 USC 161-164: no private exemption",
        private_gift=Listed.YES,
        private_swap=Listed.YES,
        lists_export=Listed.UNSAID,
        keep_is_use=True,
    ),
    KindRule(
        Kind.US_UTILITY_PATENT,
        Regime.US,
        "35 USC 154(a)(1)",
        Private.NOT_FREE,
        "35 USC 154(a)(1): no private exemption",
        private_gift=Listed.YES,
        private_swap=Listed.YES,
        lists_export=Listed.UNSAID,
        keep_is_use=True,
    ),
    KindRule(
        Kind.US_CERTIFICATE,
        Regime.US,
        "7 USC 2541(a)",
        Private.FREE,
        "7 USC 2541(e)",
    ),
    KindRule(
        Kind.EU_CPVR,
        Regime.EU,
        "Reg (EC) 2100/94 Art. 13(2)",
        Private.FREE,
        "Reg (EC) 2100/94 Art. 15(a)",
    ),
    KindRule(
        Kind.UK_PBR,
        Regime.UK,
        "Plant Varieties Act 1997 s. 6",
        Private.FREE,
        "Plant Varieties Act 1997 s. 8(a)",
    ),
    KindRule(
        Kind.CA_PBR,
        Regime.CA,
        "Plant Breeders' Rights Act (Canada) ss. 2, 5",
        Private.FREE,
        "Plant Breeders' Rights Act (Canada) s. 5.3(1)(a)",
        private_swap=Listed.YES,  # "sell" includes agreeing to exchange, s. 2
    ),
    KindRule(
        Kind.AU_PBR,
        Regime.AU,
        "Plant Breeder's Rights Act 1994 (Australia) s. 11 (from memory)",
        Private.FREE,
        "Plant Breeder's Rights Act 1994 (Australia) s. 16 (from memory)",
    ),
    KindRule(
        Kind.NZ_PVR,
        Regime.NZ,
        "Plant Variety Rights Act 2022 (New Zealand)",
        Private.FREE,
        "Plant Variety Rights Act 2022 (New Zealand) s. 17",
    ),
    KindRule(
        Kind.CH_PVR,
        Regime.CH,
        "Swiss law, not read; UPOV 1991 Art. 14(1) (from memory)",
        Private.NOT_READ,
        "Swiss law, not read",
    ),
    KindRule(
        Kind.OTHER,
        Regime.OTHER,
        "UPOV 1991 Art. 14(1) (from memory); the law of the place was not read",
        Private.NOT_READ,
        "the law of the place was not read",
        lists_export=Listed.UNSAID,
        lists_import=Listed.UNSAID,
    ),
)

KINDS: Mapping[Kind, KindRule] = MappingProxyType({rule.kind: rule for rule in _RULES})

US_PATENTS = frozenset({Kind.US_PLANT_PATENT, Kind.US_UTILITY_PATENT})

# Which kinds can stand on a variety in a place: "no right on record" is asked of each of these.
KINDS_OF: Mapping[Regime, tuple[Kind, ...]] = MappingProxyType(
    {regime: tuple(rule.kind for rule in _RULES if rule.regime is regime) for regime in Regime}
)

# Where private, non-commercial acts with a named cultivar never looked up are only conditional
# (cautious reading of the exemptions above; Switzerland for this row alone).
PRIVATE_FREE = frozenset({Regime.EU, Regime.UK, Regime.CA, Regime.AU, Regime.NZ})
PRIVATE_UNSEARCHED = PRIVATE_FREE | {Regime.CH}

LOOKUP_MONTHS = 24  # a look-up older than this is only conditional (cautious choice)
LIST_MONTHS = 24  # the same for a place's lists of weeds and protected plants
SECRET_YEARS = 3  # US applications are secret at first (35 USC 122(b); cautious sum)
GRACE_YEARS = 1  # sale this long before filing leaves a variety new (UPOV 1991 Art. 6, from memory)
GRACE_YEARS_ABROAD = 6  # the same abroad for trees and vines

# Longest grace abroad (6) + pendency (10; 'Nadorcott' took 9) + longest term + 1 year: a variety
# in commerce that long cannot still be under a right first asked for in time. Cautious sum.
PENDENCY_YEARS = 10
_LONGEST_TERM: Mapping[Regime, int] = MappingProxyType(
    {
        Regime.US: 25,
        Regime.CA: 25,
        Regime.AU: 25,
        Regime.NZ: 25,
        Regime.UK: 30,
        Regime.CH: 30,
        Regime.EU: 35,
        Regime.OTHER: 35,
    }
)
LONG_IN_CULTIVATION: Mapping[Regime, int] = MappingProxyType(
    {
        regime: GRACE_YEARS_ABROAD + PENDENCY_YEARS + term + 1
        for regime, term in _LONGEST_TERM.items()
    }
)
