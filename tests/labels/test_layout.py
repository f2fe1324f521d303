import itertools

import pytest

from registry.domain.names.printing import Run, Style
from registry.errors import DoesNotFit, NoRoomForCounts, NotInFont
from registry.labels.fonts import MM_PER_POINT, Face, width
from registry.labels.layout import DESIGNS, lay_out
from registry.labels.stocks import Kind, all_stocks, find_stock
from registry.labels.symbol import Encoder
from registry.labels.text import LabelKind, pencil_lines


@pytest.fixture(scope="module")
def encoder():
    return Encoder()


def text_box(text):
    """Left, top, right, bottom of a text in mm, capitals and descenders included."""
    size = text.size * MM_PER_POINT
    right = text.x + width(text.text.rstrip(), text.face) * text.size
    return text.x, text.baseline - 0.7 * size, right, text.baseline + 0.25 * size


def said(layout):
    return "".join(text.text for text in layout.texts)


def size_of(layout, words):
    return next(text.size for text in layout.texts if words in text.text)


@pytest.mark.parametrize("stock", all_stocks(), ids=lambda stock: stock.name)
@pytest.mark.parametrize("payload", ["address", "plain"])
def test_nothing_leaves_its_label_or_lies_on_the_symbol(stock, payload, make_label, encoder):
    label = make_label(1, payload=payload)
    layout = lay_out(label, stock, 300, encoder)
    for text in layout.texts:
        left, top, right, bottom = text_box(text)
        assert left >= 0
        assert top >= 0
        assert right <= layout.width + 0.01
        assert bottom <= layout.height + 0.01
        if spot := layout.spot:
            beside = right <= spot.x + 0.01 or left >= spot.x + spot.side - 0.01
            assert beside
            assert spot.x >= 0
            assert spot.y >= 0
            assert spot.x + spot.side <= layout.width + 1e-6
            assert spot.y + spot.side <= layout.height + 1e-6
    assert label.code in said(layout)
    for run in label.runs:
        assert all(word in said(layout) for word in run.text.split())


@pytest.mark.parametrize("stock", all_stocks(), ids=lambda stock: stock.name)
def test_what_is_not_printed_is_reported(stock, make_label, encoder):
    label = make_label(1, payload="plain")
    layout = lay_out(label, stock, 300, encoder)
    for line in ("from 19-0003-4", *label.lines):
        printed = line.replace(" ", "") in said(layout).replace(" ", "")
        assert printed != (line in layout.left_out)
    carried = layout.spot.symbol.text if layout.spot else None
    assert (
        carried
        == {
            (False, False): label.payload,
            (True, False): label.code,
            (False, True): None,
        }[layout.reduced, layout.no_symbol]
    )


def test_name_and_code_are_the_largest(make_label, encoder):
    layout = lay_out(make_label(1), find_stock("plain-a4"), 300, encoder)
    assert size_of(layout, "Camellia") > size_of(layout, "from")
    assert size_of(layout, "26-0014-001-1") > size_of(layout, "from")


def test_type_of_a_name_is_kept(make_label, encoder):
    layout = lay_out(make_label(2), find_stock("plain-a4"), 300, encoder)
    faces = {text.text.strip(): text.face for text in layout.texts}
    assert faces["Rosa"] is Face.NAME_ITALIC
    assert faces["‘Oxbril’"] is Face.NAME
    assert size_of(layout, "OXBOW") < size_of(layout, "Rosa")


def test_a_sign_stays_with_its_epithet_and_an_initial_with_its_own(make_label, encoder):
    runs = (
        Run("Sarracenia alata", Style.ITALIC),
        Run(" × ", Style.UPRIGHT),
        Run("S. leucophylla", Style.ITALIC),
    )
    stock = find_stock("a4-38.1x21.2")
    layout = lay_out(make_label(runs=runs), stock, 300, encoder)
    rows: dict[float, str] = {}
    for text in layout.texts:
        rows[text.baseline] = rows.get(text.baseline, "") + text.text
    assert any("S. leucophylla" in row for row in rows.values())


def test_a_small_stock_falls_back_to_the_code_alone(make_label, encoder):
    layout = lay_out(make_label(2, payload="plain"), find_stock("stake-16x125"), 300, encoder)
    assert not layout.reduced
    layout = lay_out(make_label(2, payload="plain"), find_stock("stake-12.7x102"), 300, encoder)
    assert layout.reduced
    assert layout.spot is not None
    assert layout.spot.symbol.version == 1


def test_no_symbol_where_no_module_would_print(make_label, encoder):
    layout = lay_out(make_label(3), find_stock("a4-25.4x10"), 203, encoder)
    assert layout.no_symbol
    assert layout.spot is None


def test_without_a_payload_there_is_no_symbol_and_no_complaint(make_label, encoder):
    layout = lay_out(make_label(payload=None), find_stock("plain-a4"), 300, encoder)
    assert layout.spot is None
    assert not layout.no_symbol


