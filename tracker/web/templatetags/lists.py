"""What a template cannot look up by itself: a value under a key that varies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

register = template.Library()


@register.filter
def get(values: Mapping[Any, Any], key: Any) -> Any:
    """The value under a key, None where there is none."""
    return values.get(key)


@register.filter(is_safe=True)
def stopped(text: str) -> str:
    """The text with a full stop, where it does not end a sentence by itself."""
    return text if text.endswith((".", "?")) else f"{text}."


@register.filter
def add_word(number: int | None, word: str) -> str:
    """A number before what it counts: "2 coming due"."""
    return f"{number or 0} {word}"
