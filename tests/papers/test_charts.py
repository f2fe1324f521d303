"""Charts: what is in a box, what is summed, nothing lost without a word, paper that can be read."""

from __future__ import annotations

import io
import re
import time
from xml.etree import ElementTree as ET

import pypdf
import pytest

from registry.domain.family import Family, Member, Tie
from registry.papers.charts import WORD_SIZE, chart_pdf, chart_svg
from registry.papers.folding import Shape, fold
from registry.papers.layout import lay_out
from registry.papers.overview import CODES, Bar, overview_pdf, overview_svg
from registry.papers.page import BOLD, text_width

NAME = "Hydrangea macrophylla ‘Ashe Red’"


def plant(number, status="alive", **facts):
    went = status if status not in ("alive", "unsure", "rootstock") else None
    return Member(
        number, f"26-{number:05}", "plant", facts.pop("name", NAME), "2024-07-28", status,
        went=went, standing=went is None, count=1, **facts,
    )  # fmt: skip


def lot(number, **facts):
    return Member(
        number, f"26-{number:05}A", "lot", NAME, "2024-06-12", "done", how="cutting",
        opening="12", count=facts.pop("count", 0), **facts,
    )  # fmt: skip


def nursery(lots, pots):
    """A mother with some lots, each with some pots; every tenth pot is sold, one has died."""
    members = {1: plant(1)}
    ties = []
    number = 1
    for _ in range(lots):
        number += 1
        batch = number
        members[batch] = lot(batch)
        ties.append(Tie(1, batch, "source", True))
        for pot in range(pots):
            number += 1
            status = "sold" if pot % 10 == 9 else "died" if pot == 0 else "alive"
            members[number] = plant(number, status)
            ties.append(Tie(batch, number, "raised", True))
    return Family((1,), members, tuple(ties))


def words(svg):
    return [element.text for element in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]  # noqa: S314 - ours


def test_few_pots_have_a_box_each_and_many_are_counted_in_their_lots_box():
    assert len(fold(nursery(1, 3), "t").boxes) == 5
    chart = fold(nursery(1, 20), "t")
    assert len(chart.boxes) == 2
    assert chart.boxes[2].words == (
        "12 cuttings, 12 June 2024",
        "20 potted: 17 standing, 1 died, 2 sold",
    )


def test_status_shows_by_outline_and_in_words():
    family = Family(
        (1,),
        {1: plant(1), 2: plant(2, "sold", went_on="2025-09-14"), 3: plant(3, "died")},
        (),
    )
    boxes = fold(family, "t").boxes
    assert [boxes[n].shape for n in (1, 2, 3)] == [Shape.PLANT, Shape.LEFT, Shape.ENDED]
    assert "sold 14 September 2025" in boxes[2].words
    assert "died" in boxes[3].words
    assert "standing" in boxes[1].words


def test_a_verdict_shows_in_words_beside_its_sign():
    chart = fold(nursery(1, 1), "t", verdicts={"26-00001": "barred"}, act="sell")
    assert "may not be sold" in words(chart_svg(chart))


def test_every_code_and_name_of_a_box_stands_in_the_svg_and_the_pdf():
    chart = fold(nursery(2, 3), "What came of it")
    shown = words(chart_svg(chart))
    out = io.BytesIO()
    chart_pdf(chart, out)
    pages = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    for box in chart.boxes.values():
        assert box.code in shown
        assert box.code in pages
    assert "What came of it" in shown
    assert NAME in pages.replace("\n", " ")


def test_the_type_is_never_smaller_than_six_points():
    svg = chart_svg(fold(nursery(3, 3), "t"))
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)]
    assert min(sizes) >= 6 * 25.4 / 72


def test_a_long_name_is_wrapped_and_never_cut():
    name = "Hydrangea macrophylla subsp. serrata ‘A Very Long Cultivar Name That Goes On And On’"
    family = Family((1,), {1: plant(1, name=name)}, ())
    assert name in " ".join(words(chart_svg(fold(family, "t"))))


def pages_of(chart):
    out = io.BytesIO()
    pages = chart_pdf(chart, out)
    found = list(pypdf.PdfReader(out).pages)
    assert len(found) == pages
    return found


def upright(page):
    width, height = round(page.mediabox.width), round(page.mediabox.height)
    assert sorted((width, height)) == [595, 842]  # A4 in points
    return height > width


