"""Another writer on a SQLite database: writes until its input ends, then says how long each write took.

Run as `python -m benchmarks.other_writer FILE`; only the standard library, so that it starts at once.
"""

import json
import select
import sqlite3
import statistics
import sys
import time

PAUSE_S = 0.001
PATIENCE_S = 30


def main(file: str) -> None:
    """Write one row again and again; prints p50, p99 and the longest wait in milliseconds."""
    connection = sqlite3.connect(file, timeout=PATIENCE_S, isolation_level=None)
    connection.execute("PRAGMA synchronous=FULL")
    taken: list[float] = []
    print("begun", flush=True)
    while len(taken) < 2 or not select.select([sys.stdin], [], [], PAUSE_S)[0]:
        started = time.perf_counter()
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("UPDATE house SET units = units WHERE id = 1")
        connection.execute("COMMIT")
        taken.append((time.perf_counter() - started) * 1000)
    p99 = statistics.quantiles(taken, n=100, method="inclusive")[-1]
    told = {"p50": statistics.median(taken), "p99": p99, "longest": max(taken), "writes": len(taken)}
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    main(sys.argv[1])
