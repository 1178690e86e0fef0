"""Valid data for each act, so that the walk sees it succeed where it may.

One function for each row of the table whose method changes something; it gets the own
side of the world. Files are `SimpleUploadedFile`s, as the test client wants them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.tracker.world import PASSWORD, Side
from tracker.accounts.models import Role

Payload = dict[str, Any]
NEW_PASSWORD = "another long pass phrase"


def change_of_password(own: Side) -> Payload:
    return {
        "oldpassword": PASSWORD,
        "password1": NEW_PASSWORD,
        "password2": NEW_PASSWORD,
    }


def station_settings(own: Side) -> Payload:
    return {
        "name": "Vesterhall and daughter",
        "time_zone": "Europe/Lisbon",
        "lead_hours": "12.5",
        "lead_days": "30",
        "reading_age_days": "40",
    }


PAYLOADS: dict[tuple[str, str], Callable[[Side], Payload]] = {
    ("account_login", "POST"): lambda own: {
        "login": own.people[Role.TECHNICIAN].email,
        "password": PASSWORD,
    },
    ("account_logout", "POST"): lambda own: {},
    ("account_change_password", "POST"): change_of_password,
    ("account_reset_password", "POST"): lambda own: {
        "email": own.people[Role.TECHNICIAN].email
    },
    ("account_reset_password_from_key", "POST"): lambda own: {
        "password1": NEW_PASSWORD,
        "password2": NEW_PASSWORD,
    },
    ("account_stations", "POST"): lambda own: {"station": str(own.station.public_id)},
    ("web:station-settings", "POST"): station_settings,
    ("web:person-add", "POST"): lambda own: {
        "email": "new@vesterhall.example",
        "name": "Somebody new",
        "role": "technician",
    },
    ("web:person-role", "POST"): lambda own: {"role": "inspector"},
    ("web:person-end", "POST"): lambda own: {},
    ("web:login-add", "POST"): lambda own: {
        "owner": own.others["owner"],
        "person": own.names["person"],
    },
    ("web:login-end", "POST"): lambda own: {},
    ("api:engine-readings", "POST"): lambda own: {"on": "2026-11-20", "shown": 520.5},
}
