"""How wide a text is drawn, before anybody draws it.

Widths are sums over classes of characters, in em of the size: taken a little wide,
because the reader's font is not known.
"""

from typing import Final

SIZE: Final = 12
BOLD: Final = 1.07
ELLIPSIS: Final = "\u2026"


def width_of(text: str, *, bold: bool = False, size: int = SIZE) -> float:
    """The width of `text` in px."""
    ems = sum(_em(character) for character in text)
    return ems * size * (BOLD if bold else 1.0)


def fitted(text: str, most: float, *, bold: bool = False) -> str:
    """`text`, shortened after a whole word if it is wider than `most` px.

    A first word that is too wide by itself is cut inside.
    """
    if width_of(text, bold=bold) <= most:
        return text
    words = text.split(" ")
    for count in range(len(words) - 1, 0, -1):
        kept = " ".join(words[:count]).rstrip(",;:–") + ELLIPSIS
        if width_of(kept, bold=bold) <= most:
            return kept
    cut = words[0]
    while cut and width_of(cut + ELLIPSIS, bold=bold) > most:
        cut = cut[:-1]
    return cut + ELLIPSIS


def wrapped(text: str, most: float, lines: int) -> list[str]:
    """`text` on at most so many lines of `most` px; the last is shortened."""
    written: list[str] = []
    words = text.split(" ")
    while words and len(written) < lines - 1:
        count = len(words)
        while count > 1 and width_of(" ".join(words[:count])) > most:
            count -= 1
        written.append(fitted(" ".join(words[:count]), most))
        words = words[count:]
    return [*written, fitted(" ".join(words), most)] if words else written


def _em(character: str) -> float:
    if character in " .,:;'|!\u00a0\u202f":
        return 0.28
    if character.isdigit():
        return 0.56
    if ord(character) > 0x2E7F:
        return 1.05
    if character in "MWmw%@\u2026":
        return 0.9
    return 0.70 if character.isupper() else 0.54
