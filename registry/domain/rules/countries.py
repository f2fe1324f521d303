"""Countries and places of law as they are typed."""

from __future__ import annotations

import re

from registry.domain.rules.territories import EU, Place, country_code
from registry.errors import BadPlaceCode

# ISO 3166-1 alpha-2, from memory; XI is the customs code of Northern Ireland.
COUNTRIES = frozenset(
    """
    AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR
    BS BT BV BW BY BZ CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ
    EC EE EG EH ER ES ET FI FJ FK FM FO FR GA GB GD GE GF GG GH GI GL GM GN GP GQ GR GS GT GU GW
    GY HK HM HN HR HT HU ID IE IL IM IN IO IQ IR IS IT JE JM JO JP KE KG KH KI KM KN KP KR KW KY
    KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH MK ML MM MN MO MP MQ MR MS MT MU MV
    MW MX MY MZ NA NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT PW PY
    QA RE RO RS RU RW SA SB SC SD SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG
    TH TJ TK TL TM TN TO TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS YE YT ZA ZM
    ZW XI
    """.split()  # noqa: SIM905 - a list of strings would be harder to check
)

_REGION = re.compile(r"([A-Z]{2})-[A-Z0-9]{1,3}")  # the shape of ISO 3166-2


def parse_territory(typed: str) -> str:
    """A country, or EU, as its code.

    >>> parse_territory("uk"), parse_territory("EU")
    ('GB', 'EU')

    Raises:
        BadPlaceCode: there is no such country code.
    """
    code = country_code(typed)
    if code != EU and code not in COUNTRIES:
        raise BadPlaceCode(typed)
    return code


def parse_place(typed: str) -> Place:
    """A country, or a region of one, as a place of law.

    >>> parse_place("us-or")
    Place(country='US', region='US-OR')

    Raises:
        BadPlaceCode: it is neither.
    """
    region = _REGION.fullmatch(typed.strip().upper())
    if region is None:
        return Place(parse_territory(typed))
    return Place(parse_territory(region[1]), region[0])
