"""A cable between two processes of this machine that can be cut."""

import socket
import threading
from contextlib import suppress


class Cable:
    """Listens on a port and carries bytes to another; what runs through it when it is cut is lost."""

    def __init__(self, port: int, to: int) -> None:
        self._to, self._whole = to, threading.Event()
        self._whole.set()
        self._ends: set[socket.socket] = set()
        self._guard = threading.Lock()
        self._door = socket.create_server(("127.0.0.1", port))
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        """Break every connection, and let none through."""
        self._whole.clear()
        with self._guard:
            for end in self._ends:
                with suppress(OSError):
                    end.shutdown(socket.SHUT_RDWR)

    def mend(self) -> None:
        self._whole.set()

    def close(self) -> None:
        self.cut()
        self._door.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                here, _ = self._door.accept()
                threading.Thread(target=self._carry, args=(here,), daemon=True).start()

    def _carry(self, here: socket.socket) -> None:
        with here, suppress(OSError), socket.create_connection(("127.0.0.1", self._to)) as there:
            with self._guard:
                if not self._whole.is_set():
                    return
                self._ends |= {here, there}
            back = threading.Thread(target=self._pump, args=(there, here), daemon=True)
            back.start()
            self._pump(here, there)
            back.join()
            with self._guard:
                self._ends -= {here, there}

    def _pump(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while piece := source.recv(65536):
                target.sendall(piece)
        with suppress(OSError):
            target.shutdown(socket.SHUT_WR)
