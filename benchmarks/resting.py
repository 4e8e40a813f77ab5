"""M1, M2, S1: the memory of `dipledger serve` at rest and at work, and how soon it answers.

The bar is a board of 1 GiB: all processes together in a quarter of it leave room for the system, the
database's pages and a backup.
"""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.run import Limit, Run
from tests.processes.house import House, answers, free_port, get, send, until, verdicts
from tests.servers.kin import below

AT_REST = Limit("M1", 384, 512, unit="MiB")
AT_WORK = Limit("M2", 448, 576, unit="MiB")
STARTED = Limit("S1", 10, 20, unit="s")
CLIENTS, SECONDS, FULL_SECONDS = 8, 5, 60


def measured(run: Run) -> None:
    """M1, M2, S1: one process tree on SQLite."""
    with _served(run) as (port, token, tree):
        until(lambda: verdicts(port).get("beat") == "pass", "beat and worker run")
        rest = memory(tree)
        run.figure(AT_REST, f"dipledger serve at rest, SQLite: {_said(rest)}", sum(rest.values()), **rest)
        _work(port, token, FULL_SECONDS if run.full else SECONDS)
        work = memory(tree)
        run.figure(AT_WORK, f"... after {CLIENTS} clients: {_said(work)}", sum(work.values()), **work)


def memory(tree: int) -> dict[str, float]:
    """MiB of each process of a tree by what it runs: its own pages and its share of others (PSS)."""
    found: dict[str, float] = {}
    for process in (tree, *below(tree)):
        folder = Path(f"/proc/{process}")
        try:
            command = folder.joinpath("cmdline").read_bytes().decode().split("\0")
            rolled = folder.joinpath("smaps_rollup").read_text()
        except OSError:  # it has just ended
            continue
        kilobytes = next(int(line.split()[1]) for line in rolled.splitlines() if line.startswith("Pss:"))
        name = _name(command)
        found[name] = found.get(name, 0) + kilobytes / 1024
    return found


def _name(command: list[str]) -> str:
    for name in ("granian", "worker", "beat"):
        if name in command:
            return "web" if name == "granian" else name
    return "serve"


def _said(found: dict[str, float]) -> str:
    return ", ".join(f"{name} {size:.0f}" for name, size in sorted(found.items()))


@contextmanager
def _served(run: Run) -> Iterator[tuple[int, str, int]]:
    with TemporaryDirectory() as folder:
        house, port = House(Path(folder) / "home"), free_port()
        house.run("init")
        token = house.run("token", "create", "--role", "owner", "--name", "bench")
        begun = time.perf_counter()
        with house.started("serve", "--port", str(port)) as tree:
            until(lambda: answers(port) and get(port, "/healthz")[0] == 200, "the web answers")
            run.figure(STARTED, "from the command to the first answer, SQLite", time.perf_counter() - begun)
            yield port, token, tree.pid


def _work(port: int, token: str, seconds: float) -> None:
    ends = time.monotonic() + seconds

    def act() -> None:
        n = 0
        while time.monotonic() < ends:
            n += 1
            send(port, "POST", "/api/v1/suppliers", {"name": f"S{n}", "country": "NL"}, token)
            get(port, "/api/v1/suppliers?limit=200", token)

    threads = [threading.Thread(target=act) for _ in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