def test_a_name_that_cannot_fit_is_refused_not_cut(make_label, encoder):
    runs = (Run("Taumatawhakatangihangakoauauotamateapokaiwhenua " * 6, Style.UPRIGHT),)
    with pytest.raises(DoesNotFit) as caught:
        lay_out(make_label(runs=runs), find_stock("a4-38.1x21.2"), 300, encoder)
    assert caught.value.code == "26-0014-001-1"


def test_a_long_name_shrinks_to_the_floor_and_no_further(make_label, encoder):
    runs = (Run("an old rose with a very long story told " * 3, Style.UPRIGHT),)
    layout = lay_out(make_label(runs=runs), find_stock("a4-38.1x21.2"), 300, encoder)
    assert said(layout).replace(" ", "").startswith(runs[0].text.replace(" ", ""))
    assert size_of(layout, "rose") >= DESIGNS[LabelKind.PLANT].name[1]


@pytest.mark.parametrize(
    ("text", "character"),
    [("牡丹", "牡"), ("rose 🌹", "🌹"), ("ורד", "ו"), ("a\u200bb", "\u200b"), ("a\tb", "\t")],
)
def test_a_character_that_the_font_lacks_is_named(text, character, make_label, encoder):
    with pytest.raises(NotInFont) as caught:
        lay_out(make_label(runs=(Run(text, Style.UPRIGHT),)), find_stock("plain-a4"), 300, encoder)
    assert caught.value.character == character


def test_decomposed_accents_are_composed(make_label, encoder):
    runs = (Run("Carrie\u0300re", Style.UPRIGHT),)
    assert "Carrière" in said(lay_out(make_label(runs=runs), find_stock("plain-a4"), 300, encoder))


def test_upright_letters_stand_in_where_the_italic_lacks_them(make_label, encoder):
    runs = (Run("Роза", Style.ITALIC),)
    layout = lay_out(make_label(runs=runs), find_stock("plain-a4"), 300, encoder)
    assert any(text.text == "Роза" and text.face is Face.NAME for text in layout.texts)


def test_a_stake_prints_above_the_soil_and_repeats_the_code_below(make_label, encoder):
    for stock in all_stocks():
        if stock.kind is not Kind.STAKE:
            continue
        layout = lay_out(make_label(1), stock, 300, encoder)
        *above, repeat = layout.texts
        assert layout.turned
        assert all(text_box(text)[2] <= 0.6 * layout.width for text in above)
        assert repeat.text == "26-0014-001-1"
        assert repeat.x >= 0.55 * layout.width


def test_a_blank_tag_has_room_to_write(make_label, encoder):
    label = make_label(
        kind=LabelKind.BLANK, runs=(), source_code=None, lines=(), write_on=("name", "date")
    )
    layout = lay_out(label, find_stock("plain-a4"), 300, encoder)
    assert len(layout.rules) == 2
    assert layout.rules[1].y1 - layout.rules[0].y1 >= 6
    assert all(rule.x2 - rule.x1 > 20 for rule in layout.rules)


@pytest.mark.parametrize("lots", [1, 2, 4, 6])
def test_a_batch_card_says_each_lot_and_leaves_room_for_counts(lots, make_card, encoder):
    card = make_card(lots)
    layout = lay_out(card, find_stock("plain-a4-95x67"), 300, encoder)
    for row in card.lots:
        assert f"from {row.source}" in said(layout)
        assert f"{row.letter} {row.count}".strip() in said(layout)
    assert all(word in said(layout) for word in ("stuck", "look again", "rooted", "semi-ripe"))
    across = [rule for rule in layout.rules if rule.y1 == rule.y2]
    steps = [below.y1 - above.y1 for above, below in itertools.pairwise(across)]
    assert len(steps) >= 2
    assert min(steps) >= 6 - 1e-6
    highest = min(rule.y1 for rule in layout.rules)
    spot = layout.spot
    assert spot is not None
    assert spot.y + spot.side <= highest + 1e-6


def test_a_card_with_no_room_for_counts_is_refused(make_card, encoder):
    with pytest.raises(NoRoomForCounts) as caught:
        lay_out(make_card(12), find_stock("plain-a4"), 300, encoder)
    assert caught.value.needed > caught.value.height == 38


def test_lines_to_copy_in_pencil_begin_with_the_code(make_label, make_card):
    assert pencil_lines(make_label(1)) == (
        "26-0014-001-1",
        "Camellia ×williamsii ‘Donation’",
        "from 19-0003-4",
        "stuck 14 May 2026",
        "with the owner’s leave",
    )
    assert pencil_lines(make_card(2))[-1] == (
        "B about 14, Camellia ×williamsii ‘Donation’, from 19-0001-4, semi-ripe, heel, gel 3 g/l"
    )
