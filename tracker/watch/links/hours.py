"""The link of a mail by which an owner enters the hours of one engine, once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.db.models import F
from django.urls import reverse

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Role, User
from tracker.compliance.changes.acting import changing
from tracker.fleet import fuel, meters
from tracker.fleet.doubts import doubt_about
from tracker.fleet.errors import Doubtful
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelRecord, Owner, OwnerLogin, Reading
from tracker.watch.links.secret import hash_of, new_secret
from tracker.watch.models import HoursLink

LIFE: Final = timedelta(days=30)
REMARK: Final = "Entered by the link in a mail to the owner."
SINCE: Final = "Taken on since the reading before; entered by the link in a mail."
BY_LINK: Final = "link-in-a-mail@owners.invalid"
"""The address of the account that stands for an owner nobody signs in for. It is of a
domain that can receive nothing (RFC 6761), and the account opens nothing."""


class NotOpen(Exception):  # noqa: N818  # said so in every sentence of the house
    """The link was used, revoked or ran out between being looked at and being used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What a link was used for. `fuel` is None where none was entered."""

    reading: Reading
    fuel: FuelRecord | None


def hours_url(engine: Engine, owner: Owner, *, at: datetime) -> str:
    """Make a link and return its address, the one place where the secret stands.

    Earlier links of that engine and owner which nobody has used end with it.
    """
    secret = new_secret()
    with transaction.atomic():
        _enter_account()  # before a link may need it: a refused use writes nothing
        HoursLink.objects.filter(
            engine=engine, owner=owner, used_at=None, revoked_at=None
        ).update(revoked_at=at)
        HoursLink.objects.create(
            engine=engine,
            owner=owner,
            secret=hash_of(secret),
            made_at=at,
            expires_at=at + LIFE,
        )
    return f"{settings.BASE_URL}{reverse('web:hours', args=[secret])}"


def link_of(secret: str, *, at: datetime) -> HoursLink | None:
    """Return the link of a secret, used or not; None where it opens nothing. One query.

    A link that ran out, was revoked, or whose engine belongs to somebody else by now is
    like one that never was.
    """
    found = HoursLink.objects.filter(
        secret=hash_of(secret),
        revoked_at=None,
        expires_at__gt=at,
        engine__owner=F("owner"),
        owner__removed_at=None,
    )
    return found.select_related(
        "engine__engine_type", "engine__station", "owner__preference"
    ).first()


def entered_by(link: HoursLink) -> Entered:
    """Return what a used link has entered: it carries the moment of its use."""
    made = {"engine": link.engine_id, "recorded_at": link.used_at}
    return Entered(
        reading=Reading.objects.select_related("meter").get(remark=REMARK, **made),
        fuel=FuelRecord.objects.filter(remark=SINCE, **made).first(),
    )


def enter_hours_by_link(
    link: HoursLink,
    *,
    shown: int,
    fuelled: FuelEntry,
    at: datetime,
    confirmed: bool = False,
) -> Entered:
    """Add what the meter shows on the day of `fuelled`, and the fuel where it has any.

    The reading, the fuel and the use of the link are one transaction: of two at once
    the other one raises NotOpen. Raises Refused, and Doubtful as long as what is
    unlikely is not `confirmed`.
    """
    has_fuel = bool(fuelled.quantity)
    with _using(link, at=at) as (engine, by):
        doubts = [] if confirmed else _doubts(engine, shown, fuelled)
        reading = meters.add_reading(
            engine, on=fuelled.on, shown=shown, remark=REMARK, at=at, by=by
        )
        taken_on = None
        if has_fuel:
            noted = replace(fuelled, remark=SINCE)
            taken_on = fuel.add_fuel(engine, noted, at=at, by=by)
        if doubts:
            # Asked last, so that what cannot be at all is refused and never asked about.
            raise Doubtful("shown", " ".join(doubts))
        return Entered(reading=reading, fuel=taken_on)


def _doubts(engine: Engine, shown: int, fuelled: FuelEntry) -> list[str]:
    said = [doubt_about(engine, on=fuelled.on, shown=shown)]
    if fuelled.quantity:
        said.append(fuel.doubt_about_fuel(engine, fuelled))
    return [doubt for doubt in said if doubt]


@contextmanager
def _using(link: HoursLink, *, at: datetime) -> Iterator[tuple[Engine, User]]:
    """Yield the engine, locked, and who adds to it; the link is used with the rest."""
    viewer = _viewer_of(link)
    try:
        with changing(viewer, link.engine, Right.ADD_READING, at=at) as locked:
            unused = HoursLink.objects.filter(
                pk=link.pk, used_at=None, revoked_at=None, expires_at__gt=at
            )
            if locked.owner_id != link.owner_id or not unused.update(used_at=at):
                raise NotOpen
            yield locked, viewer.user
    except Engine.DoesNotExist:
        raise NotOpen from None


def _viewer_of(link: HoursLink) -> Viewer:
    """Return in whose name the reading is added.

    The link was sent to an owner. Where exactly one person signs in for them, it was
    that person. Otherwise nobody can say who: an account that stands for the link adds
    it, and is never somebody else's name. It belongs to no owner, so it acts as staff,
    on the one engine that the link names.
    """
    logins = OwnerLogin.objects.filter(
        owner=link.owner_id, left_at=None, user__is_active=True
    )
    people = [login.user for login in logins.select_related("user")[:2]]
    station = link.engine.station
    if len(people) == 1:
        return Viewer(user=people[0], station=station, role=Role.OWNER)
    link_itself = User.objects.get(email=BY_LINK)
    return Viewer(user=link_itself, station=station, role=Role.TECHNICIAN)


def _enter_account() -> None:
    User.objects.get_or_create(
        email=BY_LINK,
        defaults={
            "name": "Link in a mail",
            "password": make_password(None),
            "is_active": False,
        },
    )
