"""Designations of types, parts, documents and aircraft, and how they compare.

Case, blanks and hyphens do not count. A trailing star covers every designation that
begins so: `MX-4*` covers MX-4T and never LMX-4.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import NewType

Designation = NewType("Designation", str)
"""A designation without case, blanks and hyphens, ready to compare."""

LONGEST = 200
KEPT = 20_000
"""So many texts stay normalised: a fleet repeats its numbers, roles and types."""

_DROPPED = re.compile(r"[\s\-\u2010-\u2015\u2212]+")


def designation(text: str) -> Designation:
    """Return `text` upper-cased, without blanks, hyphens and dashes."""
    return _designation(text)


@lru_cache(maxsize=KEPT)
def _designation(text: str) -> Designation:
    return Designation(_DROPPED.sub("", text).upper())


def plain_text(text: str) -> str:
    """Return an attribute value, name or result as it compares: trimmed, caseless."""
    return _plain_text(text)


@lru_cache(maxsize=KEPT)
def _plain_text(text: str) -> str:
    return " ".join(text.split()).casefold()


@dataclass(frozen=True, slots=True)
class Pattern:
    """One designation as a rule names it. `text` is kept as written, with its star."""

    text: str

    @property
    def whole_series(self) -> bool:
        """Whether the pattern covers everything that begins with it."""
        return self.text.rstrip().endswith("*")

    @property
    def stem(self) -> Designation:
        """The designation without its star."""
        return designation(self.text.rstrip().removesuffix("*"))


def parse_pattern(text: str) -> Pattern:
    """Return the pattern; ValueError if it is empty, or a star is not at its end."""
    pattern = Pattern(text)
    if len(text) > LONGEST:
        raise ValueError(f"A designation has at most {LONGEST} characters.")
    if "*" in pattern.stem:
        raise ValueError(
            f'"{text}" has a star inside. A star stands only at the end: "MX-4*".'
        )
    if not pattern.stem:
        raise ValueError(f'"{text}" names no designation. Write one such as "MX-4".')
    return pattern


@dataclass(frozen=True, slots=True)
class PatternSet:
    """Several patterns made ready: any of them may cover a designation."""

    exact: frozenset[Designation]
    stems: tuple[Designation, ...]

    def covers(self, name: Designation) -> bool:
        """Return whether one of the patterns covers this complete designation."""
        return name in self.exact or name.startswith(self.stems)

    def may_cover(self, beginning: Designation) -> bool:
        """Return whether a designation that goes on after `beginning` may be covered."""
        return any(stem.startswith(beginning) for stem in (*self.exact, *self.stems))

    def surely_covers(self, beginning: Designation) -> bool:
        """Return whether every designation that begins so is covered."""
        return beginning.startswith(self.stems)


def pattern_set(patterns: Iterable[Pattern]) -> PatternSet:
    """Return the patterns ready for comparing."""
    listed = tuple(patterns)
    return PatternSet(
        exact=frozenset(p.stem for p in listed if not p.whole_series),
        stems=tuple(sorted({p.stem for p in listed if p.whole_series})),
    )
