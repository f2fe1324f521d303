"""What people agree on in numbers: how many may be taken, and what is paid."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from registry.domain.numbers import whole
from registry.domain.verdict.facts import Act, Limit, Unit
from registry.errors import BadLimit, BadMoney, LimitReason, MoneyReason

_UNITS = {
    "cutting": Unit.CUTTINGS,
    "cuttings": Unit.CUTTINGS,
    "piece": Unit.PIECES,
    "pieces": Unit.PIECES,
    "scion": Unit.PIECES,
    "scions": Unit.PIECES,
    "plant": Unit.PLANTS,
    "plants": Unit.PLANTS,
    "pot": Unit.POTS,
    "pots": Unit.POTS,
}
_LIMIT = re.compile(
    r"(?P<n>[0-9]+)\s*(?P<unit>[a-z]+)?\s*(?P<year>(?:a|per|each|every)\s+year|/\s*year|yearly)?",
    re.IGNORECASE,
)
_AMOUNT = r"\d+(?:\.\d+)?"
_MONEY = re.compile(
    rf"(?:(?P<n1>{_AMOUNT})\s*(?P<c1>[A-Za-z]{{3}})|(?P<c2>[A-Za-z]{{3}})\s*(?P<n2>{_AMOUNT}))"
    r"\b(?P<rest>.*)",
    re.DOTALL,
)


def parse_limit(typed: str) -> Limit:
    """A number limit with what it counts, in all or in each calendar year.

    >>> parse_limit("12 cuttings a year")
    Limit(n=12, unit=<Unit.CUTTINGS: 'cuttings'>, per_year=True)

    Raises:
        BadLimit: it is no number, zero, or does not say what it counts.
    """
    found = _LIMIT.fullmatch(typed.strip())
    if found is None:
        raise BadLimit(typed, LimitReason.SHAPE)
    if found["unit"] is None:
        raise BadLimit(typed, LimitReason.OF_WHAT)
    unit = _UNITS.get(found["unit"].lower())
    if unit is None:
        raise BadLimit(typed, LimitReason.OF_WHAT)
    n = whole(found["n"])
    if n is None:
        raise BadLimit(typed, LimitReason.SHAPE)
    if n == 0:
        raise BadLimit(typed, LimitReason.ZERO)
    return Limit(n, unit, found["year"] is not None)


@dataclass(frozen=True, slots=True)
class Money:
    """An amount and its currency, as ISO 4217 writes it."""

    amount: Decimal
    currency: str

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}"


def parse_money(typed: str, *, currency: str | None = None) -> Money:
    """An amount with its currency; `currency` is taken where none is written.

    >>> str(parse_money("6 usd")), str(parse_money("4.50", currency="EUR"))
    ('6 USD', '4.50 EUR')

    Raises:
        BadMoney: it is no amount, or has no currency.
    """
    money, rest = _money(typed, currency)
    if rest:
        raise BadMoney(typed, MoneyReason.SHAPE)
    return money


@dataclass(frozen=True, slots=True)
class Royalty:
    """What a holder is paid, for which acts (none: whatever the licence allows)."""

    money: Money
    acts: frozenset[Act] = frozenset()


_PAID_FOR = {"sold": Act.SELL, "given": Act.GIVE, "swapped": Act.SWAP, "propagated": Act.PROPAGATE}


def parse_royalty(typed: str) -> Royalty:
    """A royalty for each plant, such as `0.35 USD a plant sold`.

    >>> parse_royalty("0.35 USD a plant sold").acts
    frozenset({<Act.SELL: 'sell'>})

    Raises:
        BadMoney: it is no amount, or has no currency.
    """
    money, rest = _money(typed, None)
    words = rest.lower().split()
    acts = frozenset(act for word, act in _PAID_FOR.items() if word in words)
    known = {"a", "per", "each", "for", "plant", "pot", "cutting", "/", *_PAID_FOR}
    if set(words) - known:
        raise BadMoney(typed, MoneyReason.SHAPE)
    return Royalty(money, acts)


def _money(typed: str, currency: str | None) -> tuple[Money, str]:
    text = typed.strip()
    found = _MONEY.fullmatch(text)
    if found is not None:
        code = (found["c1"] or found["c2"]).upper()
        return Money(Decimal(found["n1"] or found["n2"]), code), found["rest"].strip()
    if re.fullmatch(_AMOUNT, text):
        if currency is None:
            raise BadMoney(typed, MoneyReason.CURRENCY)
        return Money(Decimal(text), currency), ""
    if re.match(rf"{_AMOUNT}\s+(?:a|per|each|for)\b", text):  # an amount of what?
        raise BadMoney(typed, MoneyReason.CURRENCY)
    raise BadMoney(typed, MoneyReason.SHAPE)
