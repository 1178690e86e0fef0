"""Reads entries of the library and collects what is wrong with them."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError

Json = Any
T = TypeVar("T")


class Check:
    """Reads entries and collects what is wrong with them, each fault with its path."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def add(self, path: str, message: str) -> None:
        self.faults.append(Fault(path, message))

    def done(self) -> None:
        """Raise RuleError with everything found, if anything was."""
        if self.faults:
            raise RuleError(self.faults)

    def text(
        self,
        path: str,
        raw: str,
        *,
        longest: int,
        needed: str = "",
        lines: bool = False,
    ) -> str:
        """Return the text without needless blanks. `needed`: what to say if empty."""
        text = raw.strip() if lines else " ".join(raw.split())
        if not text and needed:
            self.add(path, needed)
        if len(text) > longest:
            self.add(path, f"At most {longest} characters, found {len(text)}.")
        if _has_unseen(text):
            self.add(path, "Contains a control character. Type the text again.")
        return text

    def number(self, path: str, raw: str) -> str:
        """Return the number of a document, trimmed."""
        number = self.text(path, raw, longest=60)
        if not designation(number):
            self.add(path, "Write the number of the document, as in SB-24-011.")
        return number

    def choice(self, path: str, raw: str, words: Sequence[str]) -> str:
        if raw not in words:
            known = ", ".join(f'"{word}"' for word in words)
            self.add(path, f'"{raw}" is not known here. Write one of {known}.')
        return raw

    def rule(self, path: str, raw: Json, parse: Callable[..., T]) -> T | None:
        """Return what `parse` makes of a stored form, None with its faults noted."""
        try:
            unseen = any(_has_unseen(text) for text in _texts_in(raw))
            parsed = parse(raw, path=path)
        except RuleError as refused:
            self.faults += refused.faults
        except RecursionError:
            self.add(path, "Nested too deeply. Split the rule into several provisions.")
        else:
            if not unseen:
                return parsed
            self.add(path, "Contains a control character. Type the rule again.")
        return None


def _has_unseen(text: str) -> bool:
    return any(
        unicodedata.category(character) in {"Cc", "Cs"} and character not in "\n\r\t"
        for character in text
    )


def _texts_in(raw: Json) -> Iterator[str]:
    if isinstance(raw, str):
        yield raw
    elif isinstance(raw, Mapping):
        for key, value in raw.items():
            yield from _texts_in(key)
            yield from _texts_in(value)
    elif isinstance(raw, list | tuple):
        for value in raw:
            yield from _texts_in(value)
