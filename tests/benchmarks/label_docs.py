"""Makes what docs/ shows of labels: `python -m tests.benchmarks.label_docs [FOLDER]`.

Writes label-layouts.png, every layout at real size, and label-measurements.md: what is read of
damaged symbols, how fast sheets are drawn, and in how much memory. The pictures of damage are made
from fixed seeds, so that two runs agree.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdfium2
import zxingcpp
from font_source_sans_pro import font_files_ttf
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from registry.domain.names.printing import Run, Style
from registry.domain.payload import address_payload, plain_payload
from registry.labels.pdf import draw_sheet
from registry.labels.stocks import Stock, find_stock
from registry.labels.symbol import Encoder, Level, smallest_version, split_segments
from registry.labels.text import LabelKind, LabelText, LotRow
from tests.benchmarks.labels import make_labels

DPI = 150
TRIALS = 20
MODULE = 8  # pixels
GREY = 225
Picture = Image.Image
Damage = Callable[[Picture, random.Random], Picture]

NAME = (
    Run("Camellia", Style.ITALIC),
    Run(" ×", Style.UPRIGHT),
    Run("williamsii", Style.ITALIC),
    Run(" ‘Donation’", Style.UPRIGHT),
)
CODE, SOURCE, BATCH = "26-0014-007-4", "24-0003-001-7", "26-0014-X"
DATES = ("stuck 14 May 2026", "potted 2 October 2026")


def main() -> None:
    """Write picture and tables."""
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "docs")
    contact_sheet().save(folder / "label-layouts.png", optimize=True, dpi=(DPI, DPI))
    text = "\n".join(
        [
            "# What labels were measured to do",
            "",
            "Made by `python -m tests.benchmarks.label_docs`; not edited by hand.",
            "",
            *damage_table(),
            "",
            *throughput_table(),
            "",
            *memory_table(),
            "",
        ]
    )
    (folder / "label-measurements.md").write_text(text, encoding="utf-8")


# --- every layout --------------------------------------------------------------------------------


def layouts() -> Iterator[tuple[str, LabelText, Stock]]:
    """A caption, a label, and the stock that it is drawn on."""
    plain = plain_payload(CODE, "Camellia ×williamsii 'Donation'", SOURCE, DATES, BATCH)
    address = address_payload("https://pots.example.org", CODE)
    plant = LabelText(
        LabelKind.PLANT,
        CODE,
        NAME,
        SOURCE,
        (*DATES, "with the owner’s leave", f"batch {BATCH}"),
        payload=plain,
    )
    a4, roll = find_stock("plain-a4"), find_stock("roll-57x32")
    card = LabelText(
        LabelKind.BATCH,
        BATCH,
        NAME,
        SOURCE,
        ("stuck 14 May 2026", "look again 11 June 2026", "with the owner’s leave"),
        payload=plain_payload(BATCH, "Camellia ×williamsii 'Donation'", SOURCE, DATES[:1]),
        lots=(
            LotRow("A", count="14", details=("semi-ripe", "heel", "powder 0.1 %")),
            LotRow("B", count="about 10", details=("soft", "tip")),
        ),
    )
    sale = replace(plant, kind=LabelKind.SALE, heading="6.50 EUR", typed=("Hardy to −12 °C",))
    hold = replace(plant, kind=LabelKind.HOLD, heading="HOLD", lines=("held since 2 June 2026",))
    blank = LabelText(
        LabelKind.BLANK, "26-0051-8", payload="26-0051-8", write_on=("name", "from", "date")
    )
    yield "a plant, payload plain, plain-a4", plant, a4
    yield (
        "a plant, payload address, a4-63.5x29.6",
        replace(plant, payload=address),
        find_stock("a4-63.5x29.6"),
    )
    yield "a plant, roll-57x32", replace(plant, payload=address), roll
    yield "sale, roll-76x51", sale, find_stock("roll-76x51")
    yield "hold, plain-a4", hold, a4
    yield "a blank tag, plain-a4", blank, a4
    yield "a small label, a4-38.1x21.2", replace(plant, payload=CODE), find_stock("a4-38.1x21.2")
    yield "a stake, stake-16x125", replace(plant, payload=address), find_stock("stake-16x125")
    yield "a stake, stake-25x150", plant, find_stock("stake-25x150")
    yield (
        "a strip to wrap round, strip-12.7x178",
        replace(plant, payload=CODE),
        find_stock("strip-12.7x178"),
    )
    yield "a batch card, plain-a4-95x67", card, find_stock("plain-a4-95x67")


def contact_sheet() -> Picture:
    """All layouts on one page, at real size, each with its caption."""
    font = ImageFont.truetype(font_files_ttf["SourceSansPro"], 20)
    pictures = [(caption, _drawn(label, stock)) for caption, label, stock in layouts()]
    width, gap, foot = 1240, 24, 30
    places, x, y, row = [], gap, gap, 0
    for caption, picture in pictures:
        if x + picture.width + gap > width:
            x, y, row = gap, y + row + foot + gap, 0
        places.append((x, y, caption, picture))
        x, row = x + max(picture.width, 260) + gap, max(row, picture.height)
    sheet = Image.new("L", (width, y + row + foot + gap), GREY)
    pen = ImageDraw.Draw(sheet)
    for left, top, caption, picture in places:
        sheet.paste(picture, (left, top))
        pen.text((left, top + picture.height + 4), caption, fill=0, font=font)
    return sheet


def _drawn(label: LabelText, stock: Stock) -> Picture:
    """One label as it is read, without the rest of its page."""
    single = replace(
        stock,
        page_width=stock.label_width,
        page_height=stock.label_height,
        columns=1,
        rows=1,
        left=0.0,
        top=0.0,
        cut_lines=False,
    )
    picture = _rendered([label], single, DPI)
    return picture.rotate(90, expand=True) if picture.height > 2 * picture.width else picture


def _rendered(labels: list[LabelText], stock: Stock, dpi: int) -> Picture:
    out = BytesIO()
    draw_sheet(labels, stock, out)
    with pypdfium2.PdfDocument(out.getvalue()) as document:
        picture: Picture = document[0].render(scale=dpi / 72).to_pil()
    return picture.convert("L")


# --- damage --------------------------------------------------------------------------------------


def _patches(share: float, shade: int) -> Damage:
    """Round patches that cover a share of the symbol, as from soil, a pen or the sun."""

    def damage(picture: Picture, chance: random.Random) -> Picture:
        spoilt = picture.copy()
        pen = ImageDraw.Draw(spoilt)
        quiet = 4 * MODULE
        inner = picture.width - 2 * quiet
        radius = (share * inner**2 / 3 / 3.14159) ** 0.5  # three patches
        for _ in range(3):
            x = chance.uniform(quiet + radius, picture.width - quiet - radius)
            y = chance.uniform(quiet + radius, picture.height - quiet - radius)
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=shade)
        return spoilt

    return damage


def _blurred(modules: float) -> Damage:
    return lambda picture, _: picture.filter(ImageFilter.GaussianBlur(modules * MODULE))


def _tilted(picture: Picture, chance: random.Random) -> Picture:
    angle = 15 * chance.choice((-1, 1))
    return picture.rotate(angle, expand=True, fillcolor=255, resample=Image.Resampling.BICUBIC)


def _from_a_side(picture: Picture, chance: random.Random) -> Picture:
    """Seen askew: one side a fifth shorter than the other."""
    side, inset = picture.width, picture.width * 0.1
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=np.float32)
    askew = np.array([[0, 0], [side, inset], [side, side - inset], [0, side]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(corners, askew)
    turned = cv2.warpPerspective(np.array(picture), matrix, (side, side), borderValue=255)
    return Image.fromarray(np.rot90(turned, chance.randrange(4)))


def _faded(share: float) -> Damage:
    def damage(picture: Picture, _: random.Random) -> Picture:
        table = [int(255 - (255 - shade) * share) for shade in range(256)]
        return picture.point(table)

    return damage


def _round_a_pot(picture: Picture, _: random.Random) -> Picture:
    """Bent as a symbol of 26 mm is on a pot of 7 cm, seen from the front."""
    side = picture.width
    across = np.linspace(-1, 1, side, dtype=np.float32)
    reach = np.float32(26 / 70)  # half the angle: half the symbol over the radius
    source = (np.arcsin(across * np.sin(reach)) / reach + 1) / 2 * (side - 1)
    x = np.tile(source.astype(np.float32), (side, 1))
    y = np.tile(np.arange(side, dtype=np.float32)[:, None], (1, side))
    bent = cv2.remap(np.array(picture), x, y, cv2.INTER_LINEAR, borderValue=255)
    return Image.fromarray(bent)


DAMAGES: tuple[tuple[str, Damage], ...] = (
    ("none", lambda picture, _: picture),
    ("5 % blotted", _patches(0.05, 0)),
    ("10 % blotted", _patches(0.10, 0)),
    ("15 % blotted", _patches(0.15, 0)),
    ("5 % bleached", _patches(0.05, 255)),
    ("10 % bleached", _patches(0.10, 255)),
    ("15 % bleached", _patches(0.15, 255)),
    ("blur of half a module", _blurred(0.5)),
    ("blur of a module", _blurred(1.0)),
    ("15 degrees of tilt", _tilted),
    ("seen askew", _from_a_side),
    ("60 % of the contrast", _faded(0.6)),
    ("curved round a pot", _round_a_pot),
)


def damage_table() -> list[str]:
    """The share read of symbols spoilt in each way, by payload, level and reader."""
    kinds = [(payload, level) for payload in ("address", "plain") for level in Level]
    heads = [f"{payload}, level {level.name}" for payload, level in kinds]
    lines = [
        "## Damaged symbols",
        "",
        f"Of {TRIALS} symbols spoilt at random, the share that was read. Labels are printed at",
        "level Q where it costs no larger symbol, else M. The address is read by zxing-cpp and by",
        "OpenCV; the plain text by zxing-cpp alone, since OpenCV reads no letters beyond ASCII.",
        "",
        f"| damage | {' | '.join(heads)} |",
        f"|{'---|' * (1 + len(kinds))}",
    ]
    symbols = {kind: [_symbol(number, *kind) for number in range(1, TRIALS + 1)] for kind in kinds}
    for name, damage in DAMAGES:
        cells = [name]
        for kind in kinds:
            chance = random.Random(f"{name}{kind}")  # noqa: S311 - a picture, not a secret
            zxing = opencv = 0
            for text, picture in symbols[kind]:
                spoilt = damage(picture, chance)
                zxing += text in [found.text for found in zxingcpp.read_barcodes(spoilt)]
                opencv += _opencv(spoilt) == text
            shares = (zxing, opencv) if kind[0] == "address" else (zxing,)
            cells.append(" / ".join(f"{100 * n // TRIALS} %" for n in shares))
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def _symbol(number: int, payload: str, level: Level) -> tuple[str, Picture]:
    code = f"26-0014-{number:03}-{number % 10}"
    text = (
        address_payload("https://pots.example.org", code)
        if payload == "address"
        else plain_payload(code, "Camellia ×williamsii 'Donation'", SOURCE, DATES, BATCH)
    )
    segments = split_segments(text)
    version = smallest_version(segments, level)
    symbol = Encoder().draw(text, segments, version or 40, level)
    rows = [[0 if module == "1" else 255 for module in row] for row in symbol.rows]
    modules = np.pad(np.array(rows, dtype=np.uint8), 4, constant_values=255)
    return text, Image.fromarray(np.kron(modules, np.ones((MODULE, MODULE), dtype=np.uint8)))


def _opencv(picture: Picture) -> str:
    text: Any = ""
    try:
        text, _, _ = cv2.QRCodeDetector().detectAndDecode(np.array(picture))
    except (cv2.error, UnicodeDecodeError):  # it gives up so on some pictures
        return ""
    return str(text)


# --- speed and memory ----------------------------------------------------------------------------


def throughput_table() -> list[str]:
    """Labels a second and bytes a label, on one core and on two."""
    lines = [
        "## Speed",
        "",
        "Whole processes, start-up included, on the machine of the day, whatever else it did;",
        "`python -m tests.benchmarks` gives the ratios against other ways, which hold anywhere.",
        "",
        "| labels | payload | cores | labels a second | bytes a label |",
        "|---|---|---|---|---|",
    ]
    for count in (240, 10_000):
        for payload in ("plain", "address"):
            for cores in (1, 2):
                start = time.perf_counter()
                runs = [_in_a_process(count // cores, payload) for _ in range(cores)]
                size = sum(int(_answer(run)[1]) for run in runs)
                seconds = time.perf_counter() - start
                lines.append(
                    f"| {count:,} | {payload} | {cores} | {count / seconds:.0f} "
                    f"| {size / count:.0f} |"
                )
    return lines


def memory_table() -> list[str]:
    """The most memory that sheets of growing length take."""
    lines = ["## Memory", "", "| labels | most memory, MB |", "|---|---|"]
    for count in (1_000, 10_000, 50_000):
        peak = float(_answer(_in_a_process(count, "address"))[0]) / 1024
        lines.append(f"| {count:,} | {peak:.0f} |")
    return lines


def _in_a_process(count: int, payload: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.benchmarks.label_docs", "--draw", str(count), payload]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def _answer(process: subprocess.Popen[str]) -> list[str]:
    out, _ = process.communicate()
    return out.split()


def draw_only(count: int, payload: str) -> None:
    """Draw so many labels and say the most memory taken (kB) and the bytes written."""

    class Counted(BytesIO):
        size = 0

        def write(self, data: Any) -> int:
            self.size += len(data)
            return len(data)

    out = Counted()
    some = make_labels(min(count, 999), payload)
    draw_sheet((some[index % len(some)] for index in range(count)), find_stock("plain-a4"), out)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sys.stdout.write(f"{peak} {out.size}\n")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--draw"]:
        draw_only(int(sys.argv[2]), sys.argv[3])
    else:
        main()
