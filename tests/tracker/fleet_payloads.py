"""Valid data for each form about engines, owners, parts, hours, history and sheets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.tracker.world import Side
from tracker.fleet.models import Engine, WaitingSheet

Payload = dict[str, Any]
DAY = "2026-11-20"


def version(own: Side) -> str:
    return str(Engine.objects.get(public_id=own.names["engine"]).version)


def new_engine(own: Side) -> Payload:
    return {
        "engine_type": own.names["engine_type"],
        "type_complete": "on",
        "serial": "V-4002",
        "built": "2021-05-01",
        "rebuilt": "never",
        "hours_at_new": "0",
        "owner": own.names["owner"],
        "state": "in service",
        "aircraft": "yes",
        "registration": "LN-ABC",
        "uses": "private; commercial",
        "true_from": DAY,
    }


def identity(own: Side) -> Payload:
    return {
        "version": version(own),
        "engine_type": own.names["engine_type"],
        "serial": "V-4001",
        "built": "2020-03-02",
    }


def new_part(own: Side) -> Payload:
    return {
        "role": "magneto",
        "number": "P-7710",
        "serial": "A-17",
        "how": "dated",
        "true_from": DAY,
        "place": "left",
        "hours_new": "120.5",
    }


def replacement(own: Side) -> Payload:
    return {
        "reason": "worn",
        "true_from": DAY,
        "role": "fuel pump",
        "number": "P-8802",
        "fitted_new": "on",
    }


def upload(own: Side) -> Payload:
    content = b"type,serial\nVesterhall-1,V-9\n"
    return {"kind": "fleet", "file": SimpleUploadedFile("fleet.csv", content)}


def import_of_sheet(own: Side) -> Payload:
    waiting = WaitingSheet.objects.get(public_id=own.names["sheet"])
    return {"digest": waiting.digest, "good_rows_only": "on"}


def an_owner(own: Side) -> Payload:
    return {
        "name": "Skerry Flying Club",
        "kind": "club",
        "email": "post@skerry.example",
        "time_zone": "Europe/Oslo",
    }


def attribute(own: Side) -> Payload:
    return {
        "part": own.names["part"],
        "name": "signal",
        "value": "0-5 V",
        "true_from": DAY,
    }


def search(own: Side) -> Payload:
    return {
        "part": own.names["part"],
        "kind": "bulletins",
        "searched_to": DAY,
        "source": "Index of the maker, edition 11",
        "person": "Runa Tveit",
    }


FLEET_PAYLOADS: dict[tuple[str, str], Callable[[Side], Payload]] = {
    (f"web:{name}", "POST"): make
    for name, make in {
        "engine-add": new_engine,
        "engine-identity": identity,
        "engine-aircraft": lambda own: {
            "version": version(own),
            "fitted": "no",
            "true_from": DAY,
        },
        "engine-state": lambda own: {
            "version": version(own),
            "state": "stored",
            "true_from": DAY,
        },
        "engine-owner": lambda own: {
            "version": version(own),
            "owner": own.names["owner"],
            "true_from": DAY,
        },
        "engine-operation": lambda own: {
            "version": version(own),
            "uses": "commercial",
            "leaded_share": "2/5",
            "oil_low": "85",
            "oil_high": "101",
            "oil_unit": "C",
            "ambient_low": "-15",
            "ambient_high": "34",
            "ambient_unit": "C",
            "true_from": DAY,
        },
        "engine-fuel-add": lambda own: {
            "on": DAY,
            "quantity": "85.5",
            "unit": "L",
            "kind": "leaded",
        },
        "engine-fuel-withdraw": lambda own: {"reason": "Entered twice."},
        "engine-reading-add": lambda own: {"on": DAY, "shown": "520.5"},
        "engine-reading-correct": lambda own: {"on": "2026-03-01", "shown": "480.5"},
        "engine-meter": lambda own: {
            "on": DAY,
            "old_shown": "520",
            "kind": "time in service",
            "shown": "0",
            "reason": "the old meter stood still",
        },
        "engine-overhaul-add": lambda own: {
            "on": DAY,
            "done_by": "maker",
            "tested": "to limits",
        },
        "engine-overhaul-withdraw": lambda own: {"reason": "of another engine"},
        "engine-rebuild-add": lambda own: {"on": DAY, "hours": "520"},
        "engine-event-add": lambda own: {"name": "propeller strike", "on": DAY},
        "engine-event-withdraw": lambda own: {"reason": "of another engine"},
        "engine-part-add": new_part,
        "engine-part-take": lambda own: {"true_from": DAY, "place": "rear"},
        "engine-part-describe": lambda own: {
            "role": "fuel pump",
            "number": "P-8801",
            "shipped": "2018-02-01",
        },
        "engine-part-fitting": lambda own: {"how": "undated", "place": "front"},
        "engine-part-overhaul": lambda own: {
            "on": DAY,
            "part_hours": "40",
            "tested": "to limits",
        },
        "engine-part-replace": replacement,
        "engine-part-remove": lambda own: {"true_from": DAY, "reason": "worn"},
        "engine-modification-add": lambda own: {
            "modification": "SB-24-011",
            "embodied": "yes",
            "true_from": DAY,
        },
        "engine-attribute-add": attribute,
        "engine-review-add": lambda own: {
            "scope": "fuel pump",
            "person": "Runa Tveit",
            "true_from": DAY,
        },
        "engine-review-lapse": lambda own: {
            "reason": "worked on elsewhere",
            "true_from": DAY,
        },
        "engine-search-add": search,
        "engine-type-add": lambda own: {
            "designation": "MX-9",
            "maker": "Halvorsen Engines",
            "parts": "magneto: 2\nfuel pump",
        },
        "engine-type-change": lambda own: {
            "designation": "MX-4",
            "maker": "Halvorsen Engines",
        },
        "owner-add": an_owner,
        "owner-change": an_owner,
        "engine-sheets": upload,
        "engine-sheet": import_of_sheet,
        "engine-sheet-drop": lambda own: {},
    }.items()
}
