"""How many of a lot took, as a rate with its interval, and whether two rates differ."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma, sqrt
from statistics import NormalDist

_Z = NormalDist().inv_cdf(0.975)  # 95 %, two-sided
_SAME = 1e-7  # tables as likely as the one seen, for rounding
CHANCE = 0.05
"""From here on a difference is put down to chance: the usual level, by convention alone."""


@dataclass(frozen=True, slots=True)
class Rate:
    """`rooted` of `of`, with Wilson's 95 % interval as shares from 0 to 1."""

    rooted: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share, 0 to 1."""
        return self.rooted / self.of


def rate(rooted: int, of: int) -> Rate | None:
    """The rate with Wilson's 95 % interval; None if there is nothing to be a rate of.

    >>> rate(19, 20).low > 0.76
    True

    Raises:
        ValueError: if more rooted than were tried, or a number is negative.
    """
    if not 0 <= rooted <= of:
        raise ValueError(f"{rooted} of {of} is no rate")
    if of == 0:
        return None
    share, squared = rooted / of, _Z * _Z
    middle = (share + squared / (2 * of)) / (1 + squared / of)
    half = _Z * sqrt(share * (1 - share) / of + squared / (4 * of * of)) / (1 + squared / of)
    # At the ends the interval touches them exactly, which rounding may miss by a hair.
    low = 0.0 if rooted == 0 else middle - half
    high = 1.0 if rooted == of else middle + half
    return Rate(rooted, of, low, high)


def fisher(one: Rate, other: Rate) -> float:
    """Fisher's exact test, two-sided: how often chance parts two lots at least so far, 0 to 1.

    Sums the tables that are no likelier than the one seen.
    """
    rooted, tried = one.rooted + other.rooted, one.of + other.of

    def log_likelihood(k: int) -> float:
        return (
            _log_choose(one.of, k) + _log_choose(other.of, rooted - k) - _log_choose(tried, rooted)
        )

    seen = log_likelihood(one.rooted)
    possible = range(max(0, rooted - other.of), min(rooted, one.of) + 1)
    likelihoods = (log_likelihood(k) for k in possible)
    return min(1.0, sum(exp(each) for each in likelihoods if each <= seen + _SAME))


def _log_choose(n: int, k: int) -> float:
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)
