"""The fonts of a print: as they were published, and what they can draw."""

from __future__ import annotations

import hashlib
import unicodedata

import pytest
from reportlab.pdfbase.ttfonts import TTFontFile

from tracker.print.glyphs import FALLBACK, FONTS, characters_of, drawable
from tracker.print.printable import MARK, printable

# From the packages source-sans 3.52.0, source-serif 4.5.1 and dejavu-fonts-ttf 2.37.3.
PUBLISHED = {
    "DejaVuSans.ttf": "7da195a74c55bef988d0d48f9508bd5d849425c1770dba5d7bfc6ce9ed848954",
    "SourceSans3-It.ttf": "192afd78f0f54a3c69eaf02d43f4d9a821e9d6110e41d3d25d61a7385cd580e4",
    "SourceSans3-Regular.ttf": "4644c81b86ec9caaa76b634889968ed3c4f4f52f054855933acc7c2b21e53b0f",
    "SourceSans3-Semibold.ttf": "a3f4f8dcf343a8f24dc61951de93f3ba1558b15cd250ba24af8a40e957081b7d",
    "SourceSerif4-Regular.ttf": "e5a4ee6a3d87bb9024796be390c6771e2a0eb1883dae25effaf57ca01668e24b",
    "SourceSerif4-Semibold.ttf": "36db62940cb5728b12b1802476dc7fcf4c6c519a7bdd476ba23a4e555fc4655f",
}
LICENCES = ("LICENSE-dejavu.txt", "LICENSE-source-sans.md", "LICENSE-source-serif.md")
FACES = sorted(FONTS.glob("*.ttf"))


def test_every_font_is_as_it_was_published() -> None:
    found = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in FACES}
    assert found == PUBLISHED


def test_the_licence_of_every_font_lies_beside_it() -> None:
    for name in LICENCES:
        assert "Copyright" in (FONTS / name).read_text(encoding="utf-8")
    assert sum(path.stat().st_size for path in FONTS.iterdir()) < 4_000_000


@pytest.mark.parametrize("face", FACES, ids=lambda path: path.stem)
def test_another_reader_of_fonts_finds_the_same_characters(face) -> None:
    """reportlab 5.1 reads the same table on its own."""
    theirs = {
        code for code, glyph in TTFontFile(str(face)).charToGlyph.items() if glyph
    }
    assert characters_of(face.read_bytes()) == theirs


def test_a_font_without_a_list_of_all_of_unicode_is_refused() -> None:
    font = (FONTS / FALLBACK).read_bytes()
    with pytest.raises(ValueError, match="no table of characters"):
        characters_of(font.replace(b"cmap", b"xxxx", 1))
    place = font.index(b"\x00\x03\x00\x0a\x00\x00")  # platform 3, encoding 10
    with pytest.raises(ValueError, match="for all of Unicode"):
        characters_of(font[:place] + b"\x00\x09" + font[place + 2 :])


def test_all_that_the_print_itself_says_can_be_drawn() -> None:
    """Dashes, narrow blanks, signs, letters with marks; Greek and Cyrillic of names."""
    for character in (
        "–—’“”·°≤≥×½\u00a0\u202f\u2212" + MARK + "ÅéñőŘßþ" + "ΑΩαω" + "ЖЯжя"
    ):
        assert ord(character) in drawable(), character


# Controls and what steers the direction of writing goes; blanks of any kind are one.
# Two characters that belong together become one. What no font has becomes a mark.
@pytest.mark.parametrize(
    ("entered", "set_as"),
    [
        ("Fuel pump inspected.", "Fuel pump inspected."),
        ("a\x00b\x07c\x1b[31md", "abc[31md"),
        ("\u202egnp.exe\u202c", "gnp.exe"),
        ("soft\u00adhyphen\ufeff", "softhyphen"),
        (" first\r\nsecond\tthird\u2028 fourth ", "first second third fourth"),
        ("2\u202f711.6\u00a0h", "2\u202f711.6\u00a0h"),
        ("e\u0301n\u0303", "éñ"),
        ("漢字", MARK * 2),
        ("👩\u200d🔧", MARK * 2),
        ("🛩\ufe0f", MARK),
        ("\ue000\ufffe\ud800", MARK * 3),
        ("#eval(1)", "#eval(1)"),
        ("", ""),
    ],
)
def test_text_is_made_printable(entered: str, set_as: str) -> None:
    assert printable(entered) == set_as


def test_printable_text_is_left_as_it_is() -> None:
    """Every character that can be drawn, once and a second time."""
    for code in sorted(drawable()):
        once = printable(f"a{chr(code)}b")
        assert printable(once) == once
        assert unicodedata.is_normalized("NFC", once)
