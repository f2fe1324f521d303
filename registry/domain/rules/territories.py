"""Territories: ISO 3166-1 alpha-2 codes, the European Union as one, and what each has in common."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

# Member states on 1 January 2026, from memory; the United Kingdom left on 31 January 2020 and
# EU plant variety rights ceased to reach it at the end of that year.
EU_MEMBERS = frozenset(
    "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split()  # noqa: SIM905 - one line is easier to check
)

EU = "EU"
# People write these; the code that counts stands behind (ISO 3166-1 reserves UK, EL is EU use).
ALIASES: Mapping[str, str] = MappingProxyType({"UK": "GB", "EL": "GR", "USA": "US"})
NORTHERN_IRELAND = frozenset({"NIR", "GB-NIR", "NI", "XI"})  # ISO 3166-2:GB; XI from customs use


class Regime(Enum):
    """The law on plant varieties that a place falls under."""

    US = "US"
    EU = "EU"
    UK = "GB"
    CA = "CA"
    AU = "AU"
    NZ = "NZ"
    CH = "CH"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Place:
    """A country (ISO 3166-1 alpha-2) and, where a rule is regional, its region (ISO 3166-2)."""

    country: str
    region: str | None = None


def country_code(text: str) -> str:
    """The code behind what was written.

    >>> country_code("uk")
    'GB'
    """
    code = text.strip().upper()
    return ALIASES.get(code, code)


def regime(country: str) -> Regime:
    """The regime of a country or of the European Union.

    >>> regime("FR"), regime("UK"), regime("JP")
    (<Regime.EU: 'EU'>, <Regime.UK: 'GB'>, <Regime.OTHER: 'other'>)
    """
    code = country_code(country)
    if code == EU or code in EU_MEMBERS:
        return Regime.EU
    try:
        return Regime(code)
    except ValueError:
        return Regime.OTHER


def covers(territory: str, country: str) -> bool:
    """Whether a right or rule of `territory` holds in `country`.

    >>> covers("EU", "NL"), covers("EU", "GB"), covers("NL", "FR")
    (True, False, False)
    """
    code, here = country_code(territory), country_code(country)
    return code == here or (code == EU and here in EU_MEMBERS)


def in_northern_ireland(place: Place) -> bool:
    """Whether the place is Northern Ireland, which keeps EU plant-health law."""
    return country_code(place.country) == "XI" or (
        country_code(place.country) == "GB" and (place.region or "").upper() in NORTHERN_IRELAND
    )


def plant_health_area(place: Place) -> str:
    """The area inside which plants move without crossing a plant-health line.

    Northern Ireland stands with the European Union, Great Britain alone (S.I. 2020/1482; GOV.UK).
    """
    if regime(place.country) is Regime.EU or in_northern_ireland(place):
        return EU
    return country_code(place.country)
