"""How states, hours, dates and distances are shown on pages.

Hours are whole hundredths. What is not known is said in words, never left blank.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any, Final

from django import template
from django.utils.safestring import SafeString

from notices.rules.applicability.wording import percent_words
from notices.rules.facts import Unknown
from notices.rules.fuel import exact_share
from tracker.figures import caption, states, svg, wording
from tracker.figures import sprite as shapes
from tracker.print.sheet import CAUTION

register = template.Library()

NOT_KNOWN = "not known"
DASH = "–"


@register.filter
def state(word: object, text: str | None = None) -> SafeString:
    """Shape and word of a state; `text` stands in for the word ("2 coming due")."""
    return caption.state(word, text)


@register.filter
def mark(word: object) -> SafeString:
    """The shape alone, before words in a sentence that say the state themselves."""
    slug = states.slug_of(word)
    use = svg.el("use", href=f"#s-{slug}")
    return svg.el("svg", use, class_=f"mk mk-{slug}", aria_hidden="true")


@register.filter(is_safe=True)
def without_ledger(text: str) -> str:
    """Reasons for somebody whose engine has no ledger here: a record is of work."""
    words = r"the ledger holds (a|no) record for"
    return re.sub(words, _of_work, text, flags=re.IGNORECASE)


_SEEN: Final = re.compile(
    r"(<(svg|select|textarea|title)\b.*?</\2>|<[^>]*>)|\b[A-Z]+(?:-[A-Z0-9]+)*-\d[\w-]*",
    re.DOTALL,
)


@register.filter(is_safe=True)
def unbroken(markup: str) -> str:
    """Keep the number of a document in one line: browsers break it at its hyphens.

    Its letters stay what they are, so that it can be copied and searched for.
    """
    return _SEEN.sub(lambda f: f[1] or f'<bdi class="nb">{f[0]}</bdi>', markup)


def _of_work(found: re.Match[str]) -> str:
    there = "There" if found[0][0].isupper() else "there"
    return f"{there} is {found[1]} record of work by"


@register.simple_tag
def sprite() -> SafeString:
    """The shapes of all states, once at the top of a page."""
    return shapes.sprite()


@register.simple_tag
def caution() -> tuple[str, ...]:
    """What stands below every status, on page and on paper."""
    return CAUTION


@register.filter
def signed(number: str) -> str:
    """A number as it was entered, with a true minus."""
    return number.replace("-", wording.MINUS)


@register.filter
def state_slug(word: object) -> str:
    """The state as part of a class name."""
    return states.slug_of(word)


@register.filter
def hours(hundredths: object) -> str:
    """2711.6 h exactly: one decimal, two where they are needed."""
    return _hours(hundredths, wording.hours)


@register.filter
def due_hours(hundredths: object) -> str:
    """Hours at which something is due: to a tenth, rounded down."""
    return _hours(hundredths, wording.due_hours)


@register.filter
def used_hours(hundredths: object) -> str:
    """Hours that have been run: to a tenth, rounded up."""
    return _hours(hundredths, wording.used_hours)


@register.filter
def hours_away(hundredths: object) -> str:
    """Remaining hours in words: "in 18.9 h", "13.2 h past"."""
    return _hours(hundredths, wording.distance)


@register.filter
def days_away(count: int | None) -> str:
    """Remaining days in words: "in 47 days", "8 days past"."""
    return NOT_KNOWN if count is None else wording.days_away(count)


@register.filter
def day(on: object) -> str:
    """A date for tables: 24 Nov 2026."""
    return _date(on, wording.day)


@register.filter
def long_day(on: object) -> str:
    """A date for sentences: 24 November 2026."""
    return _date(on, wording.long_day)


@register.filter
def share(entered: str) -> str:
    """A share in per cent, however it was entered."""
    return percent_words(exact_share(entered))


@register.simple_tag
def remaining(hundredths: int | None = None, days: int | None = None) -> SafeString:
    """What is left, for a cell flush right; an en dash where there is no point.

    What lies past its limit is negative and carries the class `past`.
    """
    left = []
    if hundredths is not None:
        written = wording.hours(wording.rounded_down(hundredths))
        left.append(_signed(written, past=hundredths < 0))
    if days is not None:
        left.append(_signed(wording.days(days), past=days < 0))
    return SafeString(", ".join(left) or DASH)


@register.simple_tag(takes_context=True)
def current(context: dict[str, Any], subject: str) -> SafeString:
    """Mark a link of the header on the page itself and on the pages below it.

    `subject` is how the names of these pages' URLs begin: "engine", "publication".
    """
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    name = (match.url_name or "") if match else ""
    if name in (subject, f"{subject}-list"):
        return SafeString(' aria-current="page"')
    return SafeString(' aria-current="true"' if name.startswith(subject) else "")


def _signed(text: str, *, past: bool) -> SafeString:
    return svg.el("span", text, class_="past" if past else "left")


def _hours(hundredths: object, written: Callable[[int], str]) -> str:
    if hundredths is None or isinstance(hundredths, Unknown):
        return NOT_KNOWN
    if not isinstance(hundredths, int):
        raise TypeError(
            f"{hundredths!r} is not a number of whole hundredths of an hour."
        )
    return written(hundredths)


def _date(on: object, written: Callable[[date], str]) -> str:
    if on is None or isinstance(on, Unknown):
        return NOT_KNOWN
    if not isinstance(on, date):
        raise TypeError(f"{on!r} is not a date.")
    return written(on)
