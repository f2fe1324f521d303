import sys
from io import BytesIO

import pypdfium2
import pytest
from PIL import Image

from registry.errors import NoSymbolInPicture, NotAPicture, PhotosNotInstalled
from registry.labels.pdf import draw_sheet
from registry.labels.scan import read_picture
from registry.labels.stocks import find_stock


@pytest.fixture
def photo(tmp_path, make_label):
    """A picture of three labels."""
    out = BytesIO()
    draw_sheet([make_label(number) for number in (1, 2, 3)], find_stock("plain-a4"), out)
    with pypdfium2.PdfDocument(out.getvalue()) as document:
        picture = document[0].render(scale=200 / 72).to_pil()
    path = tmp_path / "bench.png"
    picture.crop((0, 0, picture.width, 450)).save(path)
    return path


def payload(number):
    return f"https://POTS.EXAMPLE.ORG/P/26-0014-00{number}-{number}"


def test_several_tags_in_one_picture_in_reading_order(photo):
    assert read_picture(photo) == (payload(1), payload(2), payload(3))


def test_a_picture_turned_and_grey_and_transparent_is_read(photo, tmp_path):
    for name, change in [
        ("turned.jpg", lambda image: image.rotate(27, expand=True, fillcolor="white")),
        ("grey.png", lambda image: image.convert("L")),
        ("palette.png", lambda image: image.convert("P")),
        ("clear.png", lambda image: image.convert("RGBA")),
    ]:
        with Image.open(photo) as image:
            change(image.convert("RGB")).save(tmp_path / name)
        assert set(read_picture(tmp_path / name)) == {payload(1), payload(2), payload(3)}


def test_a_picture_without_a_symbol(tmp_path):
    path = tmp_path / "cat.png"
    Image.new("L", (200, 200), 128).save(path)
    with pytest.raises(NoSymbolInPicture) as caught:
        read_picture(path)
    assert caught.value.path == str(path)


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\x89PNG\r\n\x1a\n", b"GIF89a"])
def test_a_broken_file_is_no_picture(content, tmp_path):
    path = tmp_path / "broken.png"
    path.write_bytes(content)
    with pytest.raises(NotAPicture):
        read_picture(path)


def test_a_picture_cut_short_is_no_picture(photo):
    content = photo.read_bytes()
    photo.write_bytes(content[: len(content) // 2])
    with pytest.raises(NotAPicture):
        read_picture(photo)


def test_a_missing_file_or_a_folder_is_no_picture(tmp_path):
    for path in (tmp_path / "none.png", tmp_path):
        with pytest.raises(NotAPicture):
            read_picture(path)


@pytest.mark.parametrize("library", ["zxingcpp", "PIL"])
def test_without_the_optional_part_it_says_so(library, photo, monkeypatch):
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(PhotosNotInstalled):
        read_picture(photo)
