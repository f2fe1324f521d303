"""How long each kind of right lasts: years by group of plant, as (fewest, most).

Two numbers differ where official wordings differ or where a record leaves a choice open; the
earliest end is counted with the first, the latest with the second. None as a group is "not
recorded" and takes the widest range of the kind.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from types import MappingProxyType

from registry.domain.rules.kinds import Group, Kind

Years = tuple[int, int]

# --- United States -------------------------------------------------------------------------------

US_TERM = 20  # from filing, 35 USC 154(a)(2)
US_OLD_TERM = 17  # from grant, 35 USC 154(c)(1)
# Six months after 8 December 1994: before it, the greater of the two (35 USC 154(c)(1)).
US_TWENTY_YEARS_FROM = date(1995, 6, 8)

# Certificates: 7 USC 2483(b); an application pending or a certificate issued before this day and
# not refiled keeps the old Act's 18 years (Pub. L. 103-349 s. 14-15), 17 before December 1980.
US_CERTIFICATE_NEW_ACT = date(1995, 4, 4)
US_CERTIFICATE_18_YEARS_FROM = date(1980, 12, 22)  # Pub. L. 96-574; the day from memory
US_CERTIFICATE_OLD: Years = (18, 18)
US_CERTIFICATE_OLDEST: Years = (17, 18)

# --- European Union ------------------------------------------------------------------------------

# Reg (EU) 2021/1873 Art. 1 added five years for woody ornamentals, woody small fruits, flower
# bulbs and asparagus, also to rights still alive on this day.
EU_EXTENSION_FROM = date(2021, 11, 15)
# EU rights granted until this day live on in the United Kingdom as UK rights of the same day.
UK_COPIES_EU_UNTIL = date(2020, 12, 31)

# --- Canada, New Zealand -------------------------------------------------------------------------

CA_NEW_TERM_FROM = date(2015, 2, 27)  # Plant Breeders' Rights Act s. 6
CA_OLD_TERM = 18  # office guide of 2006: "up to 18 years"
NZ_NEW_ACT_FROM = date(2023, 1, 24)  # PVR Act 2022 in force; the day from memory

# --- the groups ----------------------------------------------------------------------------------

_TREES_AND_VINES = (Group.TREE, Group.ORNAMENTAL_TREE, Group.VINE)
_WOODY = (*_TREES_AND_VINES, Group.WOODY_ORNAMENTAL, Group.SMALL_FRUIT)


def _table(plain: Years, **groups: Years) -> Mapping[Group | None, Years]:
    """A full table by group: the named groups, else `plain`; None takes the widest range."""
    table: dict[Group | None, Years] = {
        group: groups.get(group.name.lower(), plain) for group in Group
    }
    table[None] = (min(y[0] for y in table.values()), max(y[1] for y in table.values()))
    return MappingProxyType(table)


# 7 USC 2483(b)(1): 20, tree or vine 25. Office pages say "woody" and "shrubs" as well.
US_CERTIFICATE = _table(
    (20, 20),
    tree=(25, 25),
    ornamental_tree=(25, 25),
    vine=(25, 25),
    woody_ornamental=(20, 25),
    small_fruit=(20, 25),
)
# Art. 19(1), Reg (EC) 2470/96 Art. 1(1), Reg (EU) 2021/1873 Art. 1. For an ornamental tree the
# last can be read as 30 + 5.
EU_CPVR = _table(
    (25, 25),
    tree=(30, 30),
    vine=(30, 30),
    potato=(30, 30),
    woody_ornamental=(30, 30),
    small_fruit=(30, 30),
    bulb=(30, 30),
    asparagus=(30, 30),
    ornamental_tree=(30, 35),
)
# The same without the extension of 2021, for rights that had ended by then.
EU_CPVR_BEFORE_2021 = _table(
    (25, 25), tree=(30, 30), ornamental_tree=(30, 30), vine=(30, 30), potato=(30, 30)
)
# Plant Varieties Act 1997 s. 11(1): 25; potatoes, trees and vines 30.
UK_PBR = _table(
    (25, 25),
    tree=(30, 30),
    ornamental_tree=(30, 30),
    vine=(30, 30),
    potato=(30, 30),
    woody_ornamental=(25, 30),
    small_fruit=(25, 30),
)
# Plant Breeders' Rights Act s. 6: 20, tree or vine 25, or a category set by regulation
# (proposed 9 August 2025 for potato, asparagus and woody plants; the term clause was not read).
CA_PBR = _table(
    (20, 20),
    tree=(25, 25),
    ornamental_tree=(25, 25),
    vine=(25, 25),
    potato=(20, 25),
    asparagus=(20, 25),
    woody_ornamental=(20, 25),
    small_fruit=(20, 25),
)
# Plant Breeder's Rights Act 1994 s. 22 (number from memory): 20, trees and vines 25.
AU_PBR = _table(
    (20, 20),
    tree=(25, 25),
    ornamental_tree=(25, 25),
    vine=(25, 25),
    woody_ornamental=(20, 25),
    small_fruit=(20, 25),
)
# PVR Act 2022 s. 19 (read in law-firm notes): 20, woody plants and potatoes 25.
NZ_PVR = _table((20, 20), potato=(25, 25), **{group.name.lower(): (25, 25) for group in _WOODY})
# Rights granted under the 1987 Act keep 20, woody plants 23.
NZ_PVR_1987 = _table((20, 20), **{group.name.lower(): (23, 23) for group in _WOODY})
# The Swiss register shows 25, trees 30, older grants 20; the date on the register comes first.
CH_PVR = _table((20, 25), tree=(20, 30), ornamental_tree=(20, 30), vine=(20, 30))

OTHER_FEWEST = 15  # UPOV 1978 Art. 8: at least 15 years (from memory); no longest is known

TERM_CITATION: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.US_PLANT_PATENT: "35 USC 154(a)(2), 154(c)(1)",
        Kind.US_UTILITY_PATENT: "35 USC 154(a)(2), 154(c)(1)",
        Kind.US_CERTIFICATE: "7 USC 2483(b)",
        Kind.EU_CPVR: "Reg (EC) 2100/94 Art. 19(1); Reg (EC) 2470/96; Reg (EU) 2021/1873",
        Kind.UK_PBR: "Plant Varieties Act 1997 s. 11(1)",
        Kind.CA_PBR: "Plant Breeders' Rights Act (Canada) s. 6",
        Kind.AU_PBR: "Plant Breeder's Rights Act 1994 (Australia) s. 22 (from memory)",
        Kind.NZ_PVR: "Plant Variety Rights Act 2022 (New Zealand) s. 19",
        Kind.CH_PVR: "the federal variety register's own dates",
        Kind.OTHER: "UPOV 1978 Art. 8 (from memory)",
    }
)
