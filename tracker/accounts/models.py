"""Stations, the people of a station, and how they sign in."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from tracker.accounts.time_zones import time_zones


class Role(models.TextChoices):
    """What somebody is at one station. An owner sees only engines of their own."""

    ADMINISTRATOR = "administrator", "station administrator"
    TECHNICIAN = "technician", "technician"
    INSPECTOR = "inspector", "inspector"
    OWNER = "owner", "owner"


def is_time_zone(name: str) -> None:
    if name not in time_zones():
        raise ValidationError(
            f'"{name}" is not a time zone. Write one as in "Europe/Lisbon".'
        )


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str, **fields: Any) -> User:
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str, **fields: Any) -> User:
        """Called by `createsuperuser`; the service knows no superuser rights."""
        return self.create_user(email, password, **fields)


class User(AbstractBaseUser):
    """A person who signs in by e-mail address.

    `initial_password`: the password was made for them and shown once; until they have
    chosen their own, no other page opens.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    initial_password = models.BooleanField(default=False)
    joined_at = models.DateTimeField(default=timezone.now)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects = UserManager()

    def __str__(self) -> str:
        return self.name


class Station(models.Model):
    """A repair station: the tenant that owns every row of its engines and notices."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(
        max_length=64, default="UTC", validators=[is_time_zone]
    )
    lead_hours = models.PositiveIntegerField(
        default=2500, help_text="Hundredths of an hour before which an item comes due."
    )
    lead_days = models.PositiveIntegerField(default=60)
    reading_age_days = models.PositiveIntegerField(
        default=45, help_text="A reading older than this is listed as old."
    )
    second_person_confirms = models.BooleanField(
        default=False,
        help_text="A revision is confirmed by another person than entered it.",
    )
    check_is_open = models.BooleanField(
        default=False,
        help_text="Anybody may check an engine against the current documents.",
    )
    check_address = models.SlugField(
        max_length=60,
        unique=True,
        null=True,
        blank=True,
        help_text="The last part of the address of the open check page.",
    )

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet["Membership"]):
    def current(self) -> MembershipQuerySet:
        return self.filter(left_at=None)

    def held_by(self, user: User) -> MembershipQuerySet:
        """What somebody is now, at each of their stations, first joined first."""
        roles = self.current().filter(user=user)
        return roles.select_related("station").order_by("joined_at", "pk")

    def of(self, station: Station) -> MembershipQuerySet:
        """The people of a station now, by name."""
        people = self.current().filter(station=station)
        return people.select_related("user").order_by("user__name", "user__pk")


class Membership(models.Model):
    """One person's role at one station, from a moment until another.

    `entered_by` is empty where the station itself was set up with this person.
    """

    station = models.ForeignKey(
        Station, on_delete=models.PROTECT, related_name="memberships"
    )
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=16, choices=Role.choices)
    joined_at = models.DateTimeField(default=timezone.now)
    left_at = models.DateTimeField(null=True, blank=True)
    entered_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    ended_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["station", "user"],
                condition=models.Q(left_at=None),
                name="accounts_membership_one_role_at_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(left_at=None)
                | models.Q(left_at__gte=models.F("joined_at")),
                name="accounts_membership_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=models.Q(role__in=Role.values),
                name="accounts_membership_role_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.role} of {self.station}"
