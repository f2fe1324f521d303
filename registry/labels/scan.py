"""Pictures of labels to the payloads in them. Needs the optional part `photos`."""

from __future__ import annotations

import warnings
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from registry.errors import NoSymbolInPicture, NotAPicture, PhotosNotInstalled

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PIXELS = 200_000_000  # more than any telephone takes


def read_picture(path: Path) -> tuple[str, ...]:
    """The payloads of every QR symbol in a picture, from top to bottom, then left to right.

    Raises:
        PhotosNotInstalled: the optional libraries are missing.
        NotAPicture: the file is missing, broken, enormous or no picture.
        NoSymbolInPicture: it is a picture without a symbol that can be read.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise NotAPicture(path=str(path)) from error
    return read_bytes(content, str(path))


def read_bytes(content: bytes, name: str) -> tuple[str, ...]:
    """As `read_picture`, for a picture that is already in memory; `name` is for the message."""
    try:
        import zxingcpp
    except ImportError as error:
        raise PhotosNotInstalled from error
    image = _opened(content, name)
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.barcode_formats_from_str("QRCode"))
    placed = sorted((_corner(symbol.position), symbol.text) for symbol in found if symbol.valid)
    texts = tuple(dict.fromkeys(text for _, text in placed if text))
    if not texts:
        raise NoSymbolInPicture(path=name)
    return texts


def _opened(content: bytes, name: str) -> Image:
    """The picture in shades of grey, the way up in which it was taken."""
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError as error:
        raise PhotosNotInstalled from error
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(BytesIO(content)) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise NotAPicture(path=name)
                upright = ImageOps.exif_transpose(picture)
                if "A" in upright.getbands():  # dark on nothing is dark on white
                    white = Image.new("RGBA", upright.size, "white")
                    upright = Image.alpha_composite(white, upright.convert("RGBA"))
                return upright.convert("L")
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        OSError,
        SyntaxError,  # Pillow's word for a broken PNG
        ValueError,
    ) as error:
        raise NotAPicture(path=name) from error


def _corner(position: object) -> tuple[int, int]:
    corner = position.top_left  # type: ignore[attr-defined]  # the library ships no types
    return corner.y, corner.x
