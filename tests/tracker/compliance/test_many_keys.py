"""A query takes any number of keys, and finds the same rows as with few."""

from __future__ import annotations

import pytest
from django.db.models import Case, IntegerField, Value, When

from tests.factories.fleet import EngineFactory
from tracker.compliance.many_keys import among
from tracker.fleet.models import Engine

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def test_more_keys_than_a_statement_takes_values() -> None:
    first, second = EngineFactory(), EngineFactory()
    far = range(10**9, 10**9 + 40_000)
    found = Engine.objects.filter(pk__in=among([first.pk, *far]))
    assert list(found) == [first]
    assert list(Engine.objects.exclude(pk__in=among([first.pk, *far]))) == [second]


def test_they_choose_between_cases() -> None:
    first, second = EngineFactory(), EngineFactory()
    case = Case(
        When(pk__in=among([first.pk]), then=Value(1)),
        When(pk__in=among([second.pk, *range(10**9, 10**9 + 40_000)]), then=Value(2)),
        default=Value(0),
        output_field=IntegerField(),
    )
    told = Engine.objects.annotate(told=case).values_list("pk", "told")
    assert dict(told) == {first.pk: 1, second.pk: 2}


def test_none_are_none() -> None:
    EngineFactory()
    assert not Engine.objects.filter(pk__in=among([])).exists()
