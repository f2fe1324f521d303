"""Dates as people know them: a day, a month, a season, a year, or only a bound.

A date is typed in words (`14 May 2026`, `mid May 2025`, `yesterday`, `before 2015`) or in the
Extended Date/Time Format (EDTF, ISO 8601-2:2019 annex A): level 0 without clock times, and from
level 1 the marks `~`, `?` and `%`, seasons 21 to 24, and intervals with open or unknown ends. It
is kept as written, with its first and last possible day. What is not said is asked, never guessed.

Choices that no standard makes:

- `~` widens both bounds by one unit of the precision: a day, a month, a season or a year. `?`
  leaves them; `%` is both marks.
- A season is three whole months by the registry's hemisphere (spring from March in the north,
  from September in the south). One that runs over New Year belongs to the year in which it
  begins: southern summer 2020 and northern winter 2020 are December 2020 to February 2021. Typed
  in words before that December has come, it is asked about.
- `early`, `mid` and `late` are the 1st to 10th, 11th to 20th and 21st to end of a month, and the
  thirds of a season or a year.
- A week runs from Monday to Sunday (ISO 8601).
"""

from registry.domain.dates.value import FuzzyDate, Hemisphere
from registry.domain.dates.words import parse_date

__all__ = ["FuzzyDate", "Hemisphere", "parse_date"]
