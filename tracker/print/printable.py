"""Text of a user as a print can set it: nothing that steers, nothing without a glyph."""

from __future__ import annotations

import unicodedata
from typing import Any, Final

from tracker.print.glyphs import drawable

MARK: Final = "\ufffd"
"""Stands where the fonts have no glyph, so that a gap is seen."""
_KEPT_BLANKS: Final = "\u00a0\u202f"
_STEERING: Final = frozenset({"Cc", "Cf"})
_SELECTORS: Final = (*range(0xFE00, 0xFE10), *range(0xE0100, 0xE01F0))
"""Variation selectors: they only choose between pictures of the character before."""


def printable(text: str) -> str:
    """Return the text in form NFC, in one line, with a mark for what cannot be drawn.

    Control characters and characters that steer the direction of writing are taken out:
    they could make a line read otherwise than it was entered.
    """
    composed = unicodedata.normalize("NFC", text)
    drawn = "".join(map(_drawn, composed))
    return " ".join(word for word in drawn.split(" ") if word)


def _drawn(character: str) -> str:
    if character in _KEPT_BLANKS:
        return character
    if character.isspace():
        return " "
    if unicodedata.category(character) in _STEERING or ord(character) in _SELECTORS:
        return ""
    return character if ord(character) in drawable() else MARK


def all_printable(value: Any) -> Any:
    """Return plain data with every text in it made printable."""
    match value:
        case str():
            return printable(value)
        case list() | tuple():
            return [all_printable(member) for member in value]
        case dict():
            return {key: all_printable(member) for key, member in value.items()}
    return value
