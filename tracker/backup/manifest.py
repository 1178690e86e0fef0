"""The manifest of a backup: what lies in its folder, each file with its hash.

Canonical JSON; `sha256` is the hash of the same text without it.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from notices.store import digest_of
from tracker.compliance.ledger import canonical

FORM: Final = "backup-v1"
MANIFEST: Final = "manifest.json"
HEADS: Final = "heads.json"
_NAME: Final = re.compile(
    r"heads\.json|database\.(?:sqlite3|dump)"
    r"|(?:documents|attachments)/([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z]{3}"
)
"""What may stand in a manifest: no name of it leads out of the folder."""


class BackupRefused(ValueError):  # noqa: N818  # said so in every sentence
    """Nothing was backed up, or restored; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """`rows`: of each table. `lost`: files that the stores did not have any more.

    `migrations`: those applied, as `app.name`.
    """

    made_at: datetime
    database: str
    versions: Mapping[str, str]
    migrations: Sequence[str]
    rows: Mapping[str, int]
    lost: Sequence[str]
    files: Sequence[File]

    @property
    def size(self) -> int:
        """Bytes of all files together."""
        return sum(file.size for file in self.files)

    def written(self) -> str:
        said: dict[str, object] = {
            "form": FORM,
            "made_at": self.made_at,
            "database": self.database,
            "versions": self.versions,
            "migrations": self.migrations,
            "rows": self.rows,
            "lost": self.lost,
            "files": [asdict(file) for file in self.files],
        }
        return canonical({**said, "sha256": _hash_of(said)})


def read_manifest(folder: Path) -> Manifest:
    """Return the manifest of a backup; BackupRefused where it is not as written."""
    path = folder / MANIFEST
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise BackupRefused(
            f"{folder} is no whole backup: its {MANIFEST} cannot be read ({error}). "
            "Name the folder of a backup that was finished."
        ) from error
    if not isinstance(said, dict) or said.pop("form", None) != FORM:
        raise BackupRefused(f'{path} is no manifest: "form" is not "{FORM}".')
    if said.pop("sha256", None) != _hash_of({"form": FORM, **said}):
        raise BackupRefused(
            f"{path} was changed after it was written: its hash is not that of what it "
            "says. Use another copy of the backup."
        )
    try:
        files = [File(**file) for file in said.pop("files")]
        made_at = datetime.fromisoformat(said.pop("made_at"))
        manifest = Manifest(made_at=made_at, files=files, **said)
        foreign = [file.name for file in files if not _NAME.fullmatch(file.name)]
    except (LookupError, TypeError, ValueError) as error:
        raise BackupRefused(f"{path} is not of the form {FORM}: {error!r}") from error
    if foreign:
        raise BackupRefused(f'{path} names "{foreign[0]}", which is in no backup.')
    return manifest


def file_at(folder: Path, name: str) -> File:
    """Return a file of the folder as it is: its size and its hash."""
    with (folder / name).open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        return File(name=name, size=os.fstat(file.fileno()).st_size, sha256=digest)


def prove(folder: Path, manifest: Manifest, *, needed: Sequence[str]) -> None:
    """Raise BackupRefused unless every file is there as it was written."""
    named = {file.name for file in manifest.files}
    faults = [f"{name}: is not in the manifest" for name in needed if name not in named]
    for file in manifest.files:
        try:
            there = file_at(folder, file.name)
        except OSError as error:
            faults.append(f"{file.name}: is missing ({error.strerror})")
            continue
        if there != file:
            faults.append(f"{file.name}: was changed after it was written")
    if faults:
        raise BackupRefused(
            f"The backup in {folder} is not whole. Use another copy of it.\n"
            + "\n".join(faults)
        )


def settle(path: Path) -> None:
    """Have the disk keep a file, or the names in a folder."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _hash_of(said: Mapping[str, object]) -> str:
    return digest_of(canonical(said).encode("utf-8"))
