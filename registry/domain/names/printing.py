"""A plant name in its proper form: as plain text, as HTML, and as runs of type for a label.

Italics follow the custom that the ICN preface leaves open and that RHS, Recommended style for
printing plant names (2004) describes: genus, species and infraspecific epithets italic; rank
terms, ×, +, Group, grex and cultivar epithets upright. The trade designation is set apart in
small capitals, as the ICNCP does itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from html import escape

from registry.domain.names.parts import (
    Bunch,
    Hybrid,
    Join,
    Level,
    ParsedName,
    Qualifier,
    Status,
)


class Style(Enum):
    """The type in which a run is set."""

    UPRIGHT = "upright"
    ITALIC = "italic"
    SMALL_CAPS = "small-caps"


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text in one type, spaces included: joined, the runs are the plain text."""

    text: str
    style: Style


def runs(name: ParsedName) -> tuple[Run, ...]:
    """The printed name as runs; neighbours differ in style.

    >>> [run.text for run in runs(ParsedName("Mentha", Hybrid.SPECIES, "piperita"))]
    ['Mentha', ' ×', 'piperita']
    """
    merged: list[Run] = []
    for run in _spaced(_pieces(name)):
        if merged and merged[-1].style is run.style:
            merged[-1] = Run(merged[-1].text + run.text, run.style)
        else:
            merged.append(run)
    return tuple(merged)


def plain(name: ParsedName) -> str:
    """The printed name as text: × as ×, curly quotes, the trade designation in capitals.

    >>> plain(ParsedName("Rosa", cultivar="Oxbril", trade="OXBOW LIGHT"))
    'Rosa ‘Oxbril’ OXBOW LIGHT'
    """
    return "".join(run.text for run in runs(name))


def html(name: ParsedName) -> str:
    """The printed name as HTML; the page's style sheet sets `.small-caps`.

    >>> html(ParsedName("Salix", Hybrid.SPECIES, "capreola"))
    '<i>Salix</i> ×<i>capreola</i>'
    """
    return runs_html(runs(name))


def runs_html(printed: tuple[Run, ...]) -> str:
    """Runs of type as HTML, everything that was typed escaped."""
    return "".join(_TAGS[run.style].format(escape(run.text)) for run in printed)


_TAGS = {
    Style.UPRIGHT: "{}",
    Style.ITALIC: "<i>{}</i>",
    Style.SMALL_CAPS: '<span class="small-caps">{}</span>',
}


def as_received(text: str) -> tuple[Run, ...]:
    """Words that are no botanical name: upright, as they came."""
    return (Run(text, Style.UPRIGHT),)


def _spaced(pieces: Iterator[tuple[Run, ...]]) -> Iterator[Run]:
    """The runs of `pieces` with spaces between; between two italic words the space is too."""
    before: Run | None = None
    for piece in pieces:
        if before is not None:
            both = {before.style, piece[0].style}
            yield Run(" ", Style.ITALIC if both == {Style.ITALIC} else Style.UPRIGHT)
        yield from piece
        before = piece[-1]


def _pieces(name: ParsedName) -> Iterator[tuple[Run, ...]]:
    """What stands between spaces, in the printed order."""
    yield from _latin(name)
    yield from _cultivated(name)
    if name.second is not None:
        yield (_upright(name.join.value),)
        yield from _pieces(_shortened(name, name.second))


def _latin(name: ParsedName) -> Iterator[tuple[Run, ...]]:
    yield from _doubt(name, Level.GENUS)
    sign = {Hybrid.GENUS: "×", Hybrid.GRAFT: "+"}.get(name.hybrid, "")
    yield _signed(sign, name.genus)
    if name.status in (Status.ONE_SPECIES, Status.SEVERAL_SPECIES):
        yield (_upright(name.status.value),)
    if name.species:
        yield from _doubt(name, Level.SPECIES)
        yield _signed("×" if name.hybrid is Hybrid.SPECIES else "", name.species)
    if name.infraspecific:
        yield from _doubt(name, Level.INFRASPECIFIC)
        yield (_upright(name.rank),)
        yield (Run(name.infraspecific, Style.ITALIC),)


def _cultivated(name: ParsedName) -> Iterator[tuple[Run, ...]]:
    if name.bunch is not Bunch.NONE:
        text = f"{_curly(name.bunch_epithet)} {name.bunch.value}"
        # ICNCP: a Group stands in round brackets when a cultivar epithet follows.
        in_brackets = name.bunch is Bunch.GROUP and name.cultivar
        yield (_upright(f"({text})" if in_brackets else text),)
    if name.cultivar:
        yield (_upright(f"‘{_curly(name.cultivar)}’"),)
    if name.trade:
        yield (Run(_curly(name.trade), Style.SMALL_CAPS),)
    if name.status is Status.CULTIVAR_UNKNOWN:
        yield (_upright(name.status.value),)
    if name.qualifier is Qualifier.QUERY:
        yield (_upright(name.qualifier.value),)


def _doubt(name: ParsedName, level: Level) -> Iterator[tuple[Run, ...]]:
    if name.qualifier in (Qualifier.CF, Qualifier.AFF) and name.qualifies is level:
        yield (_upright(name.qualifier.value),)


def _signed(sign: str, word: str) -> tuple[Run, ...]:
    italic = Run(word, Style.ITALIC)
    return (_upright(sign), italic) if sign else (italic,)


def _upright(text: str) -> Run:
    return Run(text, Style.UPRIGHT)


def _curly(text: str) -> str:
    return text.replace("'", "’")


def _shortened(first: ParsedName, second: ParsedName) -> ParsedName:
    """`second` with its genus as an initial, if the first parent has the same (ICN H.2 Ex. 2)."""
    told = second.species or second.cultivar
    if first.join is Join.NONE or second.genus != first.genus or not told:
        return second
    return replace(second, genus=f"{second.genus[0]}.")
