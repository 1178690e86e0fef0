"""How the text of a mail is laid out: lines of a width that every program shows."""

from __future__ import annotations

import textwrap
from typing import Final

from django import template

register = template.Library()
WIDTH: Final = 72


@register.filter
def wrapped(text: str, indent: int = 0) -> str:
    """Break a paragraph between words; what has no blank, as an address, stays whole."""
    blank = " " * indent
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=blank,
        subsequent_indent=blank,
        break_long_words=False,
        break_on_hyphens=False,
    )


@register.filter
def item(text: str, indent: int = 0) -> str:
    """Break a paragraph as one of a list: a dash before it, its lines set in."""
    blank = " " * indent
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=f"{blank}- ",
        subsequent_indent=f"{blank}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


@register.filter
def underlined(text: str, sign: str = "-") -> str:
    """A heading of the text, on a line of its own width, wrapped where it is long."""
    lines = textwrap.wrap(text, WIDTH, break_long_words=False) or [""]
    width = min(WIDTH, max(map(len, lines)))
    return "\n".join([*lines, sign * width])
