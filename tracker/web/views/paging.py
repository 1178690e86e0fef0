"""Pages of lists that are already cut by the database, as `_pages.html` shows them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest

SIZE: Final = 50


def page_asked(request: HttpRequest, name: str = "page") -> int:
    """The number of the page that an address asks for; 1 where it makes no sense."""
    asked = request.GET.get(name, "")
    return int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 8 else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Whole:
    """The list as a whole, by the names of Django's own paginator."""

    count: int
    num_pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPage:
    """Page `number` of `pages`; answers what a page of Django's paginator answers."""

    number: int
    pages: int
    total: int
    size: int = SIZE

    @property
    def paginator(self) -> _Whole:
        return _Whole(count=self.total, num_pages=self.pages)

    @property
    def has_other_pages(self) -> bool:
        return self.pages > 1

    @property
    def has_previous(self) -> bool:
        return self.number > 1

    @property
    def has_next(self) -> bool:
        return self.number < self.pages

    @property
    def previous_page_number(self) -> int:
        return self.number - 1

    @property
    def next_page_number(self) -> int:
        return self.number + 1

    @property
    def start_index(self) -> int:
        return (self.number - 1) * self.size + 1

    @property
    def end_index(self) -> int:
        return min(self.number * self.size, self.total)
