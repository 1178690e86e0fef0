"""The properties that rules in force ask of an engine and of the parts fitted to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Q
from django.urls import reverse

from notices.rules.designations import plain_text
from tracker.compliance.named_values import Named
from tracker.fleet.fitted_parts import FittedPart
from tracker.fleet.models import Attribute, Engine, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedProperty:
    """`about`: the part in words, "" for the engine; `now`: what is noted, if it is.

    `address`: of the form in which it is entered, with part and name filled in.
    """

    name: str
    about: str
    now: str
    values: tuple[str, ...]
    documents: tuple[str, ...]
    address: str


def asked_properties(
    engine: Engine, fitted: Sequence[FittedPart], named: Named
) -> list[AskedProperty]:
    """Return each with what is noted of it, the engine's own first. One query."""
    subjects: list[tuple[Part | None, str, str]] = [(None, "", "")]
    subjects += [(one.part, one.description.role, str(one)) for one in fitted]
    noted = _noted(engine, fitted)
    return [
        AskedProperty(
            name=asked.name,
            about=about,
            now=noted.get((part.pk if part else None, plain_text(asked.name)), ""),
            values=asked.values,
            documents=asked.documents,
            address=property_address(engine, asked.name, part),
        )
        for part, role, about in subjects
        for asked in named.of(role)
    ]


def property_address(engine: Engine, name: str, part: Part | None = None) -> str:
    """Return where a property is entered, with its name and its part filled in."""
    address = reverse("web:engine-attribute-add", args=[engine.public_id])
    about = {} if part is None else {"part": str(part.public_id)}
    return f"{address}?{urlencode({**about, 'name': name})}"


def _noted(
    engine: Engine, fitted: Sequence[FittedPart]
) -> dict[tuple[int | None, str], str]:
    mine = Q(engine=engine) | Q(part__in=[one.part for one in fitted])
    rows = Attribute.objects.filter(mine, current=True)
    return {(row.part_id, row.name_key): row.value for row in rows}
