"""Real connections to servers that do not behave. Each limit is reached in a test."""

from __future__ import annotations

import socket
import ssl
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from tests.tracker.watch.hooks.receiver import Receiver
from tracker.watch.hooks.connecting import MOST_BYTES, NoAnswer, exchange
from tracker.watch.hooks.targets import Target, target_of

Serve = Callable[..., str]
SHORT = 0.3
AT_LAST = 3
"""Seconds: less than the server would go on, more than a busy machine needs."""
LOOPBACK = ["127.0.0.1"]
OK = b"HTTP/1.1 200 OK\r\n\r\n"


def ask(url: str, *, seconds: float = 5, addresses: list[str] | None = None) -> int:
    return exchange(
        target_of(url),
        addresses or LOOPBACK,
        headers={"Content-Type": "application/json"},
        body=b"{}",
        seconds=seconds,
    )


def saying(*parts: bytes) -> Callable[[socket.socket], None]:
    def act(one: socket.socket) -> None:
        one.recv(65536)
        for part in parts:
            one.sendall(part)

    return act


def dripping(part: bytes, times: int = 200) -> Callable[[socket.socket], None]:
    """Says a little again and again, so that no single wait is long."""

    def act(one: socket.socket) -> None:
        with suppress(OSError):
            for _ in range(times):
                one.sendall(part)
                time.sleep(0.02)

    return act


def test_what_is_posted_arrives_whole(receiver: Receiver) -> None:
    assert ask(receiver.url) == 200
    [posted] = receiver.posted
    assert (posted.path, posted.body) == ("/events?from=shop", b"{}")
    assert posted.headers["host"] == f"localhost:{receiver.port}"


def test_the_checked_address_is_connected_to_and_not_looked_up_again(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    def looked_up(*_: object, **__: object) -> None:
        raise AssertionError("the name was looked up a second time")

    target = target_of(receiver.url)
    monkeypatch.setattr(socket, "getaddrinfo", looked_up)
    monkeypatch.setattr(socket, "gethostbyname", looked_up)
    assert exchange(target, LOOPBACK, headers={}, body=b"") == 200


def test_no_proxy_of_the_environment_is_used(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HTTPS_PROXY", "http://127.0.0.1:9")
    monkeypatch.setenv("ALL_PROXY", "http://127.0.0.1:9")
    assert ask(receiver.url) == 200


def test_the_next_address_is_tried_where_one_takes_nothing(receiver: Receiver) -> None:
    assert ask(receiver.url, addresses=["127.0.0.2", "::1", "127.0.0.1"]) == 200


def test_a_closed_port_takes_nothing() -> None:
    with socket.create_server(("127.0.0.1", 0)) as gone:
        port = gone.getsockname()[1]
    target = Target(host="localhost", port=port, path="/", is_allowed=True)
    with pytest.raises(ConnectionRefusedError):
        exchange(target, LOOPBACK, headers={}, body=b"")


def test_a_certificate_of_another_host_is_refused(receiver: Receiver) -> None:
    target = Target(host="systems", port=receiver.port, path="/", is_allowed=True)
    with pytest.raises(ssl.SSLCertVerificationError):
        exchange(target, LOOPBACK, headers={}, body=b"")
    assert receiver.posted == []


def test_a_certificate_that_nobody_vouches_for_is_refused(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    nothing = tmp_path / "nobody.pem"
    nothing.write_bytes(b"")
    monkeypatch.setenv("SSL_CERT_FILE", str(nothing))
    monkeypatch.setenv("SSL_CERT_DIR", str(tmp_path))
    with pytest.raises(ssl.SSLCertVerificationError):
        ask(receiver.url)
    assert receiver.posted == []


def test_a_server_without_tls_is_told_nothing(raw_server: Serve) -> None:
    heard: list[bytes] = []

    def listen(one: socket.socket) -> None:
        heard.append(one.recv(65536))
        one.sendall(OK)

    with pytest.raises(ssl.SSLError):
        ask(raw_server(listen, tls=False))
    assert b"POST" not in heard[0]


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ([OK], 200),
        ([b"HTTP/1.0 204\r\n\r\n"], 204),
        ([b"HTTP/1.1 103 Early\r\nLink: x\r\n\r\n", b"HTTP/1.1 202 OK\r\n\r\n"], 202),
        ([b"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 500 No\r\n\r\n"], 500),
        ([b"HTTP/1.1 2", b"00 OK\r", b"\n\r", b"\nbody"], 200),
        ([b"HTTP/1.1 302 Found\r\nLocation: https://10.0.0.1/\r\n\r\n"], 302),
    ],
)
def test_a_status_is_read(raw_server: Serve, parts: list[bytes], code: int) -> None:
    assert ask(raw_server(saying(*parts))) == code


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (b"", "closed before"),
        (b"HTTP/1.1 200 OK\r\n", "closed before"),
        (b"220 mail.example ESMTP\r\n\r\n", "does not begin"),
        (b"HTTP/2 200\r\n\r\n", "does not begin"),
        (b"HTTP/1.1 20 OK\r\n\r\n", "does not begin"),
        (b"HTTP/1.1 2000 OK\r\n\r\n", "does not begin"),
        (b"HTTP/1.1 099 OK\r\n\r\n", "does not begin"),
        (b"HTTP/1.1 100 More\r\n\r\n", "closed before"),
        (b"HTTP/1.1 200 OK\r\nX: " + b"a" * (MOST_BYTES + 5000), "do not end"),
        (b"HTTP/1.1 100 More\r\n\r\n" * 4000, "do not end"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_what_is_no_answer_is_none(raw_server: Serve, said: bytes, why: str) -> None:
    with pytest.raises(NoAnswer, match=why):
        ask(raw_server(saying(said)))


@pytest.mark.parametrize(
    "act",
    [
        lambda one: time.sleep(1),
        dripping(b"HTTP/1.1 200 OK\r\nX: a\r\n"),
        dripping(b"HTTP/1.1 100 More\r\n\r\n"),
    ],
    ids=["silent", "headers in drops", "drops of interim answers"],
)
def test_an_answer_that_takes_too_long_is_given_up(
    raw_server: Serve, act: Callable[[socket.socket], None]
) -> None:
    started = time.monotonic()
    with pytest.raises(TimeoutError):
        ask(raw_server(act), seconds=SHORT)
    assert time.monotonic() - started < AT_LAST


def test_a_handshake_in_drops_is_given_up(raw_server: Serve) -> None:
    """The head of a record of TLS that announces 16 KB, and then byte after byte."""

    def act(one: socket.socket) -> None:
        one.sendall(b"\x16\x03\x03\x40\x00")
        dripping(b"\x02")(one)

    started = time.monotonic()
    with pytest.raises(TimeoutError):
        ask(raw_server(act, tls=False), seconds=SHORT)
    assert time.monotonic() - started < AT_LAST


@pytest.mark.parametrize("part", [b"a", b"a" * 4096], ids=["drops", "floods"])
def test_a_body_that_never_ends_is_left_after_its_limit(
    raw_server: Serve, part: bytes
) -> None:
    def act(one: socket.socket) -> None:
        saying(OK)(one)
        dripping(part)(one)

    started = time.monotonic()
    assert ask(raw_server(act), seconds=SHORT) == 200
    assert time.monotonic() - started < AT_LAST
