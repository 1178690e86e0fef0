"""The one text of a record, and the hash that ties it to the record before it.

Canonical text: JSON with sorted keys and no blanks, in UTF-8 and Unicode form NFC;
decimals are strings, times RFC 3339 in UTC, dates ISO. It is written once, hashed as
written and never written again.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final
from uuid import UUID

ALGORITHM: Final = "rec-v1"
VERSION: Final = 1


def canonical(payload: Mapping[str, object]) -> str:
    """Return the canonical text. Raises TypeError for floats and for naive times."""
    return json.dumps(
        _plain(payload),
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
        allow_nan=False,
    )


def _plain(value: object) -> Any:
    match value:
        case None | bool() | int():
            return value
        case str():
            return unicodedata.normalize("NFC", value)
        case Decimal() | UUID():
            return str(value)
        case datetime():
            return canonical_moment(value)
        case date():
            return value.isoformat()
        case Mapping():
            return {_plain(str(key)): _plain(member) for key, member in value.items()}
        case list() | tuple():
            return [_plain(member) for member in value]
    raise TypeError(f"{type(value).__name__} has no canonical form: {value!r}")


def canonical_moment(moment: datetime) -> str:
    """Return a time as RFC 3339 in UTC. Raises TypeError for one without a zone."""
    if moment.tzinfo is None:
        raise TypeError(f"A time without a zone has no canonical form: {moment!r}")
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def first_hash(engine: UUID | str) -> str:
    """Return what stands as previous hash in the first record of an engine.

    It comes from the engine's identity, so that no chain can move to another engine.
    """
    return _sha256(f"{ALGORITHM}\n{engine}")


def record_hash(
    *, previous: str, engine: UUID | str, sequence: int, payload: str
) -> str:
    """Return the hash of a record: algorithm, previous hash, engine, number, text."""
    return _sha256(f"{ALGORITHM}\n{previous}\n{engine}\n{sequence}\n{payload}")


def decimal_hours(hours: int | None) -> Decimal | None:
    """Return hundredths of an hour as decimal hours with two places."""
    return None if hours is None else Decimal(hours).scaleb(-2)


def written_hours(hours: int | None) -> str | None:
    """Return hundredths of an hour as they stand in the text, "512.30"."""
    if hours is None:
        return None
    if hours < 0:
        return str(decimal_hours(hours))
    return f"{hours // 100}.{hours % 100:02d}"


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
