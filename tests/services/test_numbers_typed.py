"""Numbers typed where a row is meant: none that Python or a database chokes on."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("number", ["²", "99999999999999999999", "9" * 5000])
def test_a_number_that_no_row_can_have_is_unknown(ortet, number):
    ortet('stick "red hydrangea" --owner "Nan Ashe" --count 10 --number B --open')
    for line in (
        f"correct {number} --void slip",
        f'person show "Nan Ashe #{number}"',
        f"plant match 'tag {number}'",
        f"consent withdraw {number}",
        f"recall tick {number} B --found sound",
        f"hold lift B --number {number}",
        f"look B:1-{number} --rooted 1",
        f"plant list --most {number}",
        f"consent add --from 'Nan Ashe' --plant B --may propagate --limit '{number} cuttings'",
        f"stick plum --owner me --lot 'count=3,ppm={number}' --open",
    ):
        ortet.refused(line)
