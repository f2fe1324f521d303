"""The words on labels, and what a person reads when one cannot be drawn."""

from __future__ import annotations

import unicodedata

from registry.domain.names.verification import Verified
from registry.errors import (
    BadMeasure,
    BadResolution,
    BadSite,
    BadStockName,
    DoesNotFit,
    LabelsOverlap,
    NoLabels,
    NoOperator,
    NoPassportHere,
    NoRoomForCounts,
    NoSymbolInPicture,
    NotABotanicalName,
    NotALabel,
    NotAPicture,
    NotATag,
    NotInFont,
    NotOneLabel,
    PaperNotDrawn,
    PayloadTooLong,
    PhotosNotInstalled,
    PreviewNotInstalled,
    SiteMissing,
    StartBeyondSheet,
    StockTooBig,
    TagBound,
    TagNotBound,
    UnknownStock,
)
from registry.wording.problems import problem

SEPARATOR = "·"  # between two lines in the same row
NAME_NOT_KNOWN = "name not known"
WITH_LEAVE = "with the owner’s leave"
HOLD = "HOLD"
WRITE_ON = ("name", "from", "date")  # before the ruled lines of a blank tag
COUNT_COLUMNS = ("date", "alive", "rooted", "died")  # over the ruled room of a batch card


def from_source(code: str) -> str:
    """Which plant the material came from."""
    return f"from {code}"


def taken(date: str) -> str:
    """When the material was cut."""
    return f"taken {date}"


def stuck(date: str) -> str:
    """When the cuttings were set."""
    return f"stuck {date}"


def potted(date: str) -> str:
    """When the plant got its own pot."""
    return f"potted {date}"


def look_again(date: str) -> str:
    """When to look next."""
    return f"look again {date}"


def in_batch(code: str) -> str:
    """Which batch a plant was raised in."""
    return f"batch {code}"


def on_rootstock(code: str) -> str:
    """Which plant the scion stands on."""
    return f"on {code}"


def received(date: str) -> str:
    """When a plant came in."""
    return f"received {date}"


def also_numbered(numbers: tuple[str, ...]) -> str:
    """The grower's own numbers, and those of tags that were written ahead."""
    return f"also {', '.join(numbers)}"


def held_since(date: str) -> str:
    """Since when a plant is held."""
    return f"held since {date}"


def one_of(codes: tuple[str, ...]) -> str:
    """Several plants it may have come from; a long list is cut with its number."""
    if len(codes) > 3:
        return f"{codes[0]} or {len(codes) - 1} others"
    return " or ".join(codes)


PASSPORT_TITLES = {"eu": "Plant Passport", "gb": "UK Plant Passport"}
PROTECTED_ZONE = {"eu": "PZ", "gb": "PFA"}  # the British models speak of pest-free areas


def passport_title(form: str, local: str, zone: str) -> str:
    """The title: in a language of the Union and in English; under it the pest of a zone."""
    title = f"{local} / {PASSPORT_TITLES[form]}" if local else PASSPORT_TITLES[form]
    return f"{title} — {PROTECTED_ZONE[form]}\n{zone}" if zone else title


SAP_CAUTION = "sap can burn skin and eyes: wear gloves"


def raised_by(seller: str) -> str:
    """Who raised a plant that is for sale."""
    return f"raised by {seller}"


def verification(how: Verified) -> str:
    """How far a name was verified, as a label says it.

    >>> verification(Verified.SEEN)
    'name seen in flower or fruit'
    """
    return "name not verified" if how is Verified.UNVERIFIED else f"name {how.value}"


NEAR_MISS = "no such code is recorded; these are one slip away"


def several_fit(*, half: bool) -> str:
    """Why a code may mean several records."""
    if half:
        return "characters are lost; these recorded codes fit what is left"
    return "several records have this number"


def other_site(site: str | None) -> str:
    """Why an address may be another grower's."""
    return f"the label is of another site, {site}, whose codes look like yours"


def other_name(said: str, recorded: str) -> str:
    """Why a label may be another grower's."""
    return f"the label says “{said}”, the record “{recorded}”: renamed since, or not your label"


NOT_NAMES = ("from ", "taken ", "stuck ", "potted ", "received ", "batch ")
"""How lines of a plain payload begin that are no names."""


def symbol_reduced(count: int, stock: str) -> str:
    """What to say when symbols carry less than was asked."""
    labels = "1 label" if count == 1 else f"{count} labels"
    return f"{labels}: the symbol carries the code alone, {stock} is too small for more."


def labels_replaced(count: int) -> str:
    """What to say when newer labels take the place of older ones."""
    if count == 1:
        return "1 earlier label is replaced: take it off."
    return f"{count} earlier labels are replaced: take them off."


def symbol_missing(count: int, stock: str) -> str:
    """What to say when labels have no symbol."""
    labels = "1 label has" if count == 1 else f"{count} labels have"
    return f"{labels} no symbol: {stock} is too small for one that prints sharply."


def lines_left_out(code: str, lines: tuple[str, ...]) -> str:
    """What to say when a label had no room for all of its lines."""
    return f"{code}: no room for {', '.join(f'“{line}”' for line in lines)}."


@problem.register
def _(error: BadSite) -> str:
    return (
        f"“{error.site}” cannot be the site's address. Give it as http://… or https://… "
        "without a question mark, a # or a user's name, such as https://plants.example.org."
    )


@problem.register
def _(_error: SiteMissing) -> str:
    return (
        "Labels can carry the address of your site only when it is known. Say it once with "
        "`ortet settings set site https://plants.example.org`, or print with `--payload plain`."
    )


