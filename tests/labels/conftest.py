"""Labels to draw: names from the published vectors in proper form, invented codes."""

import pytest

from registry.domain.names.printing import Run, Style
from registry.domain.payload import address_payload, plain_payload
from registry.labels.text import LabelKind, LabelText, LotRow

NAMES = (
    (Run("Hydrangea paniculata", Style.ITALIC), Run(" ‘Limelight’", Style.UPRIGHT)),
    (
        Run("Camellia", Style.ITALIC),
        Run(" ×", Style.UPRIGHT),
        Run("williamsii", Style.ITALIC),
        Run(" ‘Donation’", Style.UPRIGHT),
    ),
    (
        Run("Rosa", Style.ITALIC),
        Run(" ‘Oxbril’ ", Style.UPRIGHT),
        Run("OXBOW LIGHT", Style.SMALL_CAPS),
    ),
    (Run("Dvořák, őszi, Țara", Style.UPRIGHT),),
)


def plain_name(runs):
    return "".join(run.text for run in runs)


@pytest.fixture
def make_label():
    """A label by its number; `payload` is `address`, `plain`, a text or None."""

    def make(number=1, kind=LabelKind.PLANT, payload="address", **changes):
        code = f"26-0014-{number:03}-{number % 10}"
        runs = changes.pop("runs", NAMES[number % len(NAMES)])
        dates = ("stuck 14 May 2026",)
        if payload == "address":
            payload = address_payload("https://pots.example.org", code)
        elif payload == "plain":
            payload = plain_payload(code, plain_name(runs), "19-0003-4", dates, "26-0014-X")
        fields = {
            "kind": kind,
            "code": code,
            "runs": runs,
            "source_code": "19-0003-4",
            "lines": (*dates, "with the owner’s leave"),
            "payload": payload,
        }
        return LabelText(**(fields | changes))

    return make


@pytest.fixture
def make_card(make_label):
    """A batch card of so many lots."""

    def make(lots=1, **changes):
        rows = tuple(
            LotRow(
                letter="" if lots == 1 else "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[index],
                runs=() if lots == 1 else NAMES[index % len(NAMES)],
                source=f"19-{index:04}-4",
                count="about 14",
                details=("semi-ripe", "heel", "gel 3 g/l"),
            )
            for index in range(lots)
        )
        fields = {
            "code": "26-0014-X",
            "source_code": None,
            "lines": ("stuck 14 May 2026", "look again 11 June 2026"),
            "lots": rows,
        }
        if lots > 1:
            fields["runs"] = ()
        return make_label(kind=LabelKind.BATCH, **(fields | changes))

    return make
