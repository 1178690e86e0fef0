"""What is posted is signed as RFC 9421 and RFC 9530 say, and README says how to check."""

from __future__ import annotations

import base64
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Protocol

import pytest

from tracker.watch.hooks.signing import (
    digest_of,
    secret_of,
    signature,
    signature_base,
    signed_headers,
)
from tracker.watch.models import Hook

README = Path(__file__).parents[4] / "README.md"
URL = "https://systems.shop.example/events"
AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
BODY = '{"v":1,"title":"Pumpe prüfen"}'.encode()


class Verify(Protocol):
    def __call__(
        self, secret: str, url: str, headers: dict[str, str], body: bytes, now: float
    ) -> bool: ...


@pytest.fixture
def verify() -> Verify:
    """The function that README gives to whoever receives, as it stands there."""
    blocks = re.findall(r"```python\n(.+?)```", README.read_text("utf-8"), re.DOTALL)
    [source] = [block for block in blocks if "def is_ours" in block]
    names: dict[str, Any] = {}
    exec(compile(source, "README.md", "exec"), names)  # noqa: S102  # our own words
    found: Verify = names["is_ours"]
    return found


@pytest.fixture
def hook() -> Hook:
    return Hook(url=URL, salt="5a" * 32)


@pytest.fixture
def sent(hook: Hook) -> SimpleNamespace:
    """A genuine request and when it came."""
    headers = signed_headers(hook, url=URL, body=BODY, key="8d1c", at=AT)
    small = {name.lower(): value for name, value in headers.items()}
    return SimpleNamespace(headers=small, now=AT.timestamp() + 2)


def test_the_published_example_comes_out() -> None:
    """RFC 9421, appendix B.2.5, with the shared secret of appendix B.1.5."""
    key = (
        "uzvJfB4u3N0Jy4T7NZ75MDVcr8zSTInedJtkgcu46YW4XByzNJjxBdtjUkdJPBtbmHhIDi6pcl8j"
        "sasjlTMtDQ=="
    )
    base = signature_base(
        {
            "date": "Tue, 20 Apr 2021 02:07:55 GMT",
            "@authority": "example.com",
            "content-type": "application/json",
        },
        '("date" "@authority" "content-type")'
        ';created=1618884473;keyid="test-shared-secret"',
    )
    made = signature(base, base64.b64decode(key))
    assert made == "pxcQw6G3AjtMBQjwo8XzkZf/bws5LelbaMk5rGIGtE8="


def test_the_published_digest_comes_out() -> None:
    """RFC 9530, appendix D, and RFC 9421, appendix B.2: the body of their examples."""
    assert digest_of(b'{"hello": "world"}') == (
        "sha-256=:X48E9qOokqqrvdts8nOJRJN3OWDUoyWxBf7kbu9DBPE=:"
    )


def test_what_is_covered_is_named_in_the_order_it_is_signed(
    sent: SimpleNamespace, hook: Hook
) -> None:
    assert sent.headers["signature-input"] == (
        'event=("@method" "@target-uri" "content-digest" "content-type" '
        f'"idempotency-key");created=1795512600;keyid="{hook.public_id}"'
        ';alg="hmac-sha256"'
    )
    assert sent.headers["idempotency-key"] == '"8d1c"'


def test_the_receiver_in_readme_takes_what_is_ours(
    verify: Verify, hook: Hook, sent: SimpleNamespace
) -> None:
    assert verify(secret_of(hook), URL, sent.headers, BODY, sent.now)


@pytest.mark.parametrize(
    "changed",
    [
        {"content-digest": digest_of(b"{}")},
        {"content-type": "text/plain"},
        {"idempotency-key": '"8d1d"'},
        {"signature": "event=:AAAA:"},
        {"signature": ""},
        {"signature-input": ""},
        {"content-digest": ""},
    ],
    ids=str,
)
def test_it_refuses_a_changed_header(
    verify: Verify, hook: Hook, sent: SimpleNamespace, changed: dict[str, str]
) -> None:
    headers = sent.headers | changed
    assert not verify(secret_of(hook), URL, headers, BODY, sent.now)


def test_it_refuses_a_changed_body_address_or_secret(
    verify: Verify, hook: Hook, sent: SimpleNamespace
) -> None:
    secret = secret_of(hook)
    assert not verify(secret, URL, sent.headers, BODY + b" ", sent.now)
    assert not verify(secret, URL + "/", sent.headers, BODY, sent.now)
    assert not verify(secret[:-1], URL, sent.headers, BODY, sent.now)
    assert not verify(secret, URL, {}, BODY, sent.now)


def test_it_refuses_what_covers_less_than_everything(
    verify: Verify, hook: Hook, sent: SimpleNamespace
) -> None:
    """A signature that is right, of a request whose body it does not cover."""
    parameters = f'("@method");created={int(AT.timestamp())}'
    made = signature(
        signature_base({"@method": "POST"}, parameters), secret_of(hook).encode()
    )
    headers = sent.headers | {
        "signature-input": f"event={parameters}",
        "signature": f"event=:{made}:",
    }
    assert not verify(secret_of(hook), URL, headers, BODY, sent.now)


@pytest.mark.parametrize("off", [timedelta(minutes=6), timedelta(minutes=-6)])
def test_it_refuses_what_was_signed_at_another_time(
    verify: Verify, hook: Hook, sent: SimpleNamespace, off: timedelta
) -> None:
    now = sent.now + off.total_seconds()
    assert not verify(secret_of(hook), URL, sent.headers, BODY, now)


def test_a_secret_is_of_one_salt_and_one_installation(
    hook: Hook, settings: Any
) -> None:
    first = secret_of(hook)
    assert secret_of(hook) == first
    assert len(first) == 43
    assert secret_of(Hook(salt="5b" * 32)) != first
    settings.SECRET_KEY = "another key of an installation, long enough to be one"
    assert secret_of(hook) != first
