"""Which characters the fonts of a print can draw, read from the fonts themselves.

Source: OpenType specification 1.9, table `cmap`, formats 4 and 12.
"""

from __future__ import annotations

import struct
from functools import cache
from pathlib import Path
from typing import Final

FONTS: Final = Path(__file__).parent / "fonts"
FALLBACK: Final = "DejaVuSans.ttf"
_FULL, _BASIC = (3, 10), (3, 1)
"""Platform and encoding of a table of all of Unicode, and of its first 65,536 places."""


@cache
def drawable() -> frozenset[int]:
    """Return what every face can draw itself, or the font that stands in for it."""
    faces = [characters_of(path.read_bytes()) for path in sorted(FONTS.glob("S*.ttf"))]
    fallback = characters_of((FONTS / FALLBACK).read_bytes())
    return frozenset.intersection(*faces) | fallback


def characters_of(font: bytes) -> frozenset[int]:
    """Return the characters for which a font has a glyph. ValueError if it has no table."""
    tables = struct.unpack_from(">H", font, 4)[0]
    for place in range(tables):
        tag, _, offset, _ = struct.unpack_from(">4sIII", font, 12 + 16 * place)
        if tag == b"cmap":
            return _mapped(font, offset)
    raise ValueError("The font has no table of characters.")


def _mapped(font: bytes, start: int) -> frozenset[int]:
    count = struct.unpack_from(">H", font, start + 2)[0]
    found = {}
    for place in range(count):
        platform, encoding, offset = struct.unpack_from(
            ">HHI", font, start + 4 + 8 * place
        )
        found[platform, encoding] = start + offset
    at = found.get(_FULL, found.get(_BASIC))
    if at is None:
        raise ValueError("The font has no table of Unicode characters.")
    kind = struct.unpack_from(">H", font, at)[0]
    return _groups(font, at) if kind == 12 else _segments(font, at)


def _groups(font: bytes, at: int) -> frozenset[int]:
    """Format 12: runs of characters with the glyph of the first."""
    count = struct.unpack_from(">I", font, at + 12)[0]
    found: set[int] = set()
    for place in range(count):
        first, last, glyph = struct.unpack_from(">III", font, at + 16 + 12 * place)
        found.update(range(first if glyph else first + 1, last + 1))
    return frozenset(found)


def _segments(font: bytes, at: int) -> frozenset[int]:
    """Format 4: four rows of 16 bits, with the glyphs behind the last of them."""
    count = struct.unpack_from(">H", font, at + 6)[0] // 2
    row = 2 * count
    ends = at + 14
    starts, deltas, offsets = ends + row + 2, ends + 2 * row + 2, ends + 3 * row + 2

    def read(where: int) -> int:
        value: int = struct.unpack_from(">H", font, where)[0]
        return value

    found: set[int] = set()
    for step in range(0, row, 2):
        first, last = read(starts + step), read(ends + step)
        delta, offset = read(deltas + step), read(offsets + step)
        for character in range(first, last + 1):
            glyph = character
            if offset:
                glyph = read(offsets + step + offset + 2 * (character - first))
            if glyph and (glyph + delta) % 65536:
                found.add(character)
    return frozenset(found - {0xFFFF})
