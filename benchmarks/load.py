"""Asks a server as fast as it answers: `python -m benchmarks.load PORT PATH TOKEN CONNECTIONS SECONDS`.

A process of its own, so that what it costs is not taken from whoever is measured. Prints JSON: how many
answers, their median and 99 of 100 in milliseconds, and whether any was not 200.
"""

import socket
import statistics
import sys
import threading
import time

import orjson

SPLIT = b"\r\n\r\n"


class Connection:
    """One connection that is kept open."""

    def __init__(self, port: int, request: bytes) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port))
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._request = request

    def asked(self) -> bool:
        """Ask once and read the whole answer; whether it was 200."""
        self._socket.sendall(self._request)
        head = b""
        while SPLIT not in head:
            head += self._read()
        head, _, body = head.partition(SPLIT)
        left = _length(head) - len(body)
        while left > 0:
            left -= len(self._read())
        return head[9:12] == b"200"

    def _read(self) -> bytes:
        found = self._socket.recv(1 << 16)
        if not found:
            raise ConnectionError("the server closed the connection")
        return found


def _length(head: bytes) -> int:
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line.partition(b":")[2])
    raise ValueError("an answer without a length")


def main(port: str, path: str, token: str, connections: str, seconds: str) -> None:
    """Ask, and print what came of it."""
    request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {token}\r\n\r\n".encode()
    taken: list[float] = []
    wrong: list[bool] = []
    ends = time.perf_counter() + float(seconds)

    def work() -> None:
        connection = Connection(int(port), request)
        while (begun := time.perf_counter()) < ends:
            if not connection.asked():
                wrong.append(True)
            taken.append((time.perf_counter() - begun) * 1000)

    threads = [threading.Thread(target=work) for _ in range(int(connections))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    told = {
        "answers": len(taken),
        "wrong": len(wrong),
        "p50_ms": statistics.median(taken),
        "p99_ms": statistics.quantiles(taken, n=100)[-1],
    }
    sys.stdout.write(orjson.dumps(told).decode())


if __name__ == "__main__":
    main(*sys.argv[1:])
