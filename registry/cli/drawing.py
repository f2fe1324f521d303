"""Charts written to files: SVG or PDF by the file's ending."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from registry.cli.output import some
from registry.errors import BadOption, FileUnwritable

if TYPE_CHECKING:
    from registry.domain.family import Family
    from registry.services.kin import CloneLine


def draw_family(
    family: Family,
    path: Path,
    about: str,
    verdicts: dict[str, str] | None = None,
    act: str | None = None,
) -> tuple[str, ...]:
    """Draw a chart of a family to `path`; gives what there is to say about it.

    Args:
        family: What to draw, detailed.
        path: Where to.
        about: What the chart answers, with a place for the code.
        verdicts: Levels of a verdict by code.
        act: Of which act.
    """
    from registry.papers.charts import chart_pdf, chart_svg
    from registry.papers.folding import fold

    names = list(dict.fromkeys(family.members[root].name for root in family.roots))
    codes = [family.members[root].code for root in family.roots]
    which = " and ".join(codes if len(codes) < 3 else (codes[0], f"{len(codes) - 1} more"))
    title = f"{about.format(which)}: {' / '.join(names[:2])}"
    chart = fold(family, title, verdicts=verdicts, act=act)
    pages = write_chart(
        path,
        lambda out: chart_pdf(chart, out),
        lambda: chart_svg(chart),
    )
    return (f"{path}: {_boxes(len(chart.boxes), pages)}.", *chart.foot)


def draw_clones(found: Sequence[CloneLine], path: Path) -> tuple[str, ...]:
    """Draw the overview by clone to `path`."""
    from registry.papers.overview import Bar, overview_pdf, overview_svg

    bars = [Bar(one.code, one.name, one.bench, dict(one.plants), one.unsaid) for one in found]
    pages = write_chart(path, lambda out: overview_pdf(bars, out), lambda: overview_svg(bars))
    return (f"{path}: {some(len(bars), 'clone')}, {some(pages, 'page')}.",)


def _boxes(boxes: int, pages: int) -> str:
    return f"{some(boxes, 'box', 'boxes')}, {some(pages, 'page')}"


def write_chart(path: Path, pdf: Callable[[BinaryIO], int], svg: Callable[[], str]) -> int:
    """Write a file whole or not at all; gives its pages.

    Raises:
        BadOption: the ending is neither .svg nor .pdf.
        FileUnwritable: it cannot be written.
    """
    ending = path.suffix.lower()
    if ending not in (".svg", ".pdf"):
        raise BadOption("--chart", str(path), "a file that ends in .svg or .pdf")
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as out:
            if ending == ".pdf":
                pages = pdf(out)
            else:
                out.write(svg().encode())
                pages = 1
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FileUnwritable(path, error.strerror or str(error)) from error
    return pages
