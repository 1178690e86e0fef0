"""What a finding says of its interval provision: whether it is the interval now, and law."""

from __future__ import annotations

from typing import TYPE_CHECKING

from notices.rules.facts import UNKNOWN
from notices.rules.overhaul import Holding, Judged, Offer
from notices.rules.phrases import listed
from tracker.compliance.rules import CompiledRule

if TYPE_CHECKING:
    from tracker.compliance.intervals.evaluating import EngineInterval

_UNTIL_KNOWN = {
    "base": "Until that is known, the shortest interval that it may be counts.",
    "restriction": "Until that is known, it counts as holding.",
    "extension": "Until that is known, it counts as not holding.",
}


def provision_words(rule: CompiledRule) -> str:
    """Return a provision in words: what its document calls it, and which that is."""
    return f"“{rule.provision.title}” of {rule.publication.number}"


def note_of(found: EngineInterval, one: Judged | Offer) -> str:
    """Return the sentence; empty for a provision that does not hold."""
    if one.holding in (Holding.DOES_NOT_HOLD, Holding.WITHIN_REACH):
        return ""
    if one.holding is Holding.UNDETERMINED:
        return _UNTIL_KNOWN[_kind(one)]
    if one.id in found.sources:
        return _deciding(found, one.id)
    others = [provision_words(found.by_id[name]) for name in found.sources]
    if not others:
        return ""
    return f"It does not decide the interval now; what does is {listed(others, 'and')}."


def _kind(one: Judged | Offer) -> str:
    return one.kind if isinstance(one, Judged) else "extension"


def _deciding(found: EngineInterval, name: str) -> str:
    point = found.point
    binds = {
        law
        for source, law in (
            (point.from_hours, point.hours_bind),
            (point.from_years, point.years_bind),
        )
        if source == name
    }
    now = _what_it_decides(found, name)
    if True in binds:
        return f"{now}, and is law in this operation."
    if UNKNOWN in binds:
        return (
            f"{now}. Whether it is law is not known: that hangs on how the engine is "
            "operated."
        )
    return (
        f"{now}. In this operation it is a recommendation, and nothing falls due by it."
    )


def _what_it_decides(found: EngineInterval, name: str) -> str:
    """Of two provisions that make one interval each says what of it is its own."""
    point = found.point
    if found.sources == (name,):
        return "It is the interval now"
    return f"It decides the {'hours' if point.from_hours == name else 'years'} now"
