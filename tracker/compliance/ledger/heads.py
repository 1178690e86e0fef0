"""The heads of all chains, written down so that a later cut of a chain shows.

A chain proves that nothing in it was changed, but not that its end is still there. A
file of heads, kept elsewhere, does: each record it names must still stand as it says.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from django.db.models import Exists, OuterRef

from tracker.compliance.ledger.canonical import canonical
from tracker.compliance.ledger.chain import Break
from tracker.compliance.models import Record

FORM: Final = "heads-v1"
AT_ONCE: Final = 500
_KEYS: Final = {"engine", "type", "serial", "sequence", "hash"}
Head = Mapping[str, Any]


class HeadsRefused(ValueError):  # noqa: N818  # said so in every sentence of the house
    """The file is no file of heads, or is not as it was written."""


def written_heads(at: datetime) -> str:
    """Return the text of a file of heads: the last record of every engine. One query.

    Canonical JSON; `sha256` is the hash of the same text without it.
    """
    later = Record.objects.filter(
        engine=OuterRef("engine"), sequence__gt=OuterRef("sequence")
    )
    columns = ("engine__chain_id", "engine__engine_type__designation")
    last = Record.objects.filter(~Exists(later)).order_by("engine__chain_id")
    said: dict[str, object] = {
        "form": FORM,
        "made_at": at,
        "heads": [
            dict(
                zip(("engine", "type", "serial", "sequence", "hash"), row, strict=True)
            )
            for row in last.values_list(*columns, "engine__serial", "sequence", "hash")
        ],
    }
    return canonical({**said, "sha256": _hash_of(said)})


def read_heads(text: str) -> list[Head]:
    """Return the heads that a file names; HeadsRefused where it is not as written."""
    try:
        said = json.loads(text)
    except ValueError as error:
        raise HeadsRefused(f"The file of heads is not JSON: {error}") from error
    if not isinstance(said, dict) or said.get("form") != FORM:
        raise HeadsRefused('This is no file of heads: "form" is not "heads-v1".')
    rest = {key: value for key, value in said.items() if key != "sha256"}
    if said.get("sha256") != _hash_of(rest):
        raise HeadsRefused(
            "The file of heads was changed after it was written: its hash is not that "
            "of what it says. Use the copy that was kept."
        )
    heads = rest.get("heads")
    if not isinstance(heads, list) or any(set(head) != _KEYS for head in heads):
        raise HeadsRefused('"heads" is not a list of heads, each with its five keys.')
    return heads


def lost_heads(heads: Sequence[Head]) -> Iterator[Break]:
    """Yield the heads that do not stand any more as they were. A query for each 500."""
    for start in range(0, len(heads), AT_ONCE):
        some = heads[start : start + AT_ONCE]
        rows = Record.objects.filter(
            engine__chain_id__in=[head["engine"] for head in some],
            sequence__in={head["sequence"] for head in some},
        ).values_list("engine__chain_id", "sequence", "hash")
        found = {(str(engine), sequence): digest for engine, sequence, digest in rows}
        for head in some:
            if found.get((head["engine"], head["sequence"])) != head["hash"]:
                yield Break(
                    engine=f"{head['type']}, serial {head['serial']}",
                    sequence=head["sequence"],
                    fault="head",
                )


def _hash_of(said: Mapping[str, object]) -> str:
    return hashlib.sha256(canonical(said).encode("utf-8")).hexdigest()
