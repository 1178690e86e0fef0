"""Add and change a publication; link what named it before it was in the library."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models

from notices.library.check import Check
from notices.models import Kind, Publication, Reference
from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError


def add_publication(
    *,
    station: models.Model,
    kind: str,
    number: str,
    issuer: str,
    title: str,
    at: datetime,
) -> Publication:
    """Return the new publication. References that name its number now point to it."""
    entered = _checked(kind=kind, number=number, issuer=issuer, title=title)
    publication, is_new = Publication.objects.get_or_create(
        station_id=station.pk,
        number_key=entered.pop("number_key"),
        defaults={**entered, "created_at": at},
    )
    if not is_new:
        raise _number_taken(publication)
    _link_references(publication)
    return publication


def change_publication(
    publication: Publication, *, kind: str, number: str, issuer: str, title: str
) -> Publication:
    """Return the publication as changed. A new number is linked as if it were added."""
    entered = _checked(kind=kind, number=number, issuer=issuer, title=title)
    others = Publication.objects.filter(station_id=publication.station_id)
    taken = others.exclude(pk=publication.pk).filter(number_key=entered["number_key"])
    if other := taken.first():
        raise _number_taken(other)
    for name, value in entered.items():
        setattr(publication, name, value)
    publication.save(update_fields=list(entered))
    publication.named_by.exclude(number_key=publication.number_key).update(
        publication=None
    )
    _link_references(publication)
    return publication


def _checked(*, kind: str, number: str, issuer: str, title: str) -> dict[str, Any]:
    check = Check()
    entered = {
        "kind": check.choice("kind", kind, Kind.values),
        "number": check.number("number", number),
        "issuer": check.text(
            "issuer", issuer, longest=120, needed="Write who issues the document."
        ),
        "title": check.text(
            "title", title, longest=200, needed="Write the title of the document."
        ),
    }
    check.done()
    return {**entered, "number_key": designation(entered["number"])}


def _number_taken(other: Publication) -> RuleError:
    message = (
        f'"{other.number}" is in the library already: {other.title}. '
        "Add a revision to it, or write another number."
    )
    return RuleError([Fault("number", message)])


def _link_references(publication: Publication) -> None:
    Reference.objects.filter(
        revision__station_id=publication.station_id,
        number_key=publication.number_key,
        publication=None,
    ).update(publication=publication)
