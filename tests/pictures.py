"""Draws the charts of docs/pictures/ from the demo's two seasons: `python -m tests.pictures`.

The clock stands still, so the pictures change only when the charts or the seasons do.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from uuid import UUID

from tests.typed import Ortet

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
MOMENT = datetime(2025, 12, 1, 10, tzinfo=UTC)
CHARTS = (
    ("pedigree.svg", "trace APPLE-P-1 --up"),
    ("descent.svg", "trace NAN-1 --down --may sell"),
    ("clones.svg", "trace --clones"),
)
"""What is drawn into which file, and by which command."""


def draw(folder: Path) -> list[Path]:
    """Replay the demo's seasons and draw every chart into `folder`."""
    given = count(1)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        ortet = Ortet(
            Path(scratch) / "registry.sqlite", MOMENT, lambda moment: UUID(int=next(given))
        )
        ortet('init --grower "June Alder" --country US --region US-OR --began 2024-03-01')
        for season in ("2024-season.txt", "2025-season.txt"):
            ortet(f"bench {ROOT / 'demo' / season}")
        for name, line in CHARTS:
            ortet(f"{line} --chart {folder / name}")
    return [folder / name for name, _ in CHARTS]


if __name__ == "__main__":
    for path in draw(PICTURES):
        sys.stdout.write(f"{path}\n")
