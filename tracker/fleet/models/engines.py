"""Engine types, engines, and the dated facts that say what an engine is and where.

The columns of `Engine` below the line are a projection of the current dated facts,
so that a list of engines is one query; only `tracker.fleet.history` writes them.
"""

from __future__ import annotations

import contextlib
import uuid
from typing import TYPE_CHECKING, ClassVar

from django.db import models
from django.utils import timezone

from notices.rules.designations import designation
from notices.rules.serials import fits_pattern, parse_serial
from tracker.fleet.models.dated import DatedFact
from tracker.fleet.models.owners import Owner

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


def serial_key(serial: str) -> str:
    """Return the serial as two that are the same compare; ValueError if there is none."""
    return "".join(str(run) for run in parse_serial(serial).runs)


def serial_order(serial: str) -> str:
    """Return a text by which serials sort with their numbers by value: 4001 is 044001."""
    return "".join(
        run if isinstance(run, str) else f"{len(str(run)):02}{run}"
        for run in parse_serial(serial).runs
    )


class EngineTypeQuerySet(models.QuerySet["EngineType"]):
    def visible_to(self, viewer: Viewer) -> EngineTypeQuerySet:
        return self.filter(station=viewer.station)

    def patterns(self) -> dict[str, str]:
        """The shape of their serials by designation. One query."""
        return dict(self.values_list("designation", "serial_pattern"))


class EngineType(models.Model):
    """A type designation that a station cares for.

    `serial_pattern`: the shape of its serials, `#` for a run of digits ("K-#-#");
    `serial_run`: which digit run, from 1, is the number in an open range.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="engine_types"
    )
    maker = models.CharField(max_length=120)
    designation = models.CharField(max_length=60)
    designation_key = models.CharField(max_length=60, editable=False)
    serial_pattern = models.CharField(max_length=60, blank=True)
    serial_run = models.PositiveSmallIntegerField(null=True, blank=True)

    objects = EngineTypeQuerySet.as_manager()

    class Meta:
        ordering = ["designation"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "designation_key"],
                name="fleet_enginetype_designation_once_per_station",
            )
        ]

    def __str__(self) -> str:
        return self.designation


class PartRole(models.Model):
    """How many parts of a role an engine type holds ("magneto": 2)."""

    engine_type = models.ForeignKey(
        EngineType, on_delete=models.CASCADE, related_name="part_roles"
    )
    role = models.CharField(max_length=60)
    count = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["role"]
        constraints = [
            models.UniqueConstraint(
                fields=["engine_type", "role"], name="fleet_partrole_once_per_type"
            ),
            models.CheckConstraint(
                condition=models.Q(count__gte=1), name="fleet_partrole_count_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.role} ({self.count})"


class State(models.TextChoices):
    """Where an engine stands in its life."""

    IN_SERVICE = "in service", "in service"
    STORED = "stored", "stored"
    REMOVED = "removed", "removed"


class EngineQuerySet(models.QuerySet["Engine"]):
    def visible_to(self, viewer: Viewer) -> EngineQuerySet:
        """The engines of the viewer's station; an owner's own engines only."""
        engines = self.filter(station=viewer.station)
        if viewer.is_owner:
            mine = Owner.objects.visible_to(viewer).values("pk")
            engines = engines.filter(owner__in=mine)
        return engines

    def for_list(self) -> EngineQuerySet:
        """With what every list of engines shows: type and owner."""
        return self.select_related("engine_type", "owner")

    def matching(self, text: str) -> EngineQuerySet:
        """Whose serial, registration, type or owner holds the text, however written."""
        plain = " ".join(text.split())
        if not plain:
            return self
        key = designation(plain)
        found = models.Q(owner__name__icontains=plain)
        for field in ("registration", "aircraft_type", "serial"):
            found |= models.Q(**{f"{field}__icontains": plain})
        if key:
            found |= models.Q(engine_type__designation_key__contains=key)
            found |= models.Q(registration_key__contains=key)
        with contextlib.suppress(ValueError):
            found |= models.Q(serial_key__contains=serial_key(plain))
        return self.filter(found)


class Engine(models.Model):
    """One engine in a station's care. `version` guards against lost updates.

    `chain_id` is the identity from which its ledger starts. It goes along when the engine
    is handed over to another station, which keeps the same chain under an id of its own.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    chain_id = models.UUIDField(default=uuid.uuid4, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="engines"
    )
    created_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)
    # -- projection of the current dated facts --
    engine_type = models.ForeignKey(
        EngineType, on_delete=models.PROTECT, related_name="engines"
    )
    type_complete = models.BooleanField(default=True)
    serial = models.CharField(max_length=60)
    serial_key = models.CharField(max_length=60)
    serial_order = models.CharField(max_length=200)
    built = models.DateField(null=True, blank=True)
    shipped = models.DateField(null=True, blank=True)
    owner = models.ForeignKey(
        Owner, on_delete=models.PROTECT, related_name="engines", null=True, blank=True
    )
    state = models.CharField(
        max_length=16, choices=State.choices, default=State.IN_SERVICE
    )
    aircraft_type = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=20, blank=True)
    registration_key = models.CharField(max_length=20, blank=True)
    position = models.CharField(max_length=20, blank=True)
    # the newest reading on the engine's own axis of hours, and where its zero lies:
    # what the axis showed when the engine was new or last rebuilt by its maker
    hours_now = models.BigIntegerField(null=True, blank=True)
    read_on = models.DateField(null=True, blank=True)
    hours_at_new = models.BigIntegerField(null=True, blank=True, default=0)

    objects = EngineQuerySet.as_manager()

    class Meta:
        ordering = ["engine_type__designation", "serial_order"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "engine_type", "serial_key"],
                name="fleet_engine_serial_once_per_type",
                violation_error_message=(
                    "This station already keeps an engine of that type and serial."
                ),
            ),
            models.UniqueConstraint(
                fields=["station", "chain_id"],
                name="fleet_engine_chain_once_per_station",
                violation_error_message="This station already keeps that engine.",
            ),
            models.CheckConstraint(
                condition=models.Q(hours_now__gte=0),
                name="fleet_engine_hours_not_negative",
            ),
        ]
        indexes = [models.Index(fields=["station", "state"])]

    def __str__(self) -> str:
        return f"{self.engine_type.designation}, serial {self.serial}"

    @property
    def serial_note(self) -> str:
        """Why ranges of serials leave this engine undetermined; empty if they do not.

        A serial is kept as it is stamped. Read with its engine type.
        """
        pattern = self.engine_type.serial_pattern
        if not pattern or fits_pattern(parse_serial(self.serial), pattern):
            return ""
        return (
            f'It does not have the shape of the type\'s serials, "{pattern}" (# for '
            "digits), so what goes by serial is undetermined. Check the data plate, and "
            "the pattern of the type."
        )

    @property
    def tsn(self) -> int | None:
        """Time since new at the newest reading, in hundredths; None: not known."""
        if self.hours_now is None or self.hours_at_new is None:
            return None
        return self.hours_now - self.hours_at_new


