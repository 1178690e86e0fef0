"""The head of each engine's chain, as a mail names it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db.models import Exists, OuterRef

from tracker.compliance.many_keys import among
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

Heads = Mapping[int, tuple[int, str]]
"""Number and hash of the last record, by engine; none without a record."""


def heads_of(engines: Iterable[Engine]) -> Heads:
    """Return the last record of each of these engines. One query."""
    keys = {engine.pk for engine in engines}
    if not keys:
        return {}
    later = Record.objects.filter(
        engine=OuterRef("engine"), sequence__gt=OuterRef("sequence")
    )
    last = Record.objects.filter(~Exists(later), engine__in=among(keys))
    rows = last.values_list("engine", "sequence", "hash")
    return {engine: (number, digest) for engine, number, digest in rows}
