"""Making a registry, and its own settings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine
from sqlalchemy.orm import Session

from registry.domain.codes import CodeWidths
from registry.domain.rules.countries import parse_place
from registry.errors import BadPlaceCode, SettingUnknown, SettingValue
from registry.ids import NewId
from registry.location import Location, Server
from registry.services.people import add_person, person_name
from registry.services.rows import registry_row
from registry.storage.migrate import in_the_making, make_tables
from registry.storage.models import Registry
from registry.storage.transaction import Recording, recording

FORMAT = 1
DEFAULT_WIDTHS = CodeWidths()

SOUTHERN = frozenset({"AU", "NZ", "ZA", "AR", "CL", "UY", "PY", "BO", "PE", "NA", "BW", "LS", "SZ"})
"""Countries whose seasons are those of the southern hemisphere. From memory."""

CURRENCIES = {"US": "USD", "GB": "GBP", "CA": "CAD", "AU": "AUD", "NZ": "NZD", "CH": "CHF"}
"""The currency of a country, where it is not the euro (ISO 4217). From memory."""

SETTINGS: dict[str, str] = {
    "site": "the address of your own site, for labels that carry one: https://example.org",
    "trade": "yes if you sell: then propagating counts as trade",
    "currency": "the currency of your prices, such as USD",
    "hemisphere": "north or south: whose seasons count",
    "seller": "the name that stands on your sale labels, such as that of your nursery",
    "operator-eu": "your number as a registered operator in the EU, such as NL-123456789",
    "operator-gb": "your number as a registered operator in Great Britain",
}
"""Every setting and what it is for."""


@dataclass(frozen=True, slots=True)
class NewRegistry:
    """What a new registry is told about itself."""

    grower: str
    country: str
    region: str | None = None
    began: date | None = None
    hemisphere: str | None = None
    currency: str | None = None
    widths: CodeWidths = DEFAULT_WIDTHS


@dataclass(frozen=True, slots=True)
class Settings:
    """The registry's own facts and settings, as they are shown."""

    uuid: UUID
    grower: str
    country: str
    region: str | None
    hemisphere: str
    currency: str | None
    began: date
    settings: dict[str, Any]


def init(
    path: Location,
    new: NewRegistry,
    *,
    now: datetime,
    today: date,
    new_id: NewId,
    within: Connection | None = None,
) -> Settings:
    """Make a registry at `path`; an interrupted or refused call leaves nothing there.

    Args:
        path: a file, or an empty database on a server.
        new: what it is told about itself.
        now: the moment.
        today: the grower's day.
        new_id: makes identifiers.
        within: a connection to the server, whose transaction somebody else ends.

    Raises:
        RegistryExists: something stands at `path`.
        BadPlaceCode: the country or region is no ISO 3166 code, or they do not belong together.
        SettingValue: the currency is none.
        EmptyName: the grower has no name.
    """
    country = parse_place(new.country).country
    place = parse_place(new.region or new.country)
    if place.country != country:
        raise BadPlaceCode(new.region or new.country)
    currency = _currency(new.currency) if new.currency else CURRENCIES.get(country, "EUR")
    with (
        _making(path, within) as (fresh, bind),
        recording(bind, fresh, "init", now=now, new_id=new_id) as rec,
    ):
        grower = add_person(rec, new.grower)
        rec.add(
            Registry(
                id=1,
                uuid=rec.new_id(),
                format=FORMAT,
                number_width=new.widths.number,
                plant_width=new.widths.plant,
                grower_id=grower,
                country=country,
                region=place.region,
                hemisphere=new.hemisphere or ("south" if country in SOUTHERN else "north"),
                currency=currency,
                began=new.began or today,
                settings={},
            )
        )
        rec.flush()
        return show_settings(rec.session)


@contextmanager
def _making(
    path: Location, within: Connection | None
) -> Iterator[tuple[Location, Engine | Connection]]:
    if within is None or not isinstance(path, Server):
        with in_the_making(path) as making:
            yield making
    else:
        make_tables(within, path)
        yield path, within


def _currency(typed: str) -> str:
    """A currency's three letters (ISO 4217).

    Raises:
        SettingValue: there are not three.
    """
    if not (len(typed) == 3 and typed.isascii() and typed.isalpha()):
        raise SettingValue("currency", typed, "three letters, such as USD")
    return typed.upper()


def show_settings(session: Session) -> Settings:
    """The registry's own facts and settings."""
    row = registry_row(session)
    return Settings(
        row.uuid,
        person_name(session, row.grower_id),
        row.country,
        row.region,
        row.hemisphere,
        row.currency,
        row.began,
        dict(row.settings),
    )


def set_setting(rec: Recording, key: str, value: str) -> Settings:
    """Change one setting.

    Raises:
        SettingUnknown: there is no such setting.
        SettingValue: it cannot have that value.
    """
    if key not in SETTINGS:
        raise SettingUnknown(key, tuple(SETTINGS))
    row = registry_row(rec.session)
    if key == "hemisphere":
        if value not in ("north", "south"):
            raise SettingValue(key, value, "north or south")
        row.hemisphere = value
    elif key == "currency":
        row.currency = _currency(value)
    elif key == "trade":
        if value not in ("yes", "no"):
            raise SettingValue(key, value, "yes or no")
        row.settings = {**row.settings, "trade": value == "yes"}
    elif key == "seller" or key.startswith("operator-"):
        if not any(sign.isalnum() for sign in value):
            wanted = "a name" if key == "seller" else "the number that the authority gave"
            raise SettingValue(key, value, wanted)
        row.settings = {**row.settings, key: value.strip()}
    else:
        if not value.startswith(("http://", "https://")):
            raise SettingValue(key, value, "an address that begins with http:// or https://")
        row.settings = {**row.settings, key: value.rstrip("/")}
    rec.flush()
    return show_settings(rec.session)
