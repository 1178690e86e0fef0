"""A receiver of webhooks: a real server with TLS on loopback, and its certificate."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.tracker.compliance.conftest import make_engine, make_provision
from tests.tracker.watch.hooks.receiver import Receiver
from tracker.accounts.access import Viewer
from tracker.watch.hooks.acts import add_hook
from tracker.watch.models import Hook

__all__ = ["make_engine", "make_provision"]


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with the key of a server named localhost, and its own certificate."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    file = tmp_path_factory.mktemp("receiver") / "localhost.pem"
    file.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        + made.public_bytes(serialization.Encoding.PEM)
    )
    return file


@pytest.fixture
def receiver(
    certificate: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Receiver]:
    """A server that takes what is posted; trusted and allowed while a test runs."""
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    with Receiver(certificate) as server:
        settings.WEBHOOK_HOSTS = [f"localhost:{server.port}"]
        yield server


@pytest.fixture
def hook(administrator: Viewer, receiver: Receiver, now: datetime) -> Hook:
    """A webhook of the station that the receiver answers."""
    made, _ = add_hook(administrator, url=receiver.url, at=now)
    return made


@pytest.fixture
def raw_server(
    certificate: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[..., str]]:
    """Serve a function that gets the accepted connection, in TLS unless told not to."""
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    listening = socket.create_server(("127.0.0.1", 0))
    running: list[threading.Thread] = []

    def serve(act: Callable[[socket.socket], None], *, tls: bool = True) -> str:
        def run() -> None:
            plain, _ = listening.accept()
            with plain:
                try:
                    if not tls:
                        act(plain)
                        return
                    with context.wrap_socket(plain, server_side=True) as one:
                        act(one)
                except OSError:
                    pass  # the sender has gone, as it should

        thread = threading.Thread(target=run)
        thread.start()
        running.append(thread)
        port = listening.getsockname()[1]
        settings.WEBHOOK_HOSTS = [f"localhost:{port}"]
        return f"https://localhost:{port}/"

    yield serve
    for thread in running:
        thread.join(10)
    listening.close()