class Identity(DatedFact):
    """What is stamped and recorded on the engine itself.

    `rebuilt`: the date of a maker's rebuild; `rebuilt_known`: whether it is known at
    all; `rebuilt_undated`: rebuilt, at a date not known. `hours_at_new`: what the
    engine's axis of hours showed when it was new; null where TSN is not known.
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine",)

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="identities"
    )
    engine_type = models.ForeignKey(
        EngineType, on_delete=models.PROTECT, related_name="+"
    )
    type_complete = models.BooleanField(default=True)
    serial = models.CharField(max_length=60)
    built = models.DateField(null=True, blank=True)
    shipped = models.DateField(null=True, blank=True)
    rebuilt_known = models.BooleanField(default=False)
    rebuilt_undated = models.BooleanField(default=False)
    rebuilt = models.DateField(null=True, blank=True)
    hours_at_new = models.BigIntegerField(null=True, blank=True, default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine"],
                condition=models.Q(current=True),
                name="fleet_identity_one_current",
            )
        ]

    def __str__(self) -> str:
        return self.serial


class Fitting(DatedFact):
    """Where the engine is fitted: aircraft, state of registry, position."""

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine",)

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="fittings"
    )
    fitted = models.BooleanField(help_text="False: known not to be fitted.")
    aircraft_type = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=20, blank=True)
    registry = models.CharField(
        max_length=2, blank=True, help_text="State of registry, two letters."
    )
    position = models.CharField(max_length=20, blank=True)
    airframe_hours = models.BigIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine"],
                condition=models.Q(current=True),
                name="fleet_fitting_one_current",
            )
        ]

    def __str__(self) -> str:
        return self.registration or "not fitted"


class ServiceState(DatedFact):
    SUBJECT: ClassVar[tuple[str, ...]] = ("engine",)

    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="states")
    state = models.CharField(max_length=16, choices=State.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine"],
                condition=models.Q(current=True),
                name="fleet_servicestate_one_current",
            )
        ]

    def __str__(self) -> str:
        return self.state


class Ownership(DatedFact):
    SUBJECT: ClassVar[tuple[str, ...]] = ("engine",)

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="ownerships"
    )
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine"],
                condition=models.Q(current=True),
                name="fleet_ownership_one_current",
            )
        ]

    def __str__(self) -> str:
        return str(self.owner)


class Operation(DatedFact):
    """How the engine is run.

    `uses`: words such as "private" and "commercial". `leaded_share`: the owner's
    declared share of leaded fuel as entered ("0.4" or "2/5"), empty where none was
    declared. Oil temperatures, and the lowest and highest ambient temperature of the
    coming season, as entered, with their unit ("C" or "F").
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine",)

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="operations"
    )
    uses = models.JSONField(default=list, blank=True)
    leaded_share = models.CharField(max_length=20, blank=True)
    oil_low = models.CharField(max_length=20, blank=True)
    oil_high = models.CharField(max_length=20, blank=True)
    oil_unit = models.CharField(
        max_length=1, choices=[("C", "°C"), ("F", "°F")], default="C"
    )
    ambient_low = models.CharField(max_length=20, blank=True)
    ambient_high = models.CharField(max_length=20, blank=True)
    ambient_unit = models.CharField(
        max_length=1, choices=[("C", "°C"), ("F", "°F")], default="C"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine"],
                condition=models.Q(current=True),
                name="fleet_operation_one_current",
            )
        ]

    def __str__(self) -> str:
        return ", ".join(self.uses)
