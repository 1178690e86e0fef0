"""The smallest valid owner, engine type and engine; engines go through the register."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import factory
from factory.django import DjangoModelFactory

from notices.rules.designations import designation
from tests.factories.accounts import StationFactory, UserFactory
from tracker.fleet.models import Engine, EngineType, Owner, OwnerKind, PartRole, State
from tracker.fleet.register import FittingFacts, IdentityFacts, NewEngine, add_engine

ENTERED = datetime(2025, 1, 10, 8, 0, tzinfo=UTC)
IN_CARE_FROM = date(2025, 1, 1)


class OwnerFactory(DjangoModelFactory[Owner]):
    class Meta:
        model = Owner

    station = factory.SubFactory(StationFactory)
    name = factory.Sequence(lambda n: f"Owner {n}")
    kind = OwnerKind.PRIVATE


class EngineTypeFactory(DjangoModelFactory[EngineType]):
    class Meta:
        model = EngineType

    station = factory.SubFactory(StationFactory)
    maker = "Halvorsen Engines"
    designation = factory.Sequence(lambda n: f"MX-{n}")
    designation_key = factory.LazyAttribute(lambda t: designation(t.designation))


class PartRoleFactory(DjangoModelFactory[PartRole]):
    class Meta:
        model = PartRole

    engine_type = factory.SubFactory(EngineTypeFactory)
    role = "fuel pump"


class EngineFactory(DjangoModelFactory[Engine]):
    """Made by `register.add_engine`. `built`, `shipped`, `owner` and so on as there.

    `true_from`, `at` and `by` may be given; `fitting` is a `FittingFacts`.
    """

    class Meta:
        model = Engine

    station = factory.SubFactory(StationFactory)
    engine_type = factory.SubFactory(
        EngineTypeFactory, station=factory.SelfAttribute("..station")
    )
    serial = factory.Sequence(lambda n: str(4001 + n))
    owner: Any = None
    fitting: FittingFacts | None = None
    operation: Any = None
    state = State.IN_SERVICE

    @classmethod
    def _create(cls, model_class: type[Engine], *args: Any, **given: Any) -> Engine:
        station = given.pop("station")
        entry = NewEngine(
            owner=given.pop("owner"),
            fitting=given.pop("fitting"),
            operation=given.pop("operation"),
            state=given.pop("state"),
            identity=IdentityFacts(
                **{k: v for k, v in given.items() if k not in {"at", "by", "true_from"}}
            ),
        )
        return add_engine(
            station,
            entry,
            true_from=given.get("true_from", IN_CARE_FROM),
            at=given.get("at", ENTERED),
            by=given.get("by") or UserFactory(),
        )
