"""The first page of a sheet as a PNG, to look at. Needs the optional part `photos`."""

from __future__ import annotations

from typing import BinaryIO

from registry.errors import PreviewNotInstalled

PREVIEW_DPI = 200


def draw_preview(pdf: bytes, out: BinaryIO) -> None:
    """Render the first page of `pdf`.

    Raises:
        PreviewNotInstalled: the optional libraries are missing.
    """
    try:
        import pypdfium2

        with pypdfium2.PdfDocument(pdf) as document:
            picture = document[0].render(scale=PREVIEW_DPI / 72).to_pil()
    except ImportError as error:
        raise PreviewNotInstalled from error
    picture.convert("L").save(out, "PNG", optimize=True)