def test_a_large_chart_is_split_over_pages_that_say_where_lines_go_on():
    chart = fold(nursery(40, 3), "t")
    pages = pages_of(chart)
    assert len(pages) > 1
    texts = [page.extract_text() for page in pages]
    assert f"goes on: page 2-{len(pages)}" in texts[0]
    for text in texts[1:]:
        assert "as on page 1" in text  # the mother stands again on each page
    for box in chart.boxes.values():
        assert sum(f"{box.code}\n" in f"{text}\n" for text in texts) == (
            len(pages) if box.id == 1 else 1
        )
    assert all(upright(page) for page in pages)  # three columns


def test_pots_of_one_batch_stay_on_one_page():
    family = nursery(40, 3)
    texts = [page.extract_text() for page in pages_of(fold(family, "t"))]
    for number in range(2, 162, 4):
        together = [f"26-{number:05}A", *(f"26-{pot:05}" for pot in range(number + 1, number + 4))]
        assert any(all(f"{code}\n" in f"{text}\n" for code in together) for text in texts)


def test_what_nearly_fits_a_page_is_drawn_smaller_and_not_split():
    """Six columns side by side are wider than A4 by a sixth."""
    members = {1: plant(1)}
    ties = []
    for number in range(2, 7):
        members[number] = plant(number) if number % 2 else lot(number)
        ties.append(Tie(number - 1, number, "raised" if number % 2 else "source", True))
    (page,) = pages_of(fold(Family((1,), members, tuple(ties)), "t"))
    assert not upright(page)
    sizes = [
        float(size) for size in re.findall(rb"/F\S+ ([\d.]+) Tf", page.get_contents().get_data())
    ]
    assert min(sizes) >= 6


def test_a_high_narrow_chart_stands_upright():
    (page,) = pages_of(fold(nursery(3, 3), "t"))
    assert upright(page)


def test_plants_alike_of_which_one_is_a_parent_are_one_box():
    members = {n: plant(n, name="Malus sylvestris") for n in range(1, 7)} | {7: lot(7), 8: plant(8)}
    ties = [Tie(n, 7, "rootstock", False) for n in range(1, 7)] + [Tie(7, 8, "raised", True)]
    chart = fold(Family((8,), members, tuple(ties)), "t")
    assert set(chart.boxes) == {1, 7, 8}
    box = chart.boxes[1]
    assert box.code == "26-00001 to 26-00006"
    assert box.shape is Shape.PLANTS
    assert box.words[0] == "6 plants"
    assert "one of them rootstock of 26-00007A" in box.words
    assert [(link.parent, link.certain) for link in chart.links] == [(1, False), (7, True)]


def test_plants_that_differ_keep_a_box_each():
    members = {n: plant(n, "alive" if n % 2 else "died") for n in range(1, 7)} | {7: lot(7)}
    ties = [Tie(n, 7, "source", False) for n in range(1, 7)]
    assert len(fold(Family((7,), members, tuple(ties)), "t").boxes) == 7


def test_pots_with_a_box_of_their_own_are_counted_with_their_batch():
    """Of twenty pots one was drawn from: nineteen are summed, and the twentieth is said too."""
    family = nursery(1, 20)
    ties = (*family.ties, Tie(4, 99, "source", True))
    chart = fold(Family((1,), {**family.members, 99: lot(99)}, ties), "t")
    assert "20 potted: 16 standing, 1 died, 2 sold, 1 shown beside" in chart.boxes[2].words


def test_the_key_tells_only_of_what_is_drawn():
    plain = " ".join(words(chart_svg(fold(Family((1,), {1: plant(1)}, ()), "t"))))
    assert "pointed" not in plain.casefold()
    assert "dashed" not in plain
    sold = " ".join(words(chart_svg(fold(Family((1,), {1: plant(1, "sold")}, ()), "t"))))
    assert "A pointed box has left." in sold


def test_the_same_chart_is_the_same_bytes():
    first, second = io.BytesIO(), io.BytesIO()
    for out in (first, second):
        chart_pdf(fold(nursery(4, 5), "t"), out)
    assert first.getvalue() == second.getvalue()


