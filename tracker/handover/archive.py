"""The archive of an engine: what it holds, and how it is read and proved.

A ZIP with `manifest.json` (form, engine, head of the chain, size and SHA-256 of every
other file), `status.pdf`, `facts.json`, `ledger.json` and `attachments/<sha256>`. The
PDF stands for itself; JSON and attachments lie beside it. 14 CFR 91.419 asks for the
records of 91.417(a)(2), and for those of (a)(1) that they do not cover.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from notices.rules.errors import Fault, RuleError
from notices.store import digest_of
from tracker.compliance.ledger import Link, check_chain
from tracker.fleet.handed_over import MODELS, MOST_ROWS

FORM: Final = "engine-archive-v1"
MANIFEST: Final = "manifest.json"
STATUS: Final = "status.pdf"
FACTS: Final = "facts.json"
LEDGER: Final = "ledger.json"
ATTACHMENTS: Final = "attachments/"
MOST_BYTES: Final = 200_000_000
MOST_FILES: Final = 5_000
Json = Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """An archive that was read whole and holds what it says. `files`: by their hash."""

    chain_id: UUID
    engine_type: Mapping[str, Json]
    serial: str
    tables: Mapping[str, Sequence[dict[str, Json]]]
    alternatives: Sequence[dict[str, Json]]
    links: tuple[Link, ...]
    files: Mapping[str, bytes]


def read_archive(content: bytes) -> Archive:
    """Return the archive, its hashes and its chain proved.

    Raises RuleError with the file and place of what is wrong.
    """
    files = _unpacked(content)
    manifest = _json(files, MANIFEST)
    _check_manifest(manifest, files)
    facts, ledger = _json(files, FACTS), _json(files, LEDGER)
    try:
        chain_id = UUID(manifest["engine"]["chain"])
        links = tuple(Link(**link) for link in ledger)
        archive = Archive(
            chain_id=chain_id,
            engine_type=_type(facts["type"]),
            serial=str(manifest["engine"]["serial"]),
            tables=_tables(facts["tables"]),
            alternatives=_rows(facts["alternatives"]),
            links=links,
            files={
                name.removeprefix(ATTACHMENTS): content
                for name, content in files.items()
                if name.startswith(ATTACHMENTS)
            },
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        message = f"The archive is not of the form {FORM}: {error!r}"
        raise RuleError([Fault(FACTS, message)]) from error
    check_chain(chain_id, links)
    head = links[-1].hash if links else None
    if manifest.get("head") != head:
        raise RuleError(
            [Fault(f"{MANIFEST}.head", "The end of the chain is not the one named.")]
        )
    return archive


def packed(manifest: Mapping[str, object], files: Mapping[str, bytes]) -> bytes:
    """Return the ZIP; the same content gives the same bytes."""
    listed = [
        {"name": name, "size": len(content), "sha256": digest_of(content)}
        for name, content in sorted(files.items())
    ]
    written = json.dumps(
        {"form": FORM, **manifest, "files": listed}, indent=1, sort_keys=True
    )
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, content in [(MANIFEST, written.encode()), *sorted(files.items())]:
            bundle.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return target.getvalue()


def _unpacked(content: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as bundle:
            inside = bundle.infolist()
            if (
                len(inside) > MOST_FILES
                or sum(i.file_size for i in inside) > MOST_BYTES
            ):
                raise RuleError(
                    [Fault("", f"The archive holds more than {MOST_BYTES / 1e6:g} MB.")]
                )
            found = {}
            for each in inside:
                with bundle.open(each) as file:
                    # What a file says of its size is not what it holds.
                    found[each.filename] = file.read(each.file_size + 1)
            return found
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as error:
        message = f"The file is not a whole archive ({error}). Ask for it again."
        raise RuleError([Fault("", message)]) from error


def _json(files: Mapping[str, bytes], name: str) -> Json:
    if name not in files:
        raise RuleError([Fault(name, "Is missing from the archive.")])
    try:
        return json.loads(files[name])
    except (ValueError, RecursionError) as error:
        raise RuleError([Fault(name, f"Is not JSON: {error}")]) from error


def _check_manifest(manifest: Json, files: Mapping[str, bytes]) -> None:
    if not isinstance(manifest, dict) or manifest.get("form") != FORM:
        raise RuleError([Fault(MANIFEST, f'"form" is not "{FORM}".')])
    listed = manifest.get("files")
    if not isinstance(listed, list):
        raise RuleError([Fault(f"{MANIFEST}.files", "Expected a list.")])
    named = {one.get("name"): one for one in listed if isinstance(one, dict)}
    faults = [
        Fault(str(name), "Is in the manifest or in the archive, not in both.")
        for name in named.keys() ^ (files.keys() - {MANIFEST})
    ]
    faults += [
        Fault(name, "Was changed: it does not have the hash that the manifest names.")
        for name, content in files.items()
        if name in named and named[name].get("sha256") != digest_of(content)
    ]
    if faults:
        raise RuleError(faults)


def _type(raw: Json) -> Mapping[str, Json]:
    keys = {"maker", "designation", "serial_pattern", "serial_run", "roles"}
    if set(raw) != keys or not str(raw["designation"]).strip():
        raise ValueError("type")
    if not all(
        isinstance(role, str) and isinstance(count, int) and 0 < count < 100
        for role, count in raw["roles"].items()
    ):
        raise ValueError("type.roles")
    typed: Mapping[str, Json] = raw
    return typed


def _tables(raw: Json) -> Mapping[str, Sequence[dict[str, Json]]]:
    if set(raw) != set(MODELS):
        raise ValueError("tables")
    if sum(map(len, raw.values())) > MOST_ROWS:
        raise ValueError("too many rows")
    if not all(isinstance(row, dict) for rows in raw.values() for row in rows):
        raise ValueError("a row that is no object")
    tables: Mapping[str, Sequence[dict[str, Json]]] = raw
    return tables


def _rows(raw: Json) -> Sequence[dict[str, Json]]:
    if not isinstance(raw, list) or len(raw) > MOST_ROWS:
        raise ValueError("alternatives")
    if not all(isinstance(row, dict) for row in raw):
        raise ValueError("an alternative that is no object")
    rows: Sequence[dict[str, Json]] = raw
    return rows
