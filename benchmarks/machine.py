"""What a figure was measured on: without it nobody can judge a figure."""

import os
import platform
import sqlite3
import statistics
import sys
import tempfile
import time
from importlib.metadata import version
from pathlib import Path
from typing import Any

PACKAGES = (
    *("SQLAlchemy", "psycopg", "Flask", "apiflask", "flask-smorest", "marshmallow", "orjson", "granian"),
    *("celery", "kombu", "redis", "numpy", "scipy"),
)
SYNC_S = 0.5  # how long the disk is asked
PROCESSORS = Path("/proc/cpuinfo")


def machine() -> dict[str, Any]:
    """Processor, memory, system, versions, and how long this disk takes to keep a page."""
    return {
        "processor": _processor(),
        "cores": os.cpu_count(),
        "memory_mib": os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2**20,
        "system": platform.platform(),
        "python": sys.version.split()[0],
        "sqlite": sqlite3.sqlite_version,
        "packages": _packages(),
        "sync_us": sync_us(),
    }


def load() -> list[float]:
    """The load averages of the last 1, 5 and 15 minutes."""
    return [round(average, 2) for average in os.getloadavg()]


def sync_us() -> dict[str, float]:
    """Microseconds in which 8 KiB are written and kept (fdatasync): median and 95 of 100."""
    taken = []
    with tempfile.NamedTemporaryFile() as file:
        ends = time.perf_counter() + SYNC_S
        while time.perf_counter() < ends:
            started = time.perf_counter()
            os.pwrite(file.fileno(), b"\0" * 8192, 0)
            os.fdatasync(file.fileno())
            taken.append((time.perf_counter() - started) * 1e6)
    return {
        "median": round(statistics.median(taken), 1),
        "p95": round(statistics.quantiles(taken, n=20)[-1], 1),
    }


def _processor() -> str:
    lines = PROCESSORS.read_text().splitlines() if PROCESSORS.exists() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.processor() or platform.machine())


def _packages() -> dict[str, str]:
    found = {}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except ModuleNotFoundError:  # not every one of them is ours
            continue
    return found
