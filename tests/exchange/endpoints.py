"""Servers of others: they answer as told, count who comes, drip, redirect, or speak TLS."""

import contextlib
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import orjson
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

Answer = tuple[int, dict[str, str], bytes]


class Received:
    """One request that an endpoint got."""

    def __init__(self, path: str, headers: dict[str, str], body: bytes) -> None:
        self.path, self.headers, self.body = path, headers, body

    @property
    def event(self) -> Any:
        """The body as JSON."""
        return orjson.loads(self.body)


class Endpoint:
    """An HTTP server on a free port of this machine; `answer` decides about each request in turn."""

    def __init__(self, answer: Callable[[Received], Answer], trust: ssl.SSLContext | None = None) -> None:
        self.received: list[Received] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                length = int(self.headers.get("Content-Length", 0))
                found = Received(self.path, dict(self.headers), self.rfile.read(length))
                outer.received.append(found)
                status, headers, body = answer(found)
                self.send_response(status)
                for name, value in headers.items():
                    self.send_header(name, value)
                self.end_headers()
                with contextlib.suppress(OSError):
                    self.wfile.write(body)

            do_GET = do_POST  # noqa: N815  # the name that http.server calls

            def log_message(self, format: str, *args: object) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.handle_error = lambda *_: None  # type: ignore[method-assign]  # a client that goes away
        if trust is not None:
            self._server.socket = trust.wrap_socket(self._server.socket, server_side=True)
        self.port = int(self._server.server_address[1])
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


@contextlib.contextmanager
def endpoint(
    answer: Callable[[Received], Answer] = lambda _: (204, {}, b""), trust: ssl.SSLContext | None = None
) -> Iterator[Endpoint]:
    """An endpoint for the time of a test."""
    made = Endpoint(answer, trust)
    try:
        yield made
    finally:
        made.close()


@contextlib.contextmanager
def dripping(first: bytes, drop: bytes, pause_s: float = 0.05) -> Iterator[int]:
    """The port of a server that says `first` and then a drop now and then, for ever."""
    listener = socket.create_server(("127.0.0.1", 0))
    over = threading.Event()

    def drip() -> None:
        with contextlib.suppress(OSError):
            connected, _ = listener.accept()
            with connected:
                connected.recv(65536)
                connected.sendall(first)
                while not over.is_set():
                    connected.sendall(drop)
                    time.sleep(pause_s)

    thread = threading.Thread(target=drip, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        over.set()
        listener.close()
        thread.join(2)


def certified(name: str, folder: Path) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    """TLS for a server of this name, and for a client that trusts only it."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    file = folder / f"{name}.pem"
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    file.write_bytes(made.public_bytes(serialization.Encoding.PEM) + private)
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(file)
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.load_verify_locations(cadata=made.public_bytes(serialization.Encoding.PEM).decode())
    return server, client
