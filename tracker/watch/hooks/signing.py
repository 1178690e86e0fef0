"""Signatures of posted events: RFC 9421 by hmac-sha256, with a digest by RFC 9530."""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Mapping
from datetime import datetime
from typing import Final

from django.utils.crypto import salted_hmac

from tracker.watch.models import Hook

LABEL: Final = "event"
PURPOSE: Final = "tracker.watch.hooks: secret of a webhook"
COVERED: Final = (
    "@method",
    "@target-uri",
    "content-digest",
    "content-type",
    "idempotency-key",
)


def secret_of(hook: Hook) -> str:
    """Return the secret as it is shown; its ASCII bytes are the key.

    It is derived, not kept: from the key of the installation and the hook's salt.
    """
    made = salted_hmac(PURPOSE, hook.salt, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(made).decode().rstrip("=")


def signed_headers(
    hook: Hook, *, url: str, body: bytes, key: str, at: datetime
) -> dict[str, str]:
    """Return the headers of one try, signed.

    `key`: the same at every try, so that the receiver knows a repeat. `at`: when it is
    sent, so that the receiver can refuse what somebody sends again much later.
    """
    headers = {
        "Content-Type": "application/json",
        "Content-Digest": digest_of(body),
        "Idempotency-Key": f'"{key}"',
    }
    values = {"@method": "POST", "@target-uri": url}
    values |= {name.lower(): value for name, value in headers.items()}
    parameters = (
        f"({' '.join(map(_quoted, COVERED))});created={int(at.timestamp())}"
        f';keyid="{hook.public_id}";alg="hmac-sha256"'
    )
    base = signature_base({name: values[name] for name in COVERED}, parameters)
    made = signature(base, secret_of(hook).encode("ascii"))
    return headers | {
        "Signature-Input": f"{LABEL}={parameters}",
        "Signature": f"{LABEL}=:{made}:",
    }


def digest_of(body: bytes) -> str:
    """Return the value of Content-Digest. Source: RFC 9530, section 2."""
    return f"sha-256=:{_base64(hashlib.sha256(body).digest())}:"


def signature_base(values: Mapping[str, str], parameters: str) -> str:
    """Return the text that is signed. Source: RFC 9421, section 2.5."""
    lines = [f"{_quoted(name)}: {value}" for name, value in values.items()]
    return "\n".join([*lines, f'"@signature-params": {parameters}'])


def signature(base: str, key: bytes) -> str:
    """Return the signature in base 64. Source: RFC 9421, section 3.3.3."""
    return _base64(hmac.new(key, base.encode("ascii"), hashlib.sha256).digest())


def _quoted(name: str) -> str:
    return f'"{name}"'


def _base64(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")
