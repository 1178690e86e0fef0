"""Files kept under the hash of their bytes: written whole or not at all, never changed.

The same bytes lie there once, whoever took them in. A file that no row names is
harmless: it was written by an act that was then refused.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path


class StoreRefused(OSError):  # noqa: N818  # said so in every sentence
    """The disk did not take the file; nothing was changed."""


class FileLost(LookupError):  # noqa: N818  # a fault of the store
    """The stored bytes are missing, or are not those that were taken in."""


def digest_of(content: bytes) -> str:
    """Return the SHA-256 of the bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def place(folder: Path, digest: str, suffix: str = "") -> Path:
    """Return where the bytes of this hash lie."""
    return folder / digest[:2] / f"{digest}{suffix}"


def keep(path: Path, content: bytes) -> None:
    """Write the bytes; what lies there intact is left alone. StoreRefused if it fails."""
    if path.is_file() and path.read_bytes() == content:
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as failure:
        raise StoreRefused(
            "The file could not be stored: the disk refused it. Nothing was changed. "
            "Tell whoever runs this service."
        ) from failure


def read(path: Path, digest: str) -> bytes:
    """Return the bytes, proved to be those of this hash; FileLost if they are not."""
    try:
        content = path.read_bytes()
    except OSError as failure:
        raise FileLost("is missing from the store") from failure
    if digest_of(content) != digest:
        raise FileLost("is not the one that was stored")
    return content


def write_whole(path: Path, content: bytes) -> None:
    """Write a file that is there whole or not at all, for nobody else to read.

    Its folder is there. OSError where the disk refuses it; nothing is left then.
    """
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=".incoming-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
