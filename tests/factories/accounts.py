"""The smallest valid station, person and membership."""

from datetime import UTC, datetime

import factory
from factory.django import DjangoModelFactory

from tracker.accounts.models import Membership, Role, Station, User

PASSWORD = "a long enough pass phrase"


class StationFactory(DjangoModelFactory[Station]):
    class Meta:
        model = Station

    name = factory.Sequence(lambda n: f"Station {n}")


class UserFactory(DjangoModelFactory[User]):
    class Meta:
        model = User
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"person{n}@station.example")
    name = factory.Sequence(lambda n: f"Person {n}")
    password = factory.django.Password(PASSWORD)


class MembershipFactory(DjangoModelFactory[Membership]):
    class Meta:
        model = Membership

    station = factory.SubFactory(StationFactory)
    user = factory.SubFactory(UserFactory)
    role = Role.TECHNICIAN
    joined_at = datetime(2025, 1, 1, tzinfo=UTC)  # before any day that a test plays on
