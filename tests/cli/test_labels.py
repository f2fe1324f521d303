"""Labels as a grower asks for them: printed, drawn again, copied, bound, read back."""

from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp

from registry.cli import labels as commands
from registry.labels.stocks import STOCKS


@pytest.fixture
def pots(ortet):
    """Three pots of a fig with the number F1."""
    ortet('plant add "fig, back wall" --owner me --how bought --number F1')
    ortet("stick F1 --count 5 --number B1 --open")
    ortet("pot-up B1 --count 3")
    return ortet


def pages(path, dpi=200):
    with pypdfium2.PdfDocument(path) as document:
        return [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]


def symbols(path):
    return [found.text for page in pages(path) for found in zxingcpp.read_barcodes(page)]


def codes(ortet, line):
    return [label["code"] for label in ortet.ask(line)["labels"]]


class TestPrinting:
    def test_a_file_is_made_and_says_what_is_on_it(self, pots):
        answer = pots.ask("label print 2:1-3 --out pots.pdf")
        assert answer["stock"] == "plain-letter"
        assert (answer["pages"], answer["replaced"]) == (1, 0)
        assert [label["name"] for label in answer["labels"]] == ["fig, back wall"] * 3
        read = symbols(pots.folder / "pots.pdf")
        assert sorted(text.splitlines()[0] for text in read) == [
            label["code"] for label in answer["labels"]
        ]
        assert {file.name for file in pots.folder.iterdir()} >= {"pots.pdf"}
        assert not list(pots.folder.glob(".*.part"))

    def test_what_was_printed_is_on_record_and_last_stays(self, pots):
        before = pots.head()[0]
        pots("label print 2:1")
        assert pots.head()[0] == before + 2  # ordered, then printed
        assert (pots.folder / "labels.pdf").stat().st_size > 1000
        assert len(codes(pots, "label text last")) == 3

    def test_copies_order_start_and_own_lines(self, pots):
        answer = pots(
            "label print 2:2,1 --copies 2 --start 21 --sort code --line Bench --out a.pdf"
        )
        assert "4 labels on 2 pages" in answer.out
        assert len(symbols(pots.folder / "a.pdf")) == 4

    @pytest.mark.parametrize(
        ("line", "said"),
        [
            ("label print 2:1 --stock a4-99", "a4-99.1x"),
            ("label print 2:1 --start 22", "the sheet has 21"),
            ("label print 2:1 --dpi 72", "150"),
            ("label print 2:1 --payload address", "settings set site"),
            ("label print 77", "77"),
            ("label print 2:1 --out no/such/folder/a.pdf", "a.pdf"),
            ("label print --ordered", "nothing to print"),
            ("label print", "--ordered"),
            ("label print 2:1 --price '6 USD'", "--kind sale"),
            ("label blank 0", "0"),
            ("label bind 2:1 2:2", "blank tag"),
            ("label stocks --add plain-a4 --page 10x10 --label 9x9", "comes with the program"),
            ("label stocks --add mine --page 100x100 --label 120x20", "100.0 mm"),
            ("label stocks --add mine --page wide --label 9x9", "two numbers"),
        ],
    )
    def test_what_is_wrong_is_refused_before_anything_is_written(self, pots, line, said):
        assert said in pots.refused(line)
        assert not (pots.folder / "labels.pdf").exists()

    def test_a_folder_in_the_files_place_is_refused(self, pots):
        (pots.folder / "labels.pdf").mkdir()
        assert "labels.pdf" in pots.refused("label print 2:1")

    def test_a_name_that_cannot_be_printed_is_refused_and_none_is_ordered(self, ortet):
        ortet("plant add 牡丹 --owner me --number P1")
        assert "牡" in ortet.refused("label print P1")

    def test_the_address_payload_carries_the_site(self, pots):
        pots("settings set site https://pots.example.org")
        (code,) = codes(pots, "label print 2:1 --payload address --out a.pdf")
        assert symbols(pots.folder / "a.pdf") == [f"https://POTS.EXAMPLE.ORG/P/{code}"]

    def test_a_failing_disk_leaves_the_order_which_is_drawn_later(self, pots, monkeypatch):
        """The act stands, exit 1; `--ordered` draws it, and the old file stays as it was."""
        file = pots.folder / "labels.pdf"
        file.write_bytes(b"before")

        def fail(paper):
            raise OSError(28, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(commands.Paper, "finish", fail)
            answer = pots("label print 2:1-3", expect=1)
        assert "No space left" in answer.err
        assert "label print --ordered" in answer.err
        assert file.read_bytes() == b"before"
        assert not list(pots.folder.glob(".*.part"))
        pots("label print --ordered")
        assert len(symbols(file)) == 3
        pots.refused("label print --ordered")

    def test_a_reprint_says_that_the_older_is_replaced(self, pots):
        pots("label print 2:1")
        assert "1 earlier label is replaced" in pots("label print 2:1").out


class TestPotUp:
    def test_pots_and_their_labels_are_made_together(self, pots):
        pots("pot-up B1 --count 2 --labels two.pdf")
        assert len(symbols(pots.folder / "two.pdf")) == 2

    def test_a_file_that_cannot_be_written_is_refused_before_anything_is_potted(self, pots):
        assert "two.pdf" in pots.refused("pot-up B1 --count 2 --labels no/such/two.pdf")

    def test_pots_whose_name_cannot_be_printed_stand_and_keep_back_no_other(self, pots):
        """The act stands, exit 1; renamed, the plant's new label takes the waiting one's place."""
        pots("plant add 牡丹 --owner me --how bought --number P1")
        pots("stick P1 --count 2 --number B2 --open")
        answer = pots("pot-up B2 --count 1 --labels two.pdf", expect=1)
        assert "1 pot" in answer.out
        assert "牡" in answer.err
        assert not (pots.folder / "two.pdf").exists()
        assert "牡" in pots.refused("label print --ordered")
        pots("plant name P1 'Paeonia suffruticosa'")
        pots("label print 4:1")
        assert "nothing to print" in pots.refused("label print --ordered")

    def test_pots_whose_labels_do_not_fit_the_kind_of_file_stand_and_say_so(self, pots):
        """An SVG holds one label. The act was recorded, so this is exit 1, never 2."""
        answer = pots("pot-up B1 --count 2 --labels two.svg", expect=1)
        assert "2 pots" in answer.out
        assert "one label" in answer.err


class TestOtherWays:
    def test_lines_to_copy_in_pencil(self, pots):
        out = pots("label text 2:1").out.splitlines()
        assert out[1:] == [
            "fig, back wall",
            *pots.ask("label text 2:1")["labels"][0]["lines"][2:],
        ]
        assert out[0].endswith(pots.ask("label text 2:1")["labels"][0]["code"])

    def test_blank_tags_are_numbered_and_bound(self, pots):
        tag, other = codes(pots, "label blank 2 --out blank.pdf")
        assert symbols(pots.folder / "blank.pdf") == [tag, other]
        assert "fig, back wall" in pots(f"label bind {tag} 2:1").out
        assert "stands on" in pots.refused(f"label bind {tag} 2:2")
        assert pots.ask(f"read {tag}")["read"][0]["found"][0]["name"] == "fig, back wall"
        assert f"also {tag}" in pots("label text 2:1").out
        pots.refused(f"read {other}")

    def test_a_renamed_plant_has_stale_labels(self, pots):
        pots("label print 2:1-2")
        assert "Every printed label" in pots("label stale").out
        pots("plant name F1 'Ficus carica'")
        stale = pots.ask("label stale")["labels"]
        assert [(one["gone"], one["come"]) for one in stale] == [
            (["fig, back wall"], ["Ficus carica"])
        ] * 2

    def test_stocks_are_listed_with_ones_own(self, ortet):
        ortet("label stocks --add bench --page 100x150 --label 40x20 --grid 2x5 --margins 5x6 "
              "--pitch 45x25")  # fmt: skip
        listed = ortet.ask("label stocks")["stocks"]
        assert len(listed) == len(STOCKS) + 1
        assert (listed[0]["name"], listed[0]["own"], listed[0]["cells"]) == ("bench", True, 10)
        assert "bench" in ortet("label stocks").out

    def test_stocks_are_listed_where_there_is_no_registry(self, nowhere):
        assert "plain-a4" in nowhere("label stocks").out

    def test_a_test_page_is_drawn(self, ortet):
        ortet("label test-page --stock a4-63.5x38.1 --out t.pdf")
        assert len(pages(ortet.folder / "t.pdf")) == 1

    @pytest.mark.parametrize("how", ["--start 34", "--dpi 34", "--stock a4-63.5x38.1 --out b.zpl"])
    def test_blank_tags_that_cannot_be_drawn_set_no_numbers_aside(self, pots, how):
        pots.refused(f"label blank 3 {how}")


class TestReading:
    def test_a_photo_of_a_sheet_is_read(self, pots):
        made = codes(pots, "label print 2:1-3 --out pots.pdf")
        (page,) = pages(pots.folder / "pots.pdf")
        page.rotate(7, expand=True, fillcolor=255).save("photo.png")
        read = pots.ask("read photo.png")["read"]
        assert sorted(one["found"][0]["code"] for one in read) == made
        assert all(one["sure"] for one in read)

    def test_what_could_be_meant_is_listed_with_the_reason(self, pots):
        (code,) = codes(pots, "label text 2:1")
        half = pots.ask("read", f"{code[:-3]}_-_")["read"][0]
        assert (half["as"], half["sure"], len(half["found"])) == ("half-read", False, 3)
        wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
        said = pots(f"read {wrong}").out
        assert said.startswith("Not sure: ")
        assert code in said

    def test_a_scanned_text_comes_through_standard_input(self, pots, monkeypatch):
        payload = pots.ask("label text 2:1")["labels"][0]["payload"]
        assert pots.ask("read", payload)["read"][0]["sure"]

    @pytest.mark.parametrize("text", ["https://example.org/menu", "hello there", "19-9876-543-2"])
    def test_what_is_no_label_of_ours_is_refused(self, pots, text):
        pots.refused("read", text)

    def test_a_text_too_long_for_the_name_of_a_file_is_a_text(self, pots):
        assert "Scan the label again" in pots.refused("read", "é" * 400)

    @pytest.mark.parametrize("content", [None, b"", b"\x89PNG\r\n\x1a\nbroken"])
    def test_a_picture_that_is_none_is_refused(self, pots, content):
        file = pots.folder / "photo.png"
        if content is not None:
            file.write_bytes(content)
        assert "photo.png" in pots.refused("read photo.png")


def test_the_grid_can_be_moved_by_tenths_of_a_millimetre(ortet, tmp_path):
    """What is drawn first moves right by 1 mm and down by 2 mm, in points of 1/72 inch."""
    import pypdfium2

    ortet("plant add 'Ribes nigrum' --how bought --number R1")
    corners = []
    for name, nudge in (("a.pdf", ()), ("b.pdf", ("--nudge", "1,2"))):
        ortet("label print R1", "--out", str(tmp_path / name), *nudge)
        page = pypdfium2.PdfDocument(tmp_path / name)[0].get_textpage()
        left, bottom, _, _ = page.get_charbox(0)
        corners.append((left, bottom))
    (x, y), (moved_x, moved_y) = corners
    assert moved_x - x == pytest.approx(72 / 25.4, abs=0.1)
    assert y - moved_y == pytest.approx(2 * 72 / 25.4, abs=0.1)


@pytest.mark.parametrize("nudge", ["0.05,0", "30,0"])
def test_a_grid_is_moved_in_tenths_and_not_far(ortet, tmp_path, nudge):
    ortet("plant add 'Ribes nigrum' --how bought --number R1")
    said = ortet.refused("label print R1", "--out", str(tmp_path / "a.pdf"), "--nudge", nudge)
    assert "nudge" in said


def test_a_label_of_a_name_as_it_came_is_not_stale(ortet, tmp_path):
    """A name that was only received is printed by the label and by the screen from one text."""
    for number, name in (("G", "red 'Lane' bush"), ("H", "Rosa 'Lane Rose'")):
        ortet(f'plant add "{name}" --how bought --number {number}')
    ortet(f"label print G H --out {tmp_path / 'labels.pdf'}")
    assert ortet.ask("label stale")["labels"] == []


def test_a_person_called_only_x_stands_on_no_label(ortet, tmp_path):
    ortet("person add X")
    ortet('plant add "the bush of X" --how given --source X --number G')
    ortet(f"label print G --out {tmp_path / 'labels.svg'}")
    assert "bush of X" not in (tmp_path / "labels.svg").read_text(encoding="utf-8")
