"""Which characters the fonts of a print can draw, read from the fonts themselves.

Source: OpenType specification 1.9, table `cmap`, format 12 (all of Unicode), which every
font beside this file has.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

FONTS: Final = Path(__file__).parent / "fonts"
FALLBACK: Final = "DejaVuSans.ttf"
ALL_OF_UNICODE: Final = (3, 10)
"""Platform and encoding under which a font lists its characters of every plane."""


@cache
def drawable() -> frozenset[int]:
    """Return what every face can draw itself, or the font that stands in for it."""
    faces = [characters_of(path.read_bytes()) for path in sorted(FONTS.glob("S*.ttf"))]
    fallback = characters_of((FONTS / FALLBACK).read_bytes())
    return frozenset.intersection(*faces) | fallback


def characters_of(font: bytes) -> frozenset[int]:
    """Return the characters for which a font has a glyph.

    Raises ValueError for a font that does not list them for all of Unicode.
    """
    for tag, start in _tables(font):
        if tag == b"cmap":
            return frozenset(_listed(font, _full_list(font, start)))
    raise ValueError("The font has no table of characters.")


def _tables(font: bytes) -> Iterator[tuple[bytes, int]]:
    (count,) = struct.unpack_from(">H", font, 4)
    for place in range(count):
        tag, _, offset, _ = struct.unpack_from(">4sIII", font, 12 + 16 * place)
        yield tag, offset


def _full_list(font: bytes, start: int) -> int:
    (count,) = struct.unpack_from(">H", font, start + 2)
    for place in range(count):
        record = struct.unpack_from(">HHI", font, start + 4 + 8 * place)
        if record[:2] == ALL_OF_UNICODE:
            return start + int(record[2])
    raise ValueError("The font does not list its characters for all of Unicode.")


def _listed(font: bytes, at: int) -> Iterator[int]:
    """Runs of characters, each with the glyph of its first; glyph 0 is none."""
    (runs,) = struct.unpack_from(">I", font, at + 12)
    for place in range(runs):
        first, last, glyph = struct.unpack_from(">III", font, at + 16 + 12 * place)
        yield from range(first if glyph else first + 1, last + 1)
