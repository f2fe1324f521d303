"""A PDF written page by page (ISO 32000-1), so that a hundred thousand labels need no memory.

reportlab's own canvas keeps every page until the end. This writes each page when it is finished
and the fonts, cut down to what was used, last. The bytes depend on nothing but what was drawn.
"""

from __future__ import annotations

import zlib
from typing import BinaryIO

from registry.labels.fonts import Face, font_file

POINTS_PER_MM = 72 / 25.4
_CATALOG, _PAGES, _INFO, _RESOURCES = 1, 2, 3, 4


class _UsedFont:
    """The characters of one face in order of use; each is written as its place in that order."""

    def __init__(self, face: Face) -> None:
        self.face = face
        self.codes: dict[str, str] = {}

    def encode(self, text: str) -> str:
        """The text as hexadecimal character codes of two bytes, from 1."""
        codes = self.codes
        for character in text:
            if character not in codes:
                codes[character] = f"{len(codes) + 1:04X}"
        return "".join([codes[character] for character in text])

    @property
    def glyphs(self) -> dict[int, int]:
        """Place in the subset by place in the font; characters may share a shape."""
        shapes = font_file(self.face).charToGlyph
        places: dict[int, int] = {}
        for character in self.codes:
            places.setdefault(shapes[ord(character)], len(places) + 1)
        return places


class PdfFile:
    """One PDF being written to `out`; pages are all of one size, in points."""

    def __init__(self, out: BinaryIO, width: float, height: float, title: str) -> None:
        self.height = height
        self._out = out
        self._size = f"{width:.3f} {height:.3f}"
        self._title = title
        self._fonts = {face: _UsedFont(face) for face in Face}
        self._names = {face: f"F{index}" for index, face in enumerate(Face, start=1)}
        self._offsets: dict[int, int] = {}
        self._next = _RESOURCES + 1
        self._pages: list[int] = []
        self._content: list[str] = []
        self._written = 0
        self._write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    def draw(self, operators: str) -> None:
        """Add drawing operators to the page; all of it is ASCII."""
        self._content.append(operators)

    def text(self, matrix: str, face: Face, size: float, text: str) -> None:
        """Set a line of text; `matrix` is a, b, c, d, e, f of its text matrix."""
        codes = self._fonts[face].encode(text)
        self.draw(f"BT /{self._names[face]} {size:.2f} Tf {matrix} Tm <{codes}> Tj ET")

    def end_page(self) -> None:
        """Write the page out and begin an empty one."""
        content = self._stream("\n".join(self._content).encode("ascii"))
        self._pages.append(
            self._object(
                f"<< /Type /Page /Parent {_PAGES} 0 R /MediaBox [0 0 {self._size}] "
                f"/Resources {_RESOURCES} 0 R /Contents {content} 0 R >>"
            )
        )
        self._content = []

    def close(self) -> None:
        """Write fonts, page list and the index that ends the file."""
        fonts = " ".join(
            f"/{self._names[face]} {self._font(used)} 0 R"
            for face, used in self._fonts.items()
            if used.codes
        )
        kids = " ".join(f"{page} 0 R" for page in self._pages)
        self._object(f"<< /Font << {fonts} >> >>", _RESOURCES)
        self._object(f"<< /Type /Pages /Count {len(self._pages)} /Kids [{kids}] >>", _PAGES)
        self._object(
            f"<< /Type /Catalog /Pages {_PAGES} 0 R "
            "/ViewerPreferences << /PrintScaling /None >> >>",
            _CATALOG,
        )
        self._object(f"<< /Title ({self._title}) >>", _INFO)
        start = self._written
        entries = "".join(f"{self._offsets[n]:010} 00000 n \n" for n in range(1, self._next))
        self._write(
            f"xref\n0 {self._next}\n0000000000 65535 f \n{entries}"
            f"trailer\n<< /Size {self._next} /Root {_CATALOG} 0 R /Info {_INFO} 0 R >>\n"
            f"startxref\n{start}\n%%EOF\n".encode("ascii")
        )

    def _write(self, data: bytes) -> None:
        self._out.write(data)
        self._written += len(data)

    def _object(self, body: str | bytes, number: int | None = None) -> int:
        """Write an object under the next free number, or under one that was set aside."""
        if number is None:
            number = self._next
            self._next += 1
        self._offsets[number] = self._written
        data = body.encode("ascii") if isinstance(body, str) else body
        self._write(b"%d 0 obj\n%b\nendobj\n" % (number, data))
        return number

    def _stream(self, data: bytes, entries: str = "") -> int:
        packed = zlib.compress(data)
        head = f"<< /Length {len(packed)} /Filter /FlateDecode {entries}>>\nstream\n"
        return self._object(head.encode("ascii") + packed + b"\nendstream")

    def _font(self, used: _UsedFont) -> int:
        """A composite font of two-byte codes (ISO 32000-1, 9.7.4), cut down to what was used."""
        font, places = font_file(used.face), used.glyphs
        shapes = font.charToGlyph
        first_of: dict[int, int] = {}
        for character in used.codes:
            first_of.setdefault(shapes[ord(character)], ord(character))
        program = font.makeSubset(list(first_of.values()))
        name = f"AAAAAA+{used.face.value}"  # six letters mark a subset, 9.6.4
        widths = " ".join(f"{font.charWidths[ord(character)]:g}" for character in used.codes)
        to_glyph = b"\0\0" + b"".join(
            places[shapes[ord(character)]].to_bytes(2, "big") for character in used.codes
        )
        descriptor = self._object(
            f"<< /Type /FontDescriptor /FontName /{name} /Flags 4 "
            f"/FontBBox [{' '.join(f'{value:g}' for value in font.bbox)}] "
            f"/ItalicAngle {font.italicAngle:g} /Ascent {font.ascent:g} /Descent {font.descent:g} "
            f"/CapHeight {font.capHeight:g} /StemV {font.stemV:g} "
            f"/FontFile2 {self._stream(program, f'/Length1 {len(program)} ')} 0 R >>"
        )
        shown = self._object(
            f"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /{name} "
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> "
            f"/FontDescriptor {descriptor} 0 R /W [1 [{widths}]] "
            f"/CIDToGIDMap {self._stream(to_glyph)} 0 R >>"
        )
        return self._object(
            f"<< /Type /Font /Subtype /Type0 /BaseFont /{name} /Encoding /Identity-H "
            f"/DescendantFonts [{shown} 0 R] /ToUnicode {self._stream(_to_unicode(used))} 0 R >>"
        )


def _to_unicode(used: _UsedFont) -> bytes:
    """The map from character codes back to text (9.10.3), so that it can be searched and copied."""
    pairs = [
        f"<{code}> <{character.encode('utf-16-be').hex().upper()}>"
        for character, code in used.codes.items()
    ]
    blocks = [
        f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar"
        for block in (pairs[start : start + 100] for start in range(0, len(pairs), 100))
    ]
    return "\n".join(
        [
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap",
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
            "/CMapName /Adobe-Identity-UCS def /CMapType 2 def",
            "1 begincodespacerange <0000> <FFFF> endcodespacerange",
            *blocks,
            "endcmap CMapName currentdict /CMap defineresource pop end end",
        ]
    ).encode("ascii")
