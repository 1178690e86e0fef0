"""Valid data for each act, so that the walk sees it succeed where it may.

One function for each row of the table whose method changes something; it gets the own
side of the world. Files are `SimpleUploadedFile`s, as the test client wants them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.tracker.fleet_payloads import FLEET_PAYLOADS
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


def a_draft(own: Side) -> Payload:
    """A new revision with one provision, as its form sends it."""
    return {
        "version": "1",
        "label": "3",
        "issued_on": "2026-05-05",
        "applicability": '{"type": ["MX-4"]}',
        "provision": ["0"],
        "p0-kind": "action",
        "p0-title": "Replace the fuel pump",
        "p0-category": "mandatory",
        "p0-action": '{"initial": {"hours": 25, "after": "effective"}}',
        "reference": ["0"],
        "r0-kind": "refers to",
        "r0-number": "SL-1",
    }


def a_changed_rule(own: Side) -> Payload:
    return {
        "number": "1",
        "applicability": '{"always": true}',
        "condition": '{"always": true}',
        "action": '{"initial": {"hours": 40, "after": "effective"}}',
        "reason": "The hours were misread.",
    }


def a_pdf() -> SimpleUploadedFile:
    return SimpleUploadedFile("notice.pdf", b"%PDF-1.4\n% notice\n%%EOF\n")


def some_work(own: Side) -> Payload:
    return {
        "on": "2026-03-02",
        "hours": "480.0",
        "method": "inspected",
        "description": "Fuel pump inspected, no wear found.",
        "done_by": "Jory Penhale",
        "approved_by": "Runa Tveit",
        "certificate_kind": "inspection authorization",
        "certificate_number": "ZZ-4471",
        "password": PASSWORD,
    }


def some_signed_work(own: Side) -> Payload:
    """The same as JSON, under the own provision and on the own part."""
    return {
        "on": "2026-03-02",
        "hours": 480.0,
        "provision": own.names["provision"],
        "part": own.names["part"],
        "method": "inspected",
        "description": "Fuel pump inspected, no wear found.",
        "done_by": "Jory Penhale",
        "approved_by": {
            "name": "Runa Tveit",
            "certificate_kind": "inspection authorization",
            "certificate_number": "ZZ-4471",
        },
        "password": PASSWORD,
    }


def several_works(own: Side) -> Payload:
    """The finding of the own engine, as the form of several records sends it."""
    key = own.names["finding"]
    row = {"take": "on", "hours": "480.0", "description": "Looked at."}
    return some_work(own) | {f"{key}-{name}": value for name, value in row.items()}


def an_archive(own: Side) -> Payload:
    """The archive of the own engine, as if it were of another installation."""
    return {"file": SimpleUploadedFile("engine.zip", own.archive)}


def an_alternative(own: Side) -> Payload:
    return {
        "reference": "26-014",
        "approved_by": "Office of the authority",
        "approved_on": "2026-03-02",
        "description": "The pump is looked at in place of being exchanged.",
        "due_first": '{"hours": 100, "after": "effective"}',
    }


def an_end(own: Side) -> Payload:
    return {"reason": "The office has withdrawn it.", "true_from": "2026-03-03"}


def an_adoption(own: Side) -> Payload:
    return {
        "person": "Maud Ek",
        "reason": "The maker wrote.",
        "true_from": "2026-03-02",
    }


def a_described_engine(own: Side) -> Payload:
    return {"type": f"{own.word}-1", "serial": "4001", "hours": "480.0"}


PAYLOADS: dict[tuple[str, str], Callable[[Side], Payload]] = {
    **FLEET_PAYLOADS,
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
    ("web:check", "POST"): a_described_engine,
    ("web:check-contact", "POST"): lambda own: {
        **a_described_engine(own),
        "name": "Ragna Holt",
        "telephone": "01 23 45",
    },
    ("web:hours", "POST"): lambda own: {"on": "2026-11-20", "shown": "520.5"},
    ("web:unsubscribe", "POST"): lambda own: {"List-Unsubscribe": "One-Click"},
    ("web:calendar", "POST"): lambda own: {},
    ("web:calendar-end", "POST"): lambda own: {},
    ("web:enquiry-answer", "POST"): lambda own: {},
    ("web:enquiry-delete", "POST"): lambda own: {},
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
    ("web:hook-add", "POST"): lambda own: {"url": "https://systems.shop.example/"},
    ("web:hook-secret", "POST"): lambda own: {},
    ("web:hook-switch", "POST"): lambda own: {"to": "off"},
    ("web:hook-test", "POST"): lambda own: {},
    ("web:publication-add", "POST"): lambda own: {
        "kind": "SB",
        "number": "SB-26-901",
        "issuer": "Aldvik Engine Works",
        "title": "Fuel pump: replace",
    },
    ("web:publication-change", "POST"): lambda own: {
        "kind": "SI",
        "number": "SI-26-902",
        "issuer": "Aldvik Engine Works",
        "title": "Fuel pump: replace",
    },
    ("web:publication-draft-add", "POST"): a_draft,
    ("web:publication-draft-change", "POST"): a_draft,
    ("web:publication-draft-confirm", "POST"): lambda own: {"version": "1"},
    ("web:publication-draft-discard", "POST"): lambda own: {"version": "1"},
    ("web:publication-revision-cancel", "POST"): lambda own: {
        "on": "2026-06-01",
        "reason": "Withdrawn by the maker.",
    },
    ("web:publication-rule-change", "POST"): a_changed_rule,
    ("web:publication-document-add", "POST"): lambda own: {"file": a_pdf()},
    ("web:engine-take-in", "POST"): an_archive,
    ("web:owner-remove", "POST"): lambda own: {"password": PASSWORD},
    ("web:publication-tell", "POST"): lambda own: {"note": "Soon.", "confirm": "1"},
    ("web:message-release", "POST"): lambda own: {},
    ("web:message-resend", "POST"): lambda own: {},
    ("web:owner-preferences", "POST"): lambda own: {
        "without": ["newly applies"],
        "lead_hours": "40",
        "at_hour": "6",
        "time_zone": "Europe/Lisbon",
        "units": "US",
    },
    ("web:owner-silence", "POST"): lambda own: {"reason": "Gave up flying."},
    ("web:owner-silence-end", "POST"): lambda own: {},
    ("web:engine-record-several", "POST"): several_works,
    ("web:publication-record", "POST"): several_works,
    ("web:engine-record-done", "POST"): some_work,
    ("web:engine-record-other", "POST"): some_work,
    ("web:engine-record-past", "POST"): lambda own: {
        "rows": "1",
        "row0-document": "SB-11-004",
        "row0-date": "2026-02-02",
        "row0-page": "12",
    },
    ("web:engine-record-void", "POST"): lambda own: {
        "reason": "Wrong engine.",
        "password": PASSWORD,
    },
    ("web:engine-answer", "POST"): lambda own: {
        "question": f"{own.word} listed?",
        "answer": "no",
        "true_from": "2026-03-02",
    },
    ("web:engine-alternative", "POST"): an_alternative,
    ("web:engine-alternative-end", "POST"): an_end,
    ("web:engine-decline", "POST"): an_adoption,
    ("web:engine-adopt", "POST"): an_adoption,
    ("api:engine-fuel", "POST"): lambda own: {
        "on": "2026-11-20",
        "quantity": "85.5",
        "kind": "leaded",
    },
    ("api:engine-records", "POST"): some_signed_work,
    ("api:record-void", "POST"): lambda own: {
        "reason": "Wrong engine.",
        "password": PASSWORD,
    },
    ("api:engine-readings", "POST"): lambda own: {"on": "2026-11-20", "shown": 520.5},
}
