"""The secret part of an address: made at random, and kept as its hash alone."""

from __future__ import annotations

import hashlib
import secrets
from typing import Final

OCTETS: Final = 32
"""256 bits, of which no guess comes near one."""


def new_secret() -> str:
    """Return a new secret as it stands in an address."""
    return secrets.token_urlsafe(OCTETS)


def hash_of(secret: str) -> str:
    """Return what is kept of it and looked up, so that time tells nothing of a guess."""
    return hashlib.sha256(secret.encode()).hexdigest()
