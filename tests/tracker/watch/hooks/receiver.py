"""A shop's own system, as a test has it: keeps what was posted, answers as told."""

from __future__ import annotations

import ssl
import threading
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Posted:
    """One request that came, its headers by their names in small letters."""

    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Receiver:
    """`status`: what it answers with. `location`: where it redirects to, if anywhere."""

    certificate: Path
    status: int = 200
    location: str = ""
    posted: list[Posted] = field(default_factory=list)

    def __enter__(self) -> Receiver:
        self._server = HTTPServer(("127.0.0.1", 0), _handler(self))
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.certificate)
        self._server.socket = context.wrap_socket(self._server.socket, server_side=True)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    @property
    def port(self) -> int:
        return int(self._server.server_address[1])

    @property
    def url(self) -> str:
        return f"https://localhost:{self.port}/events?from=shop"


def _handler(receiver: Receiver) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:  # the library's name
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.posted.append(Posted(self.path, headers, body))
            self.send_response(receiver.status)
            if receiver.location:
                self.send_header("Location", receiver.location)
            self.end_headers()
            self.wfile.write(b"<script>thanks</script>")

        def log_message(self, *_: Any) -> None:
            pass

    return Handler
