"""Commands for labels: printing, copying by hand, tags written ahead, and reading them back."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from registry.cli.app import App, Below
from registry.cli.options import ROW, Whole, common, examples, pass_app
from registry.cli.output import in_ranges, some, table
from registry.errors import BadOption, FileUnwritable, PaperNotDrawn, RegistryError

if TYPE_CHECKING:
    from registry.labels.pdf import SheetReport
    from registry.labels.stocks import Stock
    from registry.labels.text import LabelText
    from registry.services.label_text import Wanted
    from registry.services.labels import Ordered
    from registry.services.reading import Found, ReadAnswer

DEFAULT_FILE = Path("labels.pdf")
PROGRESS_FROM = 500
MOST_LISTED = 12
DRAWN = {"", ".pdf", ".png", ".svg", ".zpl"}
"""Endings of the files that labels are drawn to; without one it is a PDF."""

PICTURES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif", ".heic"}


# --- papers: a file that an act makes ------------------------------------------------------------


@dataclass(slots=True)
class Paper:
    """A file in the making: it stands beside its target until it is whole."""

    path: Path
    file: BinaryIO
    beside: Path
    finished: bool = False

    def finish(self) -> None:
        """Put the file in its place, safe on the disk.

        Raises:
            OSError: it cannot be.
        """
        self.file.flush()
        os.fsync(self.file.fileno())
        self.file.close()
        self.beside.replace(self.path)
        self.finished = True


@contextmanager
def open_paper(path: Path) -> Iterator[Paper]:
    """Open a file beside `path`, before anything is recorded; without `finish` it goes again.

    Raises:
        BadOption: its name ends in what we do not draw.
        FileUnwritable: it cannot be written there.
    """
    if path.suffix.lower() not in DRAWN and not path.is_dir():
        raise BadOption("FILE", str(path), "a name that ends in .pdf, .png, .svg or .zpl")
    # A bare "." has no name of its own.
    beside = path.parent / f".{path.name}.{os.getpid()}.part"
    try:
        if path.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        if path.exists() and not os.access(path, os.W_OK):
            raise PermissionError(13, "it may not be changed")
        file = beside.open("wb")
    except OSError as error:
        raise FileUnwritable(path, error.strerror or str(error)) from error
    paper = Paper(path, file, beside)
    try:
        yield paper
    finally:
        if not paper.finished:
            file.close()
            with suppress(OSError):
                beside.unlink()


def draw_labels(
    app: App, ordered: Ordered, paper: Paper, *, start: int = 1, dpi: int | None = None
) -> SheetReport:
    """Draw what an act has ordered, put the file in its place, and say that it was printed.

    Call it when the act is committed: if this fails, the act stands.

    Raises:
        PaperNotDrawn: the file could not be made; the labels wait.
    """
    try:
        report = _draw(app, ordered.labels, ordered.stock, paper, start, dpi)
        paper.finish()
    except (OSError, RegistryError) as error:
        raise _not_drawn(paper, error) from error
    _mark(app, ordered)
    return report


def _draw(
    app: App,
    labels: Sequence[LabelText],
    stock: Stock,
    paper: Paper,
    start: int,
    dpi: int | None,
    *,
    skip_problems: bool = False,
) -> SheetReport:
    from registry.labels.pdf import DEFAULT_DPI, draw_sheet

    dpi = dpi or DEFAULT_DPI
    ending = paper.path.suffix.lower()
    if ending == ".zpl":
        from registry.labels.zpl import draw_zpl

        return draw_zpl(labels, stock, paper.file, dpi=dpi)
    if ending == ".svg":
        return _draw_svg(labels, stock, paper, dpi)

    def progress(done: int) -> None:
        click.echo(f"\r{done} of {len(labels)}", err=True, nl=done == len(labels))

    shown = progress if app.interactive and len(labels) > PROGRESS_FROM else None
    if ending != ".png":
        return draw_sheet(
            labels,
            stock,
            paper.file,
            start=start,
            dpi=dpi,
            progress=shown,
            skip_problems=skip_problems,
        )
    from registry.labels.preview import draw_preview

    sheet = BytesIO()
    report = draw_sheet(labels, stock, sheet, start=start, dpi=dpi, progress=shown)
    draw_preview(sheet.getvalue(), paper.file)
    return report


def _draw_svg(labels: Sequence[LabelText], stock: Stock, paper: Paper, dpi: int) -> SheetReport:
    from registry.errors import NotOneLabel
    from registry.labels.pdf import SheetReport
    from registry.labels.svg import draw_svg

    if len(labels) != 1:
        raise NotOneLabel(stock.name, ".svg")
    report = SheetReport(pages=1)
    report.note(labels[0].code, draw_svg(labels[0], stock, paper.file, dpi=dpi))
    return report


def _mark(app: App, ordered: Ordered) -> int:
    from registry.services.labels import mark_printed

    with app.recording("label printed") as rec:
        return mark_printed(rec, ordered.ids)


def _not_drawn(paper: Paper, error: OSError | RegistryError) -> PaperNotDrawn:
    if isinstance(error, OSError):
        return PaperNotDrawn(paper.path, error.strerror or str(error))
    from registry.wording import problem

    return PaperNotDrawn(paper.path, problem(error))


# --- the commands --------------------------------------------------------------------------------


@click.group("label", cls=Below)
def label_command() -> None:
    """Labels: print, text, blank, bind, stale, stocks."""


def _what_is_printed(function: Any) -> Any:
    """Options that say what a label is for and what it carries."""
    for option in (
        click.option(
            "--verified", is_flag=True, help="Say how far the name was verified; sale labels do."
        ),
        click.option("--line", "lines", multiple=True, metavar="TEXT", help="A line of your own."),
        click.option("--origin", metavar="CODE", help="On a plant passport: where from."),
        click.option("--zone", metavar="PEST", help="On a plant passport: of a protected zone."),
        click.option("--title", metavar="TEXT", help="On a plant passport: in your language."),
        click.option("--price", metavar="TEXT", help="On a sale label."),
        click.option(
            "--kind",
            type=click.Choice(["plant", "sale", "hold", "passport-eu", "passport-gb"]),
            default="plant",
            show_default=True,
            help="What the label is for; batches and lots have cards.",
        ),
        click.option(
            "--payload",
            type=click.Choice(["plain", "address", "code", "none"]),
            default="plain",
            show_default=True,
            help="What the symbol carries: text, the address of your site, or the code alone.",
        ),
    ):
        function = option(function)
    return function


def _how_it_is_drawn(function: Any) -> Any:
    """Options that say on what and how labels are drawn."""
    for option in (
        click.option(
            "--out",
            type=click.Path(path_type=Path),
            default=DEFAULT_FILE,
            show_default=True,
            help="The file: .pdf; .png to look at; .svg of one label; .zpl for a thermal printer.",
        ),
        click.option("--dpi", type=ROW, help="Dots per inch of the printer; 300 if not said."),
        click.option(
            "--start", type=ROW, default=1, show_default=True, help="The first free cell."
        ),
        click.option("--stock", metavar="NAME", help="What is printed on; see 'label stocks'."),
    ):
        function = option(function)
    return function


_nudge = click.option(
    "--nudge",
    metavar="RIGHT,DOWN",
    help="Move the grid on the page by tenths of a millimetre: 0.3,-0.2.",
)


def _nudged(stock: Stock, typed: str | None) -> Stock:
    """The stock with its grid moved as was typed, in millimetres.

    Raises:
        BadMeasure: by more than a centimetre, or not in tenths of a millimetre.
    """
    if typed is None:
        return stock
    try:
        right, down = (float(part) for part in typed.split(","))
    except ValueError as error:
        raise click.BadParameter(
            f"“{typed}” is not two numbers, such as 0.3,-0.2.", param_hint="--nudge"
        ) from error
    return stock.nudged(right, down)


@label_command.command(
    "print",
    epilog=examples(
        "label print 14:1-8 --out pots.pdf",
        "label print 14 --stock plain-a4-95x67 --start 3",
    ),
)
@click.argument("codes", nargs=-1, metavar="CODE...")
@_how_it_is_drawn
@_what_is_printed
@click.option("--copies", type=Whole(1, 999), default=1, help="Of each label.")
@click.option(
    "--sort", type=click.Choice(["given", "code", "name"]), default="given", help="The order."
)
@click.option("--ordered", is_flag=True, help="Draw the labels that were ordered and never drawn.")
@click.option("--by", metavar="PERSON", help="Who prints.")
@_nudge
@common
@pass_app
def label_print(
    app: App,
    codes: tuple[str, ...],
    stock: str | None,
    start: int,
    dpi: int | None,
    out: Path,
    kind: str,
    payload: str,
    price: str | None,
    title: str | None,
    zone: str | None,
    origin: str | None,
    lines: tuple[str, ...],
    verified: bool,
    copies: int,
    sort: str,
    ordered: bool,
    by: str | None,
    nudge: str | None,
) -> None:
    """Print labels: one for each plant, a card for a batch or lot."""
    from registry.services.labels import order_prepared, prepare_labels

    if not ordered and not codes:
        raise click.UsageError("Say which plants or batches, or --ordered.")
    said = (title or "", zone or "", origin or "")
    wanted = _wanted(kind, payload, price, lines, said, verified)
    if ordered:
        _print_waiting(app, stock, start, dpi, out)
        return
    with app.reading() as session:
        targets = _targets(app, session, codes)
        prepared = prepare_labels(session, targets, wanted, stock=stock)
    prepared = prepared.sorted_by(sort)
    with open_paper(out) as paper:
        # Drawn before it is recorded: a label that cannot be drawn is refused, and none is ordered.
        many = [label for label in prepared.labels for _ in range(copies)]
        report = _draw(app, many, _nudged(prepared.stock, nudge), paper, start, dpi)
        with app.recording("label", by=by) as rec:
            made: Ordered = order_prepared(rec, prepared)
        try:
            paper.finish()
        except OSError as error:
            raise _not_drawn(paper, error) from error
    _answer_printed(app, made, report, out, _mark(app, made))


def _print_waiting(app: App, stock: str | None, start: int, dpi: int | None, out: Path) -> None:
    """Draw what was ordered and never drawn; each stock has a file of its own.

    A label that cannot be drawn is named and goes on waiting, so that it keeps back no other.
    """
    from registry.errors import NoLabels
    from registry.services.labels import waiting
    from registry.wording import problem

    with app.reading() as session:
        orders = waiting(session, stock=stock)
    if not orders:
        raise NoLabels
    for index, order in enumerate(orders):
        path = out if not index else out.with_name(f"{out.stem}-{index + 1}{out.suffix}")
        with open_paper(path) as paper:
            report = _draw(app, order.labels, order.stock, paper, start, dpi, skip_problems=True)
            try:
                paper.finish()
            except OSError as error:
                raise FileUnwritable(path, error.strerror or str(error)) from error
        for undrawn in report.problems:
            click.echo(problem(undrawn), err=True)
        done = order.without({undrawn.code for undrawn in report.problems})
        _answer_printed(app, done, report, path, _mark(app, done))


def _answer_printed(app: App, made: Ordered, report: SheetReport, out: Path, replaced: int) -> None:
    from registry.wording import labels as wording

    stock = made.stock.name
    named = [(label.code, "".join(run.text for run in label.runs)) for label in made.labels]
    left_out = [{"code": code, "lines": list(lines)} for code, lines in report.left_out]
    alike = [
        (in_ranges([code for code, _ in group]), name)
        for name, group in groupby(named, key=lambda label: label[1])
    ]
    lines = [f"{codes}  {name}".rstrip() for codes, name in alike[:MOST_LISTED]]
    if len(alike) > MOST_LISTED:
        lines.append(f"and {len(alike) - MOST_LISTED} more names")
    sheets = some(report.pages, "page")
    lines.append(f"{some(report.printed, 'label')} on {sheets} of {stock}: {out}")
    lines.append("Print at 100 %, not fitted to the page.")
    if report.reduced:
        lines.append(wording.symbol_reduced(len(report.reduced), stock))
    if report.no_symbol:
        lines.append(wording.symbol_missing(len(report.no_symbol), stock))
    lines += [wording.lines_left_out(code, left) for code, left in report.left_out[:MOST_LISTED]]
    if made.left_out:
        lines.append(f"No label for what is no longer here: {', '.join(made.left_out)}.")
    if replaced:
        lines.append(wording.labels_replaced(replaced))
    app.answer(
        {
            "file": str(out),
            "stock": stock,
            "pages": report.pages,
            "labels": [{"code": code, "name": name} for code, name in named],
            "code_alone": list(dict.fromkeys(report.reduced)),
            "no_symbol": list(dict.fromkeys(report.no_symbol)),
            "lines_left_out": left_out,
            "no_longer_here": list(made.left_out),
            "replaced": replaced,
        },
        *lines,
    )


@label_command.command(
    "text",
    epilog=examples(
        "label text 14:1-8",
    ),
)
@click.argument("codes", nargs=-1, required=True, metavar="CODE...")
@_what_is_printed
@common
@pass_app
def label_text(
    app: App,
    codes: tuple[str, ...],
    kind: str,
    payload: str,
    price: str | None,
    title: str | None,
    zone: str | None,
    origin: str | None,
    lines: tuple[str, ...],
    verified: bool,
) -> None:
    """The lines to copy in pencil."""
    from registry.labels.text import pencil_lines
    from registry.services.labels import prepare_labels

    said = (title or "", zone or "", origin or "")
    wanted = _wanted(kind, payload, price, lines, said, verified)
    with app.reading() as session:
        targets = _targets(app, session, codes)
        labels = prepare_labels(session, targets, wanted).labels
    shown = [(label.code, pencil_lines(label), label.payload) for label in labels]
    app.answer(
        {
            "labels": [
                {"code": code, "lines": list(copied), "payload": carried}
                for code, copied, carried in shown
            ]
        },
        *"\n\n".join("\n".join(copied) for _, copied, _ in shown).splitlines(),
    )


@label_command.command(
    "stocks",
    epilog=examples(
        "label stocks",
        "label stocks --add mine --page 210x297 --label 60x30 --grid 3x9",
    ),
)
@click.option("--add", metavar="NAME", help="Describe a stock of your own, in millimetres.")
@click.option("--page", metavar="WxH", help="Its page.")
@click.option("--label", "label_size", metavar="WxH", help="One label.")
@click.option("--grid", metavar="NxM", default="1x1", help="Labels across and down.")
@click.option("--margins", metavar="LEFTxTOP", default="0x0", help="To the first label.")
@click.option("--pitch", metavar="XxY", help="From label to label; without it they touch.")
@click.option(
    "--form",
    type=click.Choice(["sheet", "strip", "stake", "roll"]),
    default="sheet",
    help="What the stock is.",
)
@click.option("--buried", type=click.Choice(["none", "start", "end"]), default="none",
              help="The end of a stake that goes into the soil.")  # fmt: skip
@click.option("--cut-lines", is_flag=True, help="Print lines to cut along.")
@common
@pass_app
def label_stocks(
    app: App,
    add: str | None,
    page: str | None,
    label_size: str | None,
    grid: str,
    margins: str,
    pitch: str | None,
    form: str,
    buried: str,
    cut_lines: bool,
) -> None:
    """The sheets, stakes and rolls that can be printed on; or add your own."""
    from registry.labels.stocks import Buried, Kind, all_stocks, own_stock
    from registry.services.labels import keep_stock, own_stocks
    from registry.storage.engine import stands

    if add is not None:
        if page is None or label_size is None:
            raise click.UsageError("A stock of your own needs --page and --label.")
        across, down = _pair("--grid", grid)
        stock = own_stock(
            add.strip().lower(),
            page=_pair("--page", page),
            label=_pair("--label", label_size),
            grid=(int(across), int(down)),
            margins=_pair("--margins", margins),
            pitch=_pair("--pitch", pitch) if pitch else None,
            kind=Kind(form),
            buried=Buried(buried),
            cut_lines=cut_lines,
        )
        with app.recording("label stock") as rec:
            keep_stock(rec, stock)
        app.answer(_stock_facts(stock, own=True), f"{stock.name} is kept.")
        return
    own: tuple[Stock, ...] = ()
    if stands(app.path):
        with app.reading() as session:
            own = own_stocks(session)
    facts = [_stock_facts(stock, own=True) for stock in own]
    facts += [_stock_facts(stock, own=False) for stock in all_stocks()]
    rows = [
        (
            fact["name"],
            f"{fact['label_width']:g} × {fact['label_height']:g}",
            fact["cells"],
            f"{fact['page_width']:g} × {fact['page_height']:g}",
            fact["form"] + (", your own" if fact["own"] else ""),
        )
        for fact in facts
    ]
    app.answer({"stocks": facts}, *table(("name", "label mm", "a page", "page mm", "form"), rows))


def _stock_facts(stock: Stock, *, own: bool) -> dict[str, Any]:
    return {
        "name": stock.name,
        "form": stock.kind.value,
        "page_width": stock.page_width,
        "page_height": stock.page_height,
        "label_width": stock.label_width,
        "label_height": stock.label_height,
        "columns": stock.columns,
        "rows": stock.rows,
        "cells": stock.cells,
        "left": stock.left,
        "top": stock.top,
        "pitch_x": stock.pitch_x,
        "pitch_y": stock.pitch_y,
        "own": own,
    }


def _pair(option: str, text: str) -> tuple[float, float]:
    try:
        first, second = text.lower().replace("×", "x").split("x")
        return float(first), float(second)
    except ValueError as error:
        raise click.BadParameter(
            f"“{text}” is not two numbers, such as 63x38.", param_hint=option
        ) from error


@label_command.command(
    "test-page",
    epilog=examples(
        "label test-page --stock plain-a4 --out test.pdf",
    ),
)
@click.option("--stock", metavar="NAME", help="What is printed on; see 'label stocks'.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("test-page.pdf"),
    show_default=True,
    help="The file.",
)
@_nudge
@common
@pass_app
def label_test_page(app: App, stock: str | None, out: Path, nudge: str | None) -> None:
    """Outlines and rulers, to hold against empty stock before it is used."""
    from registry.labels.pdf import draw_test_page
    from registry.services.labels import choose_stock

    with app.reading() as session:
        chosen = choose_stock(session, stock, cards=False)
    with open_paper(out) as paper:
        draw_test_page(_nudged(chosen, nudge), paper.file)
        paper.finish()
    app.answer(
        {"file": str(out), "stock": chosen.name},
        f"{out}: print it at 100 % on plain paper and hold it against {chosen.name}.",
    )


@label_command.command(
    "blank",
    epilog=examples(
        "label blank 20 --out tags.pdf",
    ),
)
@click.argument("count", type=Whole(1, 9999))
@_how_it_is_drawn
@click.option("--by", metavar="PERSON", help="Who prints.")
@common
@pass_app
def label_blank(
    app: App,
    count: int,
    stock: str | None,
    start: int,
    dpi: int | None,
    out: Path,
    by: str | None,
) -> None:
    """Tags with numbers set aside, for a bench without a signal."""
    from registry.services.labels import reserve_tags

    with open_paper(out) as paper:
        with app.recording("label blank", by=by) as rec:
            made = reserve_tags(rec, count, stock=stock)
            # Two of them, to nowhere: what cannot be drawn as asked sets no numbers aside.
            _draw(app, made.labels[:2], made.stock, Paper(out, BytesIO(), out), start, dpi)
        report = draw_labels(app, made, paper, start=start, dpi=dpi)
    _answer_printed(app, made, report, out, 0)


@label_command.command(
    "bind",
    epilog=examples(
        "label bind 26-0040-001-7 14:7",
    ),
)
@click.argument("tag")
@click.argument("code")
@click.option("--by", metavar="PERSON", help="Who records it.")
@common
@pass_app
def label_bind(app: App, tag: str, code: str, by: str | None) -> None:
    """Say which plant, lot or batch a tag written ahead stands on."""
    from registry.services.labels import bind_tag
    from registry.services.resolve import resolve

    with app.recording("label bind", by=by) as rec:
        bound = bind_tag(
            rec,
            tag,
            resolve(rec.session, code, today=rec.today, by_id=rec.by_id),
        )
    app.answer(
        {"tag": bound.tag, "code": bound.code},
        f"The tag {bound.tag} stands on {bound.code} {bound.name}.",
    )


@label_command.command("stale")
@common
@pass_app
def label_stale(app: App) -> None:
    """Printed labels that would say something else today."""
    from registry.services.labels import stale_labels

    with app.reading() as session:
        stale = stale_labels(session)
    lines: list[str] = []
    for one in stale:
        lines.append(f"{one.code}  printed on {one.stock}")
        lines += [f"    no longer: {line}" for line in one.gone]
        lines += [f"    now: {line}" for line in one.come]
    if stale:
        codes = " ".join(one.code for one in stale[:MOST_LISTED])
        lines.append(f"Print them again: ortet label print {codes}")
    app.answer(
        {
            "labels": [
                {
                    "code": one.code,
                    "stock": one.stock,
                    "payload": one.payload,
                    "gone": list(one.gone),
                    "come": list(one.come),
                }
                for one in stale
            ]
        },
        *(lines or ["Every printed label says what the record says."]),
    )


def _wanted(
    kind: str,
    payload: str,
    price: str | None,
    lines: tuple[str, ...],
    said: tuple[str, str, str],
    verified: bool,
) -> Wanted:
    from registry.domain.payload import PayloadKind
    from registry.labels.text import LabelKind
    from registry.services.label_text import Passport, Wanted

    if kind.startswith("passport-"):
        passport = Passport(kind.removeprefix("passport-"), *said)
        return Wanted(None, LabelKind.PASSPORT, passport=passport)
    if any(said):
        raise click.UsageError("--title, --zone and --origin stand on a plant passport alone.")
    if price is not None and kind != "sale":
        raise click.UsageError("A price stands on a sale label: add --kind sale.")
    carried = None if payload == "none" else PayloadKind(payload)
    return Wanted(carried, LabelKind(kind), price or "", tuple(filter(None, lines)), verified)


def _targets(app: App, session: Any, codes: Sequence[str]) -> list[Any]:
    from registry.services.resolve import resolve

    return [resolve(session, code, today=app.today) for code in codes]


# --- reading -------------------------------------------------------------------------------------


@click.command(
    "read",
    epilog=examples(
        "read 26-0_14-007-X",
        "read tray.jpg",
    ),
)
@click.argument("text", metavar="TEXT|PICTURE")
@common
@pass_app
def read_command(app: App, text: str) -> None:
    """What a label stands for: a code, a half-read code, a scanned text, or a photo.

    In a half-read code _ is a lost character and [38] one of several. A single - reads what a
    scanner types.
    """
    from registry.services.reading import read_text, read_texts

    typed = sys.stdin.read() if text == "-" else text
    path = Path(typed) if len(typed) < 1024 and "\n" not in typed else None
    foreign: tuple[str, ...] = ()
    if path is not None and (path.suffix.lower() in PICTURES or _is_file(path)):
        from registry.labels.scan import read_picture

        payloads = read_picture(path)
        with app.reading() as session:
            answers, foreign = read_texts(session, payloads, today=app.today)
    else:
        with app.reading() as session:
            answers = (read_text(session, typed, today=app.today),)
    lines = [line for answer in answers for line in _answer_lines(answer)]
    lines += [f"not a label of this registry: {one.splitlines()[0][:60]}" for one in foreign]
    app.answer(
        {
            "read": [
                {
                    "text": answer.text,
                    "as": answer.read_as,
                    "sure": answer.sure,
                    "why": answer.why or None,
                    "found": [_found_facts(one) for one in answer.found],
                }
                for answer in answers
            ],
            "not_ours": list(foreign),
        },
        *lines,
    )


def _is_file(path: Path) -> bool:
    """Whether there is such a file; a text that can be no file's name names none."""
    try:
        return path.is_file()
    except OSError:  # too long for a name
        return False


def _answer_lines(answer: ReadAnswer) -> list[str]:
    found = [_found_line(one) for one in answer.found]
    if answer.sure:
        return found
    return [f"Not sure: {answer.why}.", *(f"  {line}" for line in found)]


def _found_line(one: Found) -> str:
    status = one.status if one.status and one.status != "alive" else None
    kind = one.kind if one.kind != "plant" else None
    details = ", ".join(part for part in (kind, status, one.place) if part)
    return f"{one.code}  {one.name}" + (f"  ({details})" if details else "")


def _found_facts(one: Found) -> dict[str, str | None]:
    return {
        "code": one.code,
        "kind": one.kind,
        "name": one.name,
        "status": one.status,
        "place": one.place,
    }