def test_fifty_thousand_descendants_are_summed_and_it_is_said():
    family = nursery(2500, 19)
    assert len(family.members) == 50_001
    chart = fold(family, "t")
    assert len(chart.boxes) == 2
    box = chart.boxes[2]
    assert box.shape is Shape.MANY
    assert box.words[0].startswith("2500 batches")
    assert box.words[1] == "47500 potted: 42500 standing, 2500 died, 2500 sold"
    assert any("summed" in line for line in chart.foot)
    assert chart_svg(chart)


def test_what_is_not_drawn_is_counted_and_said():
    """A line of 1,000 generations: the nearest are drawn, the rest is named."""
    members = {1: plant(1)}
    ties = []
    for number in range(2, 1002):
        members[number] = plant(number) if number % 2 else lot(number)
        ties.append(Tie(number - 1, number, "raised" if number % 2 else "source", True))
    chart = fold(Family((1,), members, tuple(ties)), "t", most=100)
    drawn_plants = sum(1 for n in chart.boxes if n % 2)
    assert len(chart.boxes) <= 101
    assert f"{501 - drawn_plants:,} more plants" in chart.foot[0]
    assert any("goes on: 1 more" in box.words for box in chart.boxes.values())


def test_a_doubtful_parent_is_said_in_its_box_and_by_a_dashed_line():
    family = Family(
        (3,),
        {1: plant(1), 2: plant(2), 3: lot(3)},
        (Tie(1, 3, "rootstock", False), Tie(2, 3, "rootstock", False)),
    )
    chart = fold(family, "t")
    assert "perhaps rootstock of 26-00003A" in chart.boxes[1].words
    assert 'stroke-dasharray="1.6 1.2"' in chart_svg(chart)


def test_a_circle_written_behind_the_back_is_drawn_and_not_looped_on():
    family = Family(
        (1,),
        {1: plant(1), 2: lot(2), 3: plant(3)},
        (Tie(1, 2, "source", True), Tie(2, 3, "raised", True), Tie(3, 1, "source", True)),
    )
    assert len(fold(family, "t").boxes) == 3
    assert chart_svg(fold(family, "t"))


def test_a_chart_of_two_thousand_boxes_takes_less_than_ten_times_its_layout():
    family = nursery(500, 3)
    chart = fold(family, "t", most=5000)
    assert len(chart.boxes) == 2001
    heights = dict.fromkeys(chart.boxes, 20.0)
    lines = [(link.parent, link.child) for link in chart.links]
    best = {}
    for what, call in (
        ("layout", lambda: lay_out(heights, lines, 5.0)),
        ("chart", lambda: chart_svg(chart)),
    ):
        times = []
        for _ in range(3):
            start = time.perf_counter()
            call()
            times.append(time.perf_counter() - start)
        best[what] = min(times)
    assert best["chart"] < 10 * best["layout"]


@pytest.mark.parametrize(
    "code", ["26-0001-001-8 or 26-0002-001-3", "26-0001-001-8 or one of 123 more"]
)
def test_the_codes_of_several_stay_in_their_column(code):
    said = words(overview_svg([Bar(code, "Rosa", 0, {"alive": 1})]))
    lines = said[1 : said.index("Rosa")]  # after the title
    assert " ".join(lines) == code
    assert all(text_width(line, BOLD, WORD_SIZE) <= CODES - 2 for line in lines)


@pytest.mark.parametrize("clones", [0, 1, 60])
def test_the_overview_names_every_clone(clones):
    bars = [
        Bar(f"26-{n:05}", f"Rosa {n}", n % 3, {"alive": n, "sold": 2}, n % 2) for n in range(clones)
    ]
    out = io.BytesIO()
    pages = overview_pdf(bars, out)
    texts = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    assert len(pypdf.PdfReader(out).pages) == pages
    svg = words(overview_svg(bars))
    for bar in bars:
        assert bar.code in texts
        assert bar.code in svg


def test_a_bar_tells_how_its_plants_stand_by_outline_and_in_words():
    svg = overview_svg([Bar("26-0001", "Rosa", 4, {"alive": 8, "sold": 3, "died": 2}, 5)])
    assert "3 standing · 5 gone, not said which · 3 left · 2 dead · 4 in the bench" in words(svg)
    corners = [len(points.split()) for points in re.findall(r'polygon points="([^"]+)"', svg)]
    assert corners == [4, 4, 5, 8]  # plain, dashed, pointed, corners cut off
    assert svg.count("stroke-dasharray") == 1
