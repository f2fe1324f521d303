"""The pictures of docs/pictures/ can be drawn anew from the demo's seasons."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from tests.pictures import CHARTS, PICTURES, draw

TITLE = "{http://www.w3.org/2000/svg}title"


def test_every_picture_of_the_docs_is_drawn_by_the_command(tmp_path):
    drawn = draw(tmp_path)
    assert {path.name for path in drawn} == {name for name, _ in CHARTS}
    for path in drawn:
        titles = [ET.parse(folder / path.name).findtext(TITLE) for folder in (tmp_path, PICTURES)]  # noqa: S314 - ours
        assert titles[0]
        assert titles[0] == titles[1]
