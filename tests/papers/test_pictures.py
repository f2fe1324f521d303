"""The pictures of docs/pictures/ are those that the command draws from the demo's seasons."""

from __future__ import annotations

from tests.pictures import CHARTS, PICTURES, draw


def test_every_picture_of_the_docs_is_as_the_command_draws_it(tmp_path):
    """Where this fails, `python -m tests.pictures` draws them anew: then look at them."""
    drawn = draw(tmp_path)
    assert [path.name for path in drawn] == [name for name, *_ in CHARTS]
    for path in drawn:
        assert path.read_bytes() == (PICTURES / path.name).read_bytes(), path.name