@problem.register
def _(error: PaperNotDrawn) -> str:
    return (
        f"{error.path} could not be made: {error.why.rstrip('.')}. The record stands, and the "
        "labels are waiting: `ortet label print --ordered` draws them."
    )


@problem.register
def _(error: NotATag) -> str:
    return (
        f"{error.code} is not the number of a blank tag. "
        "`ortet label blank N` sets numbers aside and prints their tags."
    )


@problem.register
def _(error: TagBound) -> str:
    return f"The tag {error.code} stands on {error.on} already. Use another tag."


@problem.register
def _(error: TagNotBound) -> str:
    return (
        f"The tag {error.code} stands on nothing yet. Say what it stands on: "
        f"`ortet label bind {error.code} CODE`."
    )


@problem.register
def _(error: NotALabel) -> str:
    shown = error.text if len(error.text) <= 60 else f"{error.text[:60]}…"
    return f"“{shown}” is not what a label of this registry says. Scan the label again."


@problem.register
def _(error: NotOneLabel) -> str:
    if error.ending == ".svg":
        return "A file that ends in .svg holds one label. Name one plant, or make a .pdf."
    return (
        f"A file that ends in {error.ending} is for a printer of single labels, and {error.stock} "
        "is a sheet. Choose a roll or a stake with --stock; `ortet label stocks` lists them."
    )


@problem.register
def _(_error: PreviewNotInstalled) -> str:
    return (
        "A preview as a picture needs an optional part. Install it with "
        "`pip install 'ortet[photos]'`, or make a .pdf."
    )


@problem.register
def _(_error: NoPassportHere) -> str:
    return "A plant passport cannot be made as .zpl. Make a .pdf."


@problem.register
def _(error: NotABotanicalName) -> str:
    return (
        f"A plant passport needs a botanical name, and {error.code} is called “{error.name}”. "
        f'Say what it is: `ortet plant name {error.code} "Genus species"`.'
    )


@problem.register
def _(error: NoOperator) -> str:
    key = f"operator-{error.form}"
    return (
        f"A plant passport needs the number of a registered operator who may issue one "
        f"({error.form.upper()}). Say it once with `ortet settings set {key} NUMBER`."
    )


@problem.register
def _(error: UnknownStock) -> str:
    near = f" Did you mean {' or '.join(error.near)}?" if error.near else ""
    return (
        f"There is no label stock called “{error.name}”.{near} "
        "All of them are listed by `ortet label stocks`."
    )


@problem.register
def _(error: BadStockName) -> str:
    if error.taken:
        return f"“{error.name}” is the name of a stock that comes with the program. Choose another."
    return (
        f"“{error.name}” cannot be the name of a stock. "
        "Use up to 40 small letters, digits, hyphens and full stops, such as bench-50x30."
    )


@problem.register
def _(error: BadMeasure) -> str:
    return (
        f"The {error.what} of {error.value:g} is not between {error.low:g} and {error.high:g}."
        + (" A nudge goes in steps of 0.1 mm." if error.what.startswith("nudge") else "")
    )


@problem.register
def _(error: StockTooBig) -> str:
    return (
        f"The labels of {error.name} need {error.needed:.1f} mm {error.direction}, but the page "
        f"has {error.page:.1f} mm. Make them smaller, fewer, or start nearer to the edge."
    )


@problem.register
def _(error: LabelsOverlap) -> str:
    return (
        f"The labels of {error.name} would lie on each other: a step of {error.step:.1f} mm "
        f"{error.direction} for labels of {error.label:.1f} mm. The step is label plus gap."
    )


@problem.register
def _(error: StartBeyondSheet) -> str:
    return (
        f"There is no label {error.start} on {error.stock}: the sheet has {error.cells}. "
        "Count along the rows from the top left label, which is 1."
    )


@problem.register
def _(error: BadResolution) -> str:
    return (
        f"{error.dpi} dots per inch is not between {error.low} and {error.high}. "
        "Most office printers have 300 or 600, thermal printers 203 or 300."
    )


@problem.register
def _(_error: NoLabels) -> str:
    return "There is nothing to print."


@problem.register
def _(error: DoesNotFit) -> str:
    return (
        f"“{error.text}” ({error.code}) has no room on {error.stock}, even in type of "
        f"{error.smallest:g} points. Choose larger labels; `ortet label stocks` lists them."
    )


@problem.register
def _(error: NoRoomForCounts) -> str:
    return (
        f"The card of {error.code} needs {error.needed:.0f} mm of height to leave room for counts; "
        f"{error.stock} has {error.height:.0f} mm. Choose a larger stock, such as plain-a4-95x67."
    )


@problem.register
def _(error: NotInFont) -> str:
    name = unicodedata.name(error.character, "a character without a name").lower()
    return (
        f"“{error.text}” ({error.code}) holds “{error.character}” ({name}), which labels cannot "
        "print. Give the plant a name in Latin, Greek or Cyrillic letters; the words as received "
        "stay as they are."
    )


@problem.register
def _(error: PayloadTooLong) -> str:
    return (
        f"The text for the symbol of {error.code} has {error.length} bytes, more than any symbol "
        "holds. Print with the code or the address alone."
    )


@problem.register
def _(_error: PhotosNotInstalled) -> str:
    return (
        "Reading labels from pictures needs an optional part. Install it with "
        "`pip install 'ortet[photos]'`, or type the code."
    )


@problem.register
def _(error: NotAPicture) -> str:
    return (
        f"{error.path} cannot be read as a picture. Take it again as JPEG or PNG, or type the code."
    )


@problem.register
def _(error: NoSymbolInPicture) -> str:
    return (
        f"No label's symbol was found in {error.path}. Go nearer, hold still and avoid glare, "
        "or type the code that stands beside the symbol."
    )
