"""How long records of people must be kept for an authority, before which they are not emptied.

Two terms, as they apply where the registry is:

- Reg (EU) 2016/2031 Art. 69(1), (2) and (4): an operator who deals in plants keeps from whom each
  came and to which operators it went, for at least three years. In Great Britain the regulation as
  kept in law there (S.I. 2020/1482) has the same.
- Reg (EU) 511/2014 Art. 4(3) and (6): what came under agreed terms of access (Nagoya Protocol) is
  kept for twenty years after its use ends. Plain multiplication is normally no use of that kind;
  which it was is not asked here, so the careful reading counts.

Elsewhere no term is known to this program, which is not to say that there is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum

from registry.domain.dates import FuzzyDate
from registry.domain.rules.territories import Regime, regime

SUPPLY_YEARS = 3
TERMS_YEARS = 20

SUPPLY_CITATION = "Reg (EU) 2016/2031 Art. 69(4)"
TERMS_CITATION = "Reg (EU) 511/2014 Art. 4(6)"


class Dealt(Enum):
    """What a person had to do with a plant."""

    CAME_FROM = "came from"
    WENT_TO = "went to"
    TERMS = "agreed terms with"


@dataclass(frozen=True, slots=True)
class Dealing:
    """One thing that a person had to do with plants.

    Attributes:
        dealt: what.
        about: the plant, or the release, as it is known by.
        on: the day; of agreed terms, the day on which the last of the plants was gone.
        recorded: the day of recording, which counts where no day is known.
        trade: whether both sides dealt in plants.
        lasts: of agreed terms, whether some of the plants still stand.
    """

    dealt: Dealt
    about: str
    on: FuzzyDate | None
    recorded: date
    trade: bool = False
    lasts: bool = False


@dataclass(frozen=True, slots=True)
class Keep:
    """Why something must be kept, and until when; no day where the term has not begun to run."""

    dealing: Dealing
    until: date | None
    citation: str


def must_keep(dealing: Dealing, country: str, today: date) -> Keep | None:
    """The reason for which a dealing must be kept on `today`, if there is one.

    >>> day = FuzzyDate.of(date(2024, 2, 29))
    >>> sold = Dealing(Dealt.WENT_TO, "26-0001-9", day, date(2024, 3, 1), trade=True)
    >>> must_keep(sold, "FR", date(2026, 1, 1)).until
    datetime.date(2027, 3, 1)
    >>> must_keep(sold, "US", date(2026, 1, 1)) is None
    True
    """
    if regime(country) not in (Regime.EU, Regime.UK):
        return None
    if dealing.dealt is Dealt.TERMS:
        if dealing.lasts:
            return Keep(dealing, None, TERMS_CITATION)
        years, citation = TERMS_YEARS, TERMS_CITATION
    elif dealing.trade:
        years, citation = SUPPLY_YEARS, SUPPLY_CITATION
    else:
        return None
    last = dealing.on.last if dealing.on is not None else None
    until = _years_on(last or dealing.recorded, years)
    return Keep(dealing, until, citation) if today <= until else None


def _years_on(day: date, years: int) -> date:
    """The same day so many years on; 1 March where there is no 29 February (careful choice)."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
