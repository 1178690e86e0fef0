"""Text as it comes out of a document, made fit for storing and comparing."""

from __future__ import annotations

import re
import unicodedata

_DASHES = re.compile("[\u2010-\u2015\u2212\ufe58\ufe63\uff0d]")
_SOFT_BREAK = re.compile("\u00ad\\s*\n\\s*")
_BLANKS = re.compile(r"[^\S\n]+")
_AROUND_BREAK = re.compile(r" ?\n ?")
# Control, format (soft hyphens, direction marks), surrogate and private characters:
# no database of ours keeps all of them, and no reader sees them.
_DROPPED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def visible(text: str) -> str:
    """Return the text without signs that nobody sees or that steer it; blanks stay."""
    return "".join(
        sign for sign in text if sign.isspace() or unicodedata.category(sign)[0] != "C"
    )


def normal_text(text: str) -> str:
    """Return `text` with plain hyphens and single blanks; its lines are kept.

    A word cut by a soft hyphen at the end of a line is joined. Characters that cannot
    be seen are dropped.
    """
    joined = _SOFT_BREAK.sub("", unicodedata.normalize("NFC", text))
    spaced = _BLANKS.sub(" ", _DASHES.sub("-", joined.replace("\r\n", "\n")))
    seen = "".join(
        character
        for character in spaced
        if character == "\n" or unicodedata.category(character) not in _DROPPED
    )
    return _AROUND_BREAK.sub("\n", seen).strip()
